"""Claims about the turn, on bodies whose truth is known; no file is read."""

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.simulations.turning_bodies import HEIGHT, Body, biped, draw
from turncheck.geometry.turn import NOBODY, ONE_AMONG, Turn, depth_outlook, solve_turn

BODY = biped()
LANDMARKS = len(BODY.names)
FIVE = [0.0, 45.0, 90.0, 135.0, 180.0]
THREE = FIVE[:3]
NO_DEPTH = "no depth"


def noisy(body: Body, yaws: list[float], seed: int = 0, sd: float = 1.5) -> np.ndarray:
    rng = np.random.default_rng(seed)
    exact = draw(body, np.array(yaws), rng.uniform(-200, 200, len(yaws)))
    return exact + rng.normal(0, sd, exact.shape) if sd else exact


def solve(
    x: np.ndarray, nominal: list[float], body: Body | None = BODY, sd: float = 1.5, **more: object
) -> Turn:
    """Solve with the body's symmetry, or without any if `body` is None."""
    return solve_turn(
        x,
        np.full(x.shape, sd),
        np.ones(len(x)),
        nominal,
        figure_height=HEIGHT,
        pairs=body.pairs if body else [],
        midline=body.midline if body else [],
        **more,
    )


def exchanged(row: np.ndarray) -> np.ndarray:
    """One view's placings with left and right names exchanged."""
    out = row.copy()
    for left, right in BODY.pairs:
        out[left], out[right] = row[right], row[left]
    return out


def rivals(turn: Turn) -> list[tuple[int, str]]:
    """The readings that do as well as those taken: view and how it would be misread."""
    return [(one.view, one.how.value) for ways in turn.readings for one in ways[1:]]


@pytest.mark.parametrize("body", [BODY, None], ids=["symmetric", "no symmetry"])
@pytest.mark.parametrize("yaws", [[0, 41, 87], [0, -48, 93], [0, 40, 92, 139, 177]])
def test_exact_drawings_give_exact_yaws_body_and_no_drift(body, yaws):
    nominal = np.round(np.array(yaws) / 45) * 45
    turn = solve(noisy(BODY, yaws, sd=0), nominal, body, yaw_prior_sd=np.inf)
    assert turn.yaw == pytest.approx(yaws, abs=1e-6)
    assert np.nanmax(np.abs(turn.drift)) < 1e-6
    assert (turn.x - turn.x[0]) == pytest.approx(BODY.x - BODY.x[0], abs=1e-6)
    assert (turn.z - turn.z[0]) == pytest.approx(BODY.z - BODY.z[0], abs=1e-6)


@pytest.mark.parametrize("body", [BODY, None], ids=["symmetric", "no symmetry"])
def test_the_nominal_yaw_pulls_by_far_less_than_the_stated_uncertainty(body):
    turn = solve(noisy(BODY, [0, 41, 87], sd=0), THREE, body)
    assert (np.abs(turn.yaw - [0, 41, 87])[1:] < 0.1 * turn.yaw_sd[1:]).all()


def test_views_of_other_sizes_are_read_at_their_own_scale():
    scale = np.array([1.0, 1.3, 0.7])
    x = draw(BODY, np.array([0.0, 43.0, 88.0])) * scale[:, None]
    turn = solve_turn(
        x, np.full(x.shape, 1.5), scale, THREE, figure_height=HEIGHT, yaw_prior_sd=np.inf
    )
    assert turn.yaw == pytest.approx([0, 43, 88], abs=1e-6)
    assert np.ptp(turn.x - BODY.x) < 1e-6


def test_the_axis_is_one_upright_line_through_all_drawings():
    """Points on X = Z = 0 of the solved body fall on the stated axis of every drawing."""
    yaws = np.array([0.0, 41.0, 87.0])
    turn = solve(draw(BODY, yaws, [10.0, -20.0, 30.0]), THREE, yaw_prior_sd=np.inf)
    shift = BODY.z - turn.z
    assert np.ptp(shift) < 1e-6
    truth = np.array([10.0, -20.0, 30.0]) + shift.mean() * np.sin(np.radians(yaws))
    assert turn.axis == pytest.approx(truth, abs=1e-6)


# What cannot be known is said beforehand.


def test_front_and_back_give_no_depth():
    turn = solve(noisy(BODY, [0, 180]), [0, 180])
    assert not turn
    assert NO_DEPTH in turn.refusal
    assert np.isnan(turn.z).all() and not turn.measurable.any()


@pytest.mark.parametrize("other", [45.0, 90.0, -135.0])
def test_front_and_one_other_view_need_pairs_seen_in_both(other):
    x = noisy(BODY, [0, other - 2])
    assert not solve(x, [0, other], None)
    assert "pairs" in solve(x, [0, other], None).refusal
    solved = solve(x, [0, other])
    assert solved and abs(solved.yaw[1] - (other - 2)) < 4 * solved.yaw_sd[1]


def test_pairs_seen_in_one_view_only_do_not_count():
    x = noisy(BODY, [0, 88])
    x[1, [right for _, right in BODY.pairs]] = np.nan
    assert "pairs" in solve(x, [0, 90]).refusal


@pytest.mark.parametrize(
    ("nominal", "depth"),
    [
        ([0, 180], False),
        ([0, 90], False),
        ([0, 90, 180], False),
        ([0, 45, -135], False),
        ([0, 45, 90], True),
        ([0, 45, 135], True),
        ([0, 45, -45], True),
        ([0, 45, 90, 135, 180], True),
    ],
)
def test_without_symmetry_depth_needs_three_lines_of_sight(nominal, depth):
    seen = np.ones((len(nominal), 12), bool)
    refusal, _ = depth_outlook(seen, np.array(nominal, float), 0, [])
    assert (refusal == "") is depth


def test_too_few_landmarks_leave_the_yaw_unknown_and_say_so():
    x = noisy(BODY, [0, 43, 88])
    x[:, 3:] = np.nan
    turn = solve(x, THREE, None)
    assert turn.yaw_unsolved_because[0] == "no other drawing's yaw is known"
    assert "degrees" in turn.yaw_unsolved_because[1] or "nominal" in turn.yaw_unsolved_because[1]
    assert not turn.measurable.any()
    assert set(turn.why_not[1, :3]) == {turn.yaw_unsolved_because[1]}


def test_a_yaw_no_better_than_the_nominal_one_is_labelled_so():
    x = noisy(BODY, [0, 43, 88])
    x[:, 3:] = np.nan
    turn = solve(x, THREE, None)
    assert turn.yaw_sd[2] > 7.0
    assert turn.yaw_unsolved_because[2] == "from the nominal yaw only"


def test_a_view_with_two_landmarks_is_not_solved_and_the_others_are():
    x = noisy(BODY, [0, 43, 88])
    x[2, 2:] = np.nan
    turn = solve(x, THREE)
    assert "fewer than 3" in turn.yaw_unsolved_because[2]
    assert turn.yaw_unsolved_because[1] == "" and abs(turn.yaw[1] - 43) < 4 * turn.yaw_sd[1]


def test_a_landmark_seen_once_has_no_depth_and_no_drift():
    x = noisy(BODY, [0, 43, 88])
    x[1:, 3] = np.nan
    turn = solve(x, THREE, None)
    assert np.isnan(turn.z[3]) and turn.why_not[0, 3] == "too few drawings show it to tell"
    assert list(turn.why_not[1:, 3]) == ["not placed", "not placed"]
    assert np.isfinite(np.delete(turn.z, 3)).all()


def test_a_landmark_placed_nowhere_changes_nothing_else():
    x = noisy(BODY, [0, 43, 88])
    with_hole = np.column_stack([x, np.full(3, np.nan)])
    turn = solve(with_hole, THREE)
    assert turn.yaw == pytest.approx(solve(x, THREE).yaw, abs=1e-5)
    assert np.isnan(turn.x[-1]) and (turn.why_not[:, -1] == "not placed").all()


def test_a_pair_seen_in_the_side_view_only_says_nothing_of_the_yaw():
    """Its width would be made up: seen end on, it is left/right difference over cos 90."""
    x = noisy(BODY, [0, 43, 88])
    only_side = x.copy()
    only_side[:2, :2] = np.nan
    nowhere = only_side.copy()
    nowhere[2, :2] = np.nan
    turn, without = solve(only_side, THREE), solve(nowhere, THREE)
    assert turn.yaw == pytest.approx(without.yaw, abs=0.01)
    assert turn.yaw_sd == pytest.approx(without.yaw_sd, rel=0.01)


# What does not fit is named.


@pytest.mark.parametrize("view", [0, 1, 2])
@pytest.mark.parametrize("size", [30.0, -30.0])
def test_a_cheated_placing_is_named_and_shows_its_full_drift(view, size):
    elbow = BODY.names.index("elbow_l")
    x = noisy(BODY, [0, 43, 88], seed=3)
    x[view, elbow] += size
    turn = solve(x, THREE)
    assert turn.named[elbow] == view
    assert (np.delete(turn.named, elbow) == NOBODY).all()
    assert abs(turn.drift[view, elbow] - size) < 3 * turn.drift_u[view, elbow] < 15
    assert np.flatnonzero(turn.suspects[:, elbow]).tolist() == [view]


@pytest.mark.parametrize("view", [0, 1, 2])
def test_without_symmetry_three_views_name_the_point_but_not_the_view(view):
    """Three placings of two unknowns leave one contradiction, which each view may have caused."""
    x = noisy(BODY, [0, 43, 88], seed=3)
    x[view, 6] += 30
    turn = solve(x, THREE, None)
    assert turn.named[6] == ONE_AMONG and turn.suspects[:, 6].all()
    assert abs(turn.drift[view, 6] - 30) < 3 * turn.drift_u[view, 6]


@pytest.mark.parametrize("view", range(5))
def test_without_symmetry_five_views_name_the_view(view):
    x = noisy(BODY, FIVE, seed=4)
    x[view, 6] += 30
    assert solve(x, FIVE, None).named[6] == view


def test_a_profile_nose_on_the_midline_is_named_among_the_two_views_that_show_its_depth():
    nose = BODY.names.index("nose_tip")
    x = noisy(BODY, [0, 43, 88], seed=5)
    x[2, nose] += 40
    turn = solve(x, THREE)
    assert turn.named[nose] == ONE_AMONG
    assert list(np.flatnonzero(turn.suspects[:, nose])) == [1, 2]


@pytest.mark.parametrize("seed", range(6))
def test_a_third_of_the_landmarks_may_be_cheated(seed):
    rng = np.random.default_rng(seed)
    x = noisy(BODY, [0, 42, 87], seed)
    bad = rng.choice(LANDMARKS, 7, replace=False)
    x[rng.integers(0, 3, 7), bad] += rng.choice([-1, 1], 7) * rng.uniform(30, 80, 7)
    turn = solve(x, THREE)
    assert (np.abs(turn.yaw - [0, 42, 87]) <= 3 * turn.yaw_sd).all()
    assert (turn.named[bad] != NOBODY).sum() >= 6


def test_a_posed_arm_is_called_asymmetric_and_bends_no_yaw():
    arm = [BODY.names.index(f"{part}_l") for part in ("elbow", "wrist", "fingertip")]
    posed_x, posed_z = BODY.x.copy(), BODY.z.copy()
    posed_x[arm] += [40, 70, 90]
    posed_z[arm] += [50, 110, 150]
    posed = Body(BODY.names, posed_x, posed_z, BODY.pairs, BODY.midline)
    turn = solve(noisy(posed, [0, 42, 87], seed=2), THREE)
    assert (np.abs(turn.yaw - [0, 42, 87]) <= 2.5 * turn.yaw_sd).all()
    assert turn.asymmetric[arm].all()
    assert (turn.named == NOBODY).all()
    assert turn.asymmetric.sum() == 6


def test_redundancy_without_symmetry_is_what_algebra_says():
    """Three placings of a point leave one contradiction, n = (s2, -s1, s1) at yaws 0, 45, 90.

    n = (sin 45, -sin 90, sin 45) cancels the point whatever it is, so with many landmarks (yaws
    and axes all but known) the redundancy of a placing is n_v² / |n|²: 1/4, 1/2, 1/4.
    """
    many = biped(16, 8)
    x = np.hstack([draw(many, np.array(THREE)) * k for k in (0.7, 0.9, 1.0, 1.1, 1.3)])
    turn = solve(x, THREE, None)
    assert np.median(turn.redundancy, axis=1) == pytest.approx([0.25, 0.5, 0.25], abs=0.04)


# Drawings read the wrong way round are recognised.


def test_a_mirrored_three_quarter_is_recognised_among_five_views():
    x = noisy(BODY, [0, 43, 88, 133, 180])
    x[1] = -exchanged(x[1])
    turn = solve(x, FIVE)
    assert turn.misreading == ("", "mirrored", "", "", "")
    assert turn.yaw[1] == pytest.approx(-43, abs=2.5)
    assert not [one for one in rivals(turn) if one[0] != 2]  # a side view has its own


def test_with_three_views_the_other_drawing_may_be_the_mirrored_one():
    x = noisy(BODY, [0, 43, 88])
    x[1] = -exchanged(x[1])
    turn = solve(x, THREE)
    assert turn.misreading == ("", "mirrored", "")
    assert rivals(turn) == [(2, "mirrored"), (2, "mirrored and swapped"), (2, "swapped")]
    assert [one.view for one in turn.readings[1]] == [1, 2, 2]


@pytest.mark.parametrize("view", [1, 2])
def test_a_nose_ahead_of_the_neck_tells_which_of_two_drawings_is_mirrored(view):
    x = noisy(BODY, [0, 43, 88])
    x[view] = -exchanged(x[view])
    ahead = [(BODY.names.index("nose_tip"), BODY.names.index("neck"))]
    turn = solve(x, THREE, ahead=ahead)
    assert turn.misreading == tuple("mirrored" if v == view else "" for v in range(3))
    assert rivals(turn) == [(2, "swapped" if view == 1 else "mirrored and swapped")]
    assert turn.z[ahead[0][0]] > turn.z[ahead[0][1]]


@pytest.mark.parametrize(("view", "reads"), [(0, 180), (1, 137), (3, 47), (4, 0)])
def test_exchanged_left_and_right_names_are_recognised(view, reads):
    x = noisy(BODY, [0, 43, 88, 133, 180])
    x[view] = exchanged(x[view])
    turn = solve(x, FIVE)
    assert turn.misreading == tuple("swapped" if v == view else "" for v in range(5))
    assert turn.yaw[view] == pytest.approx(reads, abs=2.5)


def test_a_careless_yaw_is_neither_mirrored_nor_swapped():
    turn = solve(noisy(BODY, [0, 27, 88]), THREE)
    assert set(turn.misreading) == {""}
    assert turn.yaw[1] == pytest.approx(27, abs=2)


def hidden_on(view: int, side: int, views: int = 3) -> np.ndarray:
    """The left (0) or right (1) ones of all pairs hidden in one view."""
    hidden = np.zeros((views, LANDMARKS), bool)
    hidden[view, [pair[side] for pair in BODY.pairs]] = True
    return hidden


@pytest.mark.parametrize("view", [1, 2])
def test_a_drawing_flipped_with_its_names_fits_half_a_turn_away(view):
    x = noisy(BODY, [0, 43, 88])
    x[view] *= -1.0
    ahead = [(BODY.names.index("nose_tip"), BODY.names.index("neck"))]
    turn = solve(x, THREE, ahead=ahead, hidden=hidden_on(view, 0))
    assert turn.misreading == tuple("mirrored and swapped" if v == view else "" for v in range(3))
    assert turn.readings[view][0].yaw == pytest.approx([0, 43, 88][view], abs=2.5)
    assert rivals(turn) == [(2, "swapped")] * (view == 1)  # no point is hidden in the side view


@pytest.mark.parametrize(("side", "reads"), [(0, ""), (1, "swapped")])
def test_hidden_points_tell_whether_a_side_view_has_its_names_exchanged(side, reads):
    x = noisy(BODY, [0, 43, 96])
    assert rivals(solve(x, THREE)) == [(2, "swapped")]
    turn = solve(x, THREE, hidden=hidden_on(2, side))
    assert turn.misreading == ("", "", reads)
    assert turn.readings[2][0].yaw == pytest.approx(84 if reads else 96, abs=2.5)
    assert not rivals(turn)


# The reference's own turn, and what the scales say.


def test_an_exact_body_tells_how_the_reference_is_turned():
    turn = solve(noisy(BODY, [7, 41, 87], sd=0), THREE, yaw_prior_sd=np.inf)
    assert turn.yaw == pytest.approx([7, 41, 87], abs=1e-5)
    assert not turn.yaw_held_because and turn.yaw_sd[0] > 0


def test_without_symmetry_or_with_few_pairs_the_reference_is_held_and_that_is_said():
    x = noisy(BODY, [0, 41, 87])
    for held in (solve(x, THREE, None), solve(x[:, :3], THREE, biped(1, 1))):
        assert held.yaw[0] == 0.0 and held.yaw_sd[0] == 0.0
        assert "turned against it" in held.yaw_held_because


def test_a_scale_that_is_uncertain_makes_yaws_uncertain_and_may_be_solved():
    """A drawing 3 % larger than its scale says reads right once that is doubted."""
    x = noisy(BODY, [0, 43, 88], sd=0)
    x[1] *= 1.03
    sure = solve(x, THREE, yaw_prior_sd=np.inf)
    unsure = solve(x, THREE, yaw_prior_sd=np.inf, scale_sd=np.array([0.0, 0.05, 0.05]))
    assert abs(unsure.yaw[1] - 43) < abs(sure.yaw[1] - 43) / 3
    assert abs(unsure.yaw[1] - 43) < unsure.yaw_sd[1]
    assert unsure.yaw_sd[1] > sure.yaw_sd[1]


# Invariants.

SEEDS = st.integers(0, 10_000)
YAWS = st.tuples(st.floats(30, 60), st.floats(75, 105)).map(lambda two: [0.0, *two])
FEW = settings(max_examples=25, deadline=None)


@FEW
@given(SEEDS, YAWS, st.floats(0.05, 20))
def test_the_size_of_the_picture_changes_no_yaw(seed, yaws, factor):
    x = noisy(BODY, yaws, seed)
    turn = solve(x, THREE)
    scaled = solve_turn(
        x * factor,
        np.full(x.shape, 1.5 * factor),
        np.ones(3),
        THREE,
        figure_height=HEIGHT * factor,
        pairs=BODY.pairs,
        midline=BODY.midline,
    )
    assert scaled.yaw == pytest.approx(turn.yaw, abs=1e-6)
    drift = turn.drift * factor
    assert scaled.drift == pytest.approx(drift, rel=1e-4, abs=1e-4 * factor, nan_ok=True)


@FEW
@given(SEEDS, YAWS)
def test_mirroring_all_drawings_changes_the_signs_and_nothing_else(seed, yaws):
    """A mirrored drawing shows the mirrored body, whose left is the other's right."""
    x = noisy(BODY, yaws, seed)
    turn = solve(x, THREE)
    mirrored = solve(-np.array([exchanged(row) for row in x]), [-yaw for yaw in THREE])
    assert mirrored.yaw == pytest.approx(-turn.yaw, abs=1e-5)
    assert mirrored.yaw_sd == pytest.approx(turn.yaw_sd, rel=1e-4)
    assert mirrored.axis == pytest.approx(-turn.axis, abs=1e-3)
    back = np.array([exchanged(row) for row in mirrored.drift])
    assert -back == pytest.approx(turn.drift, abs=1e-3, nan_ok=True)


@pytest.mark.parametrize("who", [BODY, None], ids=["symmetric", "not symmetric"])
def test_a_view_that_agrees_moves_no_other_yaw_by_more_than_its_uncertainty(who):
    """Placings are noisy, so this is a rate: over 1,200 trials each, 1.0 and 1.1 % passed it."""
    rng = np.random.default_rng(1)
    kept = []
    for seed in range(300):
        yaws = [0.0, rng.uniform(30, 60), rng.uniform(75, 105), rng.uniform(120, 150)]
        x = noisy(BODY, yaws, seed)
        less = solve(x[:3], THREE, who)
        more = solve(x, [*THREE, 135.0], who)
        # the two share their data: their difference has variance less² - more² (Hausman 1978,
        # from memory)
        shared = np.maximum(less.yaw_sd**2 - more.yaw_sd[:3] ** 2, 0.0)
        room = 4 * np.sqrt(shared) + 0.25 * less.yaw_sd
        kept.append((np.abs(more.yaw[:3] - less.yaw) <= room + 1e-9).all())
    assert np.mean(kept) >= 0.97


@FEW
@given(YAWS, st.floats(120, 150), st.sampled_from([BODY, None]))
def test_an_exact_view_more_moves_no_yaw(yaws, extra, who):
    x = noisy(BODY, [*yaws, extra], sd=0)
    less = solve(x[:3], THREE, who, yaw_prior_sd=np.inf)
    more = solve(x, [*THREE, 135.0], who, yaw_prior_sd=np.inf)
    assert more.yaw[:3] == pytest.approx(less.yaw, abs=1e-6)


@FEW
@given(SEEDS, YAWS, st.permutations(range(LANDMARKS)))
def test_the_order_of_the_landmarks_changes_nothing(seed, yaws, order):
    x = noisy(BODY, yaws, seed)
    x[1, 5] += 30
    at = {old: new for new, old in enumerate(order)}
    shuffled = Body(
        BODY.names,
        BODY.x,
        BODY.z,
        [(at[a], at[b]) for a, b in BODY.pairs],
        [at[i] for i in BODY.midline],
    )
    turn, other = solve(x, THREE), solve(x[:, order], THREE, shuffled)
    assert other.yaw == pytest.approx(turn.yaw, abs=1e-6)
    assert (other.named == turn.named[order]).all()
    assert other.drift == pytest.approx(turn.drift[:, order], abs=1e-4, nan_ok=True)


# The covariance of the body.


def test_the_stated_covariance_is_what_trials_show():
    elbow, toe = BODY.names.index("elbow_l"), BODY.names.index("toe_r")
    toward = np.array([BODY.x[toe] - BODY.x[elbow], BODY.z[toe] - BODY.z[elbow]])
    toward /= np.hypot(*toward)
    n = len(BODY.names)
    at, slope = [elbow, n + elbow, toe, n + toe], np.r_[-toward, toward]
    lengths, sds = [], []
    for seed in range(150):
        turn = solve(noisy(BODY, [0, 45, 90], seed), THREE, None)
        lengths.append(slope @ np.r_[turn.x, turn.z][at])
        sds.append(np.sqrt(slope @ turn.covariance[np.ix_(at, at)] @ slope))
    # the standard deviation of 150 trials is itself uncertain by 6 %
    assert np.std(lengths) == pytest.approx(np.median(sds), rel=0.25)


def test_five_views_of_forty_landmarks_take_under_a_tenth_of_a_second():
    many = biped(16, 8)
    x = noisy(many, FIVE)
    solve(x, FIVE, many)
    times = []
    for _ in range(3):
        start = time.perf_counter()
        solve(x, FIVE, many)
        times.append(time.perf_counter() - start)
    assert min(times) < 0.1

"""How often the turn is right: seeded trials of noisy drawings of known bodies.

20 landmarks, placing sd 0.15 % of the height, a quarter of the side view's landmarks hidden and
placed three times worse, true yaws 3 degrees (one sd) off the nominal ones, symmetry kept to 0.5 %
of the height unless a test says otherwise. With 300 trials a rate of 95 % is known to 1.3 %.
The figures stand in tests/figures/turn.md.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from tests.outside.bodies import body_or_skip
from tests.simulations.turning_bodies import ARM, HEIGHT, Body, biped, draw
from turncheck.geometry.turn import NOBODY, Turn, solve_turn

PERCENT = HEIGHT / 100
THREE = (0.0, 45.0, 90.0)
FIVE = (*THREE, 135.0, 180.0)


@dataclass(frozen=True)
class Case:
    """One kind of trial."""

    body: Body
    nominal: tuple[float, ...] = THREE
    symmetric: bool = True
    asymmetry: float = 0.5
    posed: bool = False
    cheats: int = 0
    cheat: float = 3.0
    spread: float = 3.0
    placing: float = 0.15
    front: float = 0.0
    trials: int = 300


@dataclass(frozen=True)
class Rates:
    """What the trials gave; yaws (trials, V - 1), placings (all of them)."""

    error: np.ndarray
    sd: np.ndarray
    landmark_named: float
    view_named: float
    wrong_view: float
    false: float
    held: float
    drift_z: np.ndarray

    @property
    def coverage(self) -> np.ndarray:
        """Share of true yaws inside the stated 95 % interval, per view."""
        return (np.abs(self.error) <= 1.96 * self.sd).mean(axis=0)

    @property
    def rms(self) -> np.ndarray:
        return np.sqrt((self.error**2).mean(axis=0))


def _vary(case: Case, rng: np.random.Generator) -> Body:
    """Let the body depart from symmetry, and pose its left arm, joint by joint."""
    body = case.body
    each = case.asymmetry * PERCENT / np.sqrt(2)
    single = np.isin(np.arange(len(body.x)), body.midline)
    x = body.x + rng.normal(0, each, len(body.x)) * np.where(single, np.sqrt(2), 1)
    z = body.z + rng.normal(0, each, len(body.z))
    if case.posed:
        arm = [i for i, n in enumerate(body.names) if n.endswith("_l") and n[:-2] in ARM]
        x[arm] += rng.uniform(-8, 8, len(arm)) * PERCENT
        z[arm] += rng.uniform(-8, 8, len(arm)) * PERCENT
    return replace(body, x=x, z=z)


def trial(case: Case, rng: np.random.Generator) -> tuple[Turn, np.ndarray, np.ndarray]:
    """Solve one sheet: the turn, the true yaws, and which placings were cheated."""
    body, views, landmarks = _vary(case, rng), len(case.nominal), len(case.body.x)
    yaws = np.array(case.nominal) + np.r_[case.front, rng.normal(0, case.spread, views - 1)]
    sd = np.full((views, landmarks), case.placing * PERCENT)
    for v in np.flatnonzero(np.abs(case.nominal) == 90):
        sd[v, rng.choice(landmarks, landmarks // 4, replace=False)] *= 3
    x = draw(body, yaws, rng.uniform(-200, 200, views)) + rng.normal(0, 1, sd.shape) * sd
    bad = np.zeros(sd.shape, bool)
    which = rng.choice(landmarks, case.cheats, replace=False)
    bad[rng.integers(0, views, case.cheats), which] = True
    x += bad * case.cheat * PERCENT * rng.choice([-1, 1], landmarks)
    turn = solve_turn(
        x,
        sd,
        np.ones(views),
        case.nominal,
        figure_height=HEIGHT,
        pairs=body.pairs if case.symmetric else [],
        midline=body.midline if case.symmetric else [],
    )
    return turn, yaws, bad


def rates(case: Case, seed: int = 1) -> Rates:
    rng = np.random.default_rng(seed)
    error, sd, named, view, wrong, false, held, drift_z = ([] for _ in range(8))
    for _ in range(case.trials):
        turn, yaws, bad = trial(case, rng)
        assert turn
        error.append((turn.yaw - yaws)[1:])
        sd.append(turn.yaw_sd[1:])
        views, landmarks = np.nonzero(bad)
        named += list(turn.named[landmarks] != NOBODY)
        view += list(turn.named[landmarks] == views)
        wrong += list((turn.named[landmarks] >= 0) & (turn.named[landmarks] != views))
        false += list(turn.named[~bad.any(axis=0)] != NOBODY)
        held.append(bool(turn.yaw_held_because))
        clean = turn.measurable & ~bad & ~turn.suspects
        drift_z += list((turn.drift / turn.drift_u)[clean])
    share = [float(np.mean(found)) if found else 0.0 for found in (named, view, wrong, false, held)]
    return Rates(np.array(error), np.array(sd), *share, np.array(drift_z))


def outside(name: str) -> Body:
    """Vertical joints of an openly licensed figure as our landmarks; skips without the wheel."""
    figure = body_or_skip(name)
    names = [n for n in figure.joints if n not in ("ground", "neck_top")]
    at = np.array([figure.joints[n] for n in names]) / figure.height * HEIGHT
    return Body(
        tuple(names),
        at[:, 0],
        at[:, 2],
        [(names.index(n), names.index(n[:-1] + "r")) for n in names if n.endswith("_l")],
        [i for i, n in enumerate(names) if n[-2:] not in ("_l", "_r")],
    )


def assert_calibrated(found: Rates) -> None:
    """Intervals cover 92 to 98 %, give or take two standard errors of 300 trials at 95 %."""
    assert (found.coverage > 0.92 - 0.025).all()
    assert (found.coverage < 0.98 + 0.015).all()


def test_with_symmetry_the_yaw_is_good_to_0_6_degrees_and_its_interval_true():
    """With the front's own yaw known they are stated to 0.55: a straight front costs a tenth."""
    found = rates(Case(biped()))
    assert (found.rms < 0.6).all() and (np.median(found.sd, axis=0) < 0.55 * 1.12).all()
    assert (np.abs(found.error.mean(axis=0)) < 0.1).all()
    assert_calibrated(found)
    assert found.false < 0.005
    assert np.mean(np.abs(found.drift_z) < 1.96) == pytest.approx(0.95, abs=0.025)


def test_without_symmetry_the_yaw_is_good_to_1_6_degrees_and_its_interval_true():
    found = rates(Case(biped(), symmetric=False))
    assert (found.rms < 1.6).all() and (np.median(found.sd, axis=0) < 1.6).all()
    assert_calibrated(found)
    assert found.false < 0.005
    assert np.mean(np.abs(found.drift_z) < 1.96) == pytest.approx(0.95, abs=0.025)


@pytest.mark.parametrize("asymmetry", [0.25, 0.5])
def test_an_arm_posed_asymmetrically_leaves_the_interval_true(asymmetry):
    found = rates(Case(biped(), posed=True, asymmetry=asymmetry))
    assert (found.rms < 1.0).all()
    assert_calibrated(found)
    assert found.false < 0.005


def test_a_loosely_symmetric_body_is_noticed_and_the_interval_widens():
    """True asymmetry is twice the stated one: the drawings' own symmetry is estimated."""
    found = rates(Case(biped(), asymmetry=1.0))
    assert (found.coverage > 0.85).all()


def test_an_exactly_symmetric_body_has_intervals_on_the_safe_side():
    found = rates(Case(biped(), asymmetry=0.0))
    assert (found.rms < 0.45).all() and (found.coverage > 0.95).all()


def test_a_cheat_of_3_percent_is_named_with_symmetry():
    found = rates(Case(biped(), cheats=1))
    assert found.landmark_named > 0.95
    assert found.view_named > 0.6
    assert found.wrong_view < 0.02
    assert found.false < 0.005


def test_a_cheat_of_2_percent_is_mostly_named_with_symmetry():
    assert rates(Case(biped(), cheats=1, cheat=2.0)).landmark_named > 0.93


def test_without_symmetry_a_cheat_is_named_and_no_view_blamed_for_another():
    found = rates(Case(biped(), cheats=1, symmetric=False))
    assert found.landmark_named > 0.79
    assert found.wrong_view == 0.0
    assert found.false < 0.005


def test_without_symmetry_five_views_name_the_view():
    found = rates(Case(biped(), FIVE, symmetric=False, cheats=1, trials=200))
    assert found.landmark_named > 0.95
    assert found.view_named > 0.8


def test_a_third_of_all_landmarks_cheated_leaves_the_interval_true():
    found = rates(Case(biped(), cheats=7))
    assert (found.coverage > 0.895).all()
    assert (np.abs(found.error / found.sd) > 4).mean() < 0.005
    assert found.landmark_named > 0.95
    assert found.false < 0.01


@pytest.mark.parametrize("posed", [False, True], ids=["at ease", "arm posed"])
@pytest.mark.parametrize("name", ["adult_female", "child"])
def test_true_joints_of_a_human_mesh_hold_the_same_figures(name, posed):
    """CC0 human of 31 landmarks, see tests/outside/bodies.py."""
    found = rates(Case(outside(name), posed=posed, cheats=0 if posed else 1, trials=200))
    assert (found.rms < (0.75 if posed else 0.6)).all()
    # a coverage of 95 % over 200 trials is known to 1.5 %
    assert (found.coverage > 0.89).all()
    assert found.landmark_named > 0.95 or posed
    assert found.false < 0.005

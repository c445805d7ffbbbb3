"""Claims about outlines, on sections whose truth is known; no file is read.

A body here is a stack of point sets seen from above; its extents are exact. What is feasible is
also asked of a linear programme (scipy's HiGHS): some point of the body on every line, none beyond.
"""

import re
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from turncheck.geometry.outlines import Outline, compare_outlines
from turncheck.geometry.outlines.extents import Extents
from turncheck.geometry.outlines.inequalities import directions, inequalities
from turncheck.geometry.outlines.result import CONTRADICTS, FITS, NOT_SEEN
from turncheck.geometry.outlines.slack import room_of, slack_of
from turncheck.geometry.outlines.stretches import broken_rows
from turncheck.images.features import row_extents

HEIGHT = 400.0
ROWS = 480
GROUND, AXIS = 439.5, 250.0
FIVE = (0.0, 45.0, 90.0, 135.0, 180.0)
DIRECTION_SETS = [
    ((0, 45, 90), False),
    ((0, 45, 90), True),
    (FIVE, False),
    (FIVE, True),
    ((0, 41.3, 88.2, 140.1, 180), False),
    ((0, 41.3, 86.2), True),
    ((0, 30, 60, 90, 180), True),
    ((0, -45, 90), False),
    ((0, 45), True),
]
SEEDS = st.integers(0, 2**32 - 1)


def random_section(rng: np.random.Generator, symmetric: bool, size: float = 60.0) -> np.ndarray:
    """Points (n, 2) X, Z, px."""
    points = rng.normal(0, size, (rng.integers(3, 12), 2)) * rng.uniform(0.2, 1, 2)
    return np.vstack([points, points * [-1, 1]]) if symmetric else points


def support(points: np.ndarray, degrees: np.ndarray) -> np.ndarray:
    at = np.radians(degrees)
    return (points @ np.stack([np.cos(at), np.sin(at)])).max(axis=0)


def exact_outline(section: np.ndarray, yaw: float, yaw_sd: float = 0.0) -> Outline:
    """A post of that section, `HEIGHT` tall; its edges need not fall on pixels."""
    right, left = support(section, np.array([yaw, yaw + 180.0]))
    filled = np.full(ROWS, np.nan)
    filled[40:440] = 0.0
    return Outline(
        AXIS - left + 0.5 + filled, AXIS + right - 0.5 + filled, 1, GROUND, yaw, yaw_sd, AXIS, 0.0
    )


def post(seed: int, yaws: tuple[float, ...], symmetric: bool, yaw_sd: float = 0.0) -> list[Outline]:
    section = random_section(np.random.default_rng(seed), symmetric)
    return [exact_outline(section, yaw, yaw_sd) for yaw in yaws]


def moved(outline: Outline, side: int, rows: slice, px: float) -> Outline:
    """Move one side (0 left, 1 right) outward along some picture rows."""
    name, sign = (("left", -1), ("right", 1))[side]
    edge = getattr(outline, name).copy()
    edge[rows] += sign * px
    return replace(outline, **{name: edge})


def swapped(found: list[Outline], view: int, new: Outline) -> list[Outline]:
    return [new if v == view else outline for v, outline in enumerate(found)]


# Extents


@given(st.integers(1, 40), SEEDS)
@settings(deadline=None, max_examples=50)
def test_extents_are_half_a_pixel_beyond_the_first_and_last_figure_pixel(columns, seed):
    mask = np.random.default_rng(seed).random((30, columns)) < 0.08
    for row, left, right in zip(mask, *row_extents(mask), strict=True):
        at = np.flatnonzero(row)
        edges = (at[0] - 0.5, at[-1] + 0.5) if len(at) else (np.nan, np.nan)
        assert (left, right) == pytest.approx(edges, nan_ok=True)


# What a body can do, against a linear programme


def feasible_move(
    h: np.ndarray, degrees: np.ndarray, move: np.ndarray | None = None
) -> tuple[bool, float]:
    """Ask a linear programme for a body with these extents.

    With `move` (1 where a direction moves), the least |t| for which h + t move are a body's.
    """
    count = len(h)
    u = np.stack([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))], axis=1)
    given = np.zeros(count) if move is None else move
    # unknown: a point on every line (x, z), then t and its size
    within, on = np.zeros((count, count, 2 * count + 2)), np.zeros((count, 2 * count + 2))
    for i in range(count):
        within[i, :, 2 * i : 2 * i + 2] = u
        within[i, :, -2] = -given
        on[i, 2 * i : 2 * i + 2], on[i, -2] = u[i], -given[i]
    size = np.zeros((2, 2 * count + 2))
    size[:, -2:] = [[1, -1], [-1, -1]]
    found = linprog(
        np.r_[np.zeros(2 * count + 1), 1.0],
        A_ub=np.vstack([within.reshape(-1, 2 * count + 2), size]),
        b_ub=np.r_[np.tile(h, count), 0, 0],
        A_eq=on,
        b_eq=h,
        bounds=(None, None),
    )
    return bool(found.success), float(found.x[-2]) if found.success else np.nan


def sections(seed: int, yaws: tuple[float, ...], mirrored: bool, error: float):
    """One row: a body's extents with an error on each side of each drawing."""
    rng = np.random.default_rng(seed)
    body = random_section(rng, mirrored)
    degrees = np.array([yaw + away for yaw in yaws for away in (180.0, 0.0)])
    wrong = rng.random(2 * len(yaws)) < rng.choice([0.0, 0.2, 1.0])
    h = support(body, degrees) + rng.normal(0, error, 2 * len(yaws)) * wrong
    if mirrored and yaws[0] == 0:
        h[0] = h[1]  # a front that is its own mirror image, as a symmetric row's is
    system = inequalities(np.array(yaws, float), np.zeros(len(yaws)), mirrored=mirrored)
    return h, system, directions(np.array(yaws, float), mirrored=mirrored)


def slack_at(h: np.ndarray, system) -> np.ndarray:
    none = np.zeros(len(h) // 2)
    extents = Extents(np.zeros(1), h[:, None], h[:, None], np.zeros((len(none), 1), bool))
    return slack_of(system, extents, none, none).px


@pytest.mark.parametrize(("yaws", "mirrored"), DIRECTION_SETS)
@given(seed=SEEDS)
@settings(deadline=None, max_examples=40)
def test_the_inequalities_hold_exactly_where_a_linear_programme_finds_a_body(yaws, mirrored, seed):
    h, system, ways = sections(seed, yaws, mirrored, 15.0)
    slack = slack_at(h, system)
    if slack.size and abs(slack.min()) < 1e-6:
        return
    body, _ = feasible_move(h[[d.side for d in ways]], np.array([d.angle for d in ways]))
    assert body == (not (slack < 0).any())


@pytest.mark.parametrize(("yaws", "mirrored"), DIRECTION_SETS)
@given(seed=SEEDS)
@settings(deadline=None, max_examples=15)
def test_the_least_change_of_one_side_is_the_linear_programmes(yaws, mirrored, seed):
    h, system, ways = sections(seed, yaws, mirrored, 15.0)
    found = broken_rows(system, slack_at(h, system), 1e-9, len(h))
    angle, side = np.array([d.angle for d in ways]), np.array([d.side for d in ways])
    if len(found) != 1:  # nothing wrong, or two things that no one change mends
        return
    for k in range(len(h)):
        possible, t = feasible_move(h[side], angle, (side == k).astype(float))
        assert possible == np.isfinite(found[0].needs[k])
        if possible:
            assert t == pytest.approx(found[0].needs[k], abs=1e-6)


@pytest.mark.parametrize(("yaws", "mirrored"), DIRECTION_SETS)
@given(seed=SEEDS)
@settings(deadline=None, max_examples=15)
def test_the_power_is_the_linear_programmes(yaws, mirrored, seed):
    h, system, ways = sections(seed, yaws, mirrored, 0.0)
    room = room_of(system.by_side(len(h)), slack_at(h, system), 1e-9)
    angle, side = np.array([d.angle for d in ways]), np.array([d.side for d in ways])
    for k in range(len(h)):
        for reach, sign in ((room.outward[k, 0], 1), (room.inward[k, 0], -1)):
            for share, fits in ((0.98, True), (1.02, False)):
                step = share * reach + (share - 1) * 0.01
                if not np.isfinite(reach) or (fits and step < 0):
                    continue
                changed = h + sign * step * (np.arange(len(h)) == k)
                assert feasible_move(changed[side], angle)[0] == fits


# Bodies never contradict themselves


@pytest.mark.parametrize(("yaws", "symmetric"), DIRECTION_SETS)
@given(seed=SEEDS)
@settings(deadline=None, max_examples=20)
def test_a_solid_body_never_contradicts_itself(yaws, symmetric, seed):
    assert compare_outlines(post(seed, yaws, symmetric), HEIGHT).contradictions == ()


@pytest.mark.parametrize("symmetric", [True, False])
@given(seed=SEEDS)
@settings(deadline=None, max_examples=40)
def test_nor_where_yaws_and_axes_are_wrong_by_two_standard_errors(symmetric, seed):
    rng = np.random.default_rng(seed)
    body = random_section(rng, symmetric, 250.0)
    drawings = []
    for yaw in (0.0, 43.0, 90.0, 137.0, 180.0):
        doubt = 0.8 if yaw else 0.0
        exact = exact_outline(body, yaw)
        off = rng.choice([-2, 0, 2]) * np.array([doubt, 1.0])
        if symmetric and np.sin(np.radians(yaw)) < 0.1:
            off[:] = 0
        shown = replace(exact, yaw=yaw + off[0], yaw_sd=doubt, axis=AXIS + off[1], axis_sd=1.0)
        drawings.append(shown)
    assert compare_outlines(drawings, HEIGHT).contradictions == ()


@given(SEEDS)
@settings(deadline=None, max_examples=20)
def test_size_and_place_of_a_drawing_change_nothing(seed):
    body = random_section(np.random.default_rng(seed), False)
    one = [exact_outline(body, yaw) for yaw in (0.0, 45.0, 90.0)]
    one[1] = moved(one[1], 1, slice(200, 240), 30)
    # the same drawing twice as large: a pixel's outer edge stays half a pixel from its centre
    left, right = (np.repeat(edge, 2) for edge in (one[1].left - 0.5, one[1].right + 0.5))
    left, right = 777 + 2 * (left - AXIS) + 0.5, 777 + 2 * (right - AXIS) - 0.5
    large = Outline(left, right, 2, 2 * GROUND + 0.5, 45, 0, 777, 0)
    small = compare_outlines(one, HEIGHT, symmetric=False)
    big = compare_outlines(swapped(one, 1, large), HEIGHT, symmetric=False)
    assert [c.views for c in small.contradictions] == [c.views for c in big.contradictions]
    for a, b in zip(small.contradictions, big.contradictions, strict=True):
        assert a.amount == pytest.approx(b.amount, abs=1e-6)
        assert a.heights == pytest.approx(b.heights, abs=1.01)


# Errors: found exactly where the stated power says


@pytest.mark.parametrize(("yaws", "symmetric"), DIRECTION_SETS)
@given(seed=SEEDS)
@settings(deadline=None, max_examples=30)
def test_a_stretch_moved_beyond_the_stated_power_is_found_and_within_it_is_not(
    yaws, symmetric, seed
):
    rng = np.random.default_rng(seed)
    drawings = post(seed, yaws, symmetric)
    clean = compare_outlines(drawings, HEIGHT, symmetric=symmetric)
    view, side, sign = int(rng.integers(len(yaws))), int(rng.integers(2)), rng.choice([-1, 1])
    power = (clean.outward if sign > 0 else clean.inward)[view, side, 200]
    top = int(rng.integers(100, 300))
    rows = slice(top, top + int(np.ceil(clean.stretch)) + 1)
    width = drawings[view].right[200] - drawings[view].left[200]
    for px, seen in ((0.97 * power - 0.01, False), (1.03 * power + 0.1, True)):
        if not np.isfinite(px) or px < 0 or (sign < 0 and px > width):
            continue
        wrong = swapped(drawings, view, moved(drawings[view], side, rows, sign * px))
        found = compare_outlines(wrong, HEIGHT, symmetric=symmetric).contradictions
        assert bool(found) == seen
        if seen:
            assert view in found[0].views
            low, high = GROUND - rows.stop, GROUND - rows.start
            assert low - 3 <= found[0].heights[0] < found[0].heights[1] <= high + 3
            assert any(r.view == view for r in found[0].remedies)


@pytest.mark.parametrize(("yaws", "symmetric"), DIRECTION_SETS)
@given(seed=SEEDS, allowed=st.floats(0, 1000))
@settings(deadline=None, max_examples=20)
def test_no_row_without_power_is_called_on_model(yaws, symmetric, seed, allowed):
    rng = np.random.default_rng(seed)
    drawings = post(seed, yaws, symmetric)
    view = int(rng.integers(len(yaws)))
    wrong = moved(drawings[view], int(rng.integers(2)), slice(200, 260), rng.normal(0, 20))
    wrong = replace(wrong, right=np.maximum(wrong.right, wrong.left))
    reading = compare_outlines(swapped(drawings, view, wrong), HEIGHT, symmetric=symmetric)
    for v in range(len(yaws)):
        power = np.maximum(reading.outward[v], reading.inward[v])
        assert not np.any((reading.states(v, allowed) == FITS) & ~(power <= allowed))


def test_two_drawings_at_an_angle_say_nothing_of_an_unsymmetric_body():
    reading = compare_outlines(post(1, (0.0, 45.0), False), HEIGHT, symmetric=False)
    assert np.isinf(reading.outward).all() and np.isinf(reading.inward).all()
    assert (reading.states(0, 1e6) == NOT_SEEN).all()


# Who is wrong


def cylinder(yaws: tuple[float, ...]) -> list[Outline]:
    ring = np.radians(np.arange(0, 360, 7.5))
    section = 50 * np.stack([np.cos(ring), np.sin(ring)], axis=1)
    return [exact_outline(section, yaw) for yaw in yaws]


def test_front_against_back_alone_names_both_and_blames_neither():
    front, back = cylinder((0.0, 180.0))
    wrong = [moved(front, 1, slice(200, 220), 8.0), back]
    (found,) = compare_outlines(wrong, HEIGHT, symmetric=False).contradictions
    assert (found.kind, found.views, found.blamed) == ("mirror", (0, 1), None)
    said = {(r.view, r.side): round(r.px, 6) for r in found.remedies}
    assert said == {(0, "right"): -8.0, (1, "left"): 8.0}
    assert found.rows[0] == pytest.approx([200, 220], abs=3)


def test_a_symmetric_bodys_back_settles_that_the_front_is_wrong():
    front, back = cylinder((0.0, 180.0))
    wrong = [moved(front, 1, slice(200, 220), 8.0), back]
    (found,) = compare_outlines(wrong, HEIGHT).contradictions
    assert found.blamed == 0
    assert found.symmetry


def test_the_views_between_settle_who_is_wrong():
    drawings = cylinder((0.0, 45.0, 90.0, 135.0, 180.0))
    wrong = swapped(drawings, 4, moved(drawings[4], 0, slice(200, 220), 40.0))
    (found,) = compare_outlines(wrong, HEIGHT, symmetric=False).contradictions
    assert found.blamed == 4
    assert [r.side for r in found.remedies] == ["left"]
    reading = compare_outlines(wrong, HEIGHT, symmetric=False)
    assert CONTRADICTS in reading.states(4, 10.0)[0]
    assert CONTRADICTS not in reading.states(4, 10.0)[1]


def test_a_drawing_too_wide_on_both_sides_is_one_contradiction_with_both_sides_to_mend():
    front, back = cylinder((0.0, 180.0))
    wide = moved(moved(back, 0, slice(200, 240), 9.0), 1, slice(200, 240), 9.0)
    (found,) = compare_outlines([front, wide], HEIGHT).contradictions
    assert {(r.view, r.side) for r in found.remedies} == {(0, "both"), (1, "both")}


def test_a_hat_in_one_drawing_of_three_names_that_drawing():
    drawings = cylinder((0.0, 45.0, 90.0))
    hat = drawings[2]
    left, right = hat.left.copy(), hat.right.copy()
    left[25:40], right[25:40] = 240.0, 260.0
    found = compare_outlines(
        swapped(drawings, 2, replace(hat, left=left, right=right)), HEIGHT
    ).contradictions
    assert [(c.blamed, c.remedies[0].side) for c in found] == [(2, "height")]
    assert -15 <= found[0].remedies[0].px <= -10


# Symmetry


def test_symmetry_is_dropped_with_a_word_where_front_and_back_are_lopsided():
    body = random_section(np.random.default_rng(3), False)
    reading = compare_outlines([exact_outline(body, yaw) for yaw in FIVE], HEIGHT)
    assert not reading.symmetric.any()
    assert "not taken as symmetric" in reading.symmetry_note


def test_a_badge_on_one_side_drops_symmetry_only_around_it():
    drawings = cylinder((0.0, 45.0, 90.0))
    badge = swapped(drawings, 0, moved(drawings[0], 1, slice(200, 220), 12.0))
    reading = compare_outlines(badge, HEIGHT)
    lost = reading.heights[~reading.symmetric & (reading.heights < 390) & (reading.heights > 10)]
    assert lost.min() == pytest.approx(GROUND - 220, abs=12)
    assert lost.max() == pytest.approx(GROUND - 200, abs=12)
    assert re.search(r"between 5[56] % and (59|60) %", reading.symmetry_note)


@pytest.mark.parametrize("px", [2.0, 2.9, 3.1, 4.0, 6.0])
def test_a_tuft_as_lopsided_in_front_as_in_the_back_is_no_contradiction(px):
    drawings = cylinder((0.0, 45.0, 90.0, 180.0))
    rough = swapped(drawings, 0, moved(drawings[0], 1, slice(200, 240), px + 0.4))
    rough = swapped(rough, 3, moved(drawings[3], 0, slice(200, 240), px - 0.4))
    assert compare_outlines(rough, HEIGHT).contradictions == ()


def test_without_a_front_or_back_drawing_symmetry_is_not_taken_for_granted():
    reading = compare_outlines(cylinder((45.0, 90.0, 135.0)), HEIGHT)
    assert not reading.symmetric.any()
    assert reading.symmetry_note


# What can't be compared


def test_one_drawing_is_refused():
    reading = compare_outlines(cylinder((0.0,)), HEIGHT)
    assert not reading
    assert reading.refusal


def test_a_drawing_of_unknown_turn_is_left_out_with_the_reason():
    drawings = cylinder((0.0, 45.0, 90.0))
    lost = replace(drawings[1], yaw_sd=np.nan)
    reading = compare_outlines(swapped(drawings, 1, lost), HEIGHT)
    assert [bool(why) for why in reading.left_out] == [False, True, False]
    assert np.isinf(reading.outward[1]).all()


def test_front_and_back_are_compared_without_a_solved_turn():
    front, back = (replace(o, axis=np.nan, axis_sd=np.nan) for o in cylinder((0.0, 180.0)))
    back = replace(back, left=back.left + 31, right=back.right + 31)
    assert compare_outlines([front, back], HEIGHT).contradictions == ()
    wrong = moved(back, 1, slice(200, 220), 8.0)
    (found,) = compare_outlines([front, wrong], HEIGHT, symmetric=False).contradictions
    assert found.amount == pytest.approx(8.0, abs=0.01)


# Speed


def test_five_large_outlines_take_under_a_second():
    rows, height = 4000, 3400.0
    rng = np.random.default_rng(0)
    filled = np.full(rows, np.nan)
    filled[300:3700] = 0.0
    drawings = []
    for yaw in FIVE:
        rough = np.convolve(rng.normal(0, 900, rows), np.ones(60) / 60, "same")
        left, right = 1000 + rough + filled, 1999 + rough[::-1] + filled
        drawings.append(Outline(left, right, 1, 3699.5, yaw, 0.5, 1499.5, 2.0))
    start = time.perf_counter()
    compare_outlines(drawings, height)
    assert time.perf_counter() - start < 1.0


def heavier(outline: Outline, px: float) -> Outline:
    """The same outline drawn with a line that reaches so much further out on all sides."""
    left, right = outline.left - px, outline.right + px
    rows = np.flatnonzero(np.isfinite(left))
    for row in range(rows[0] - round(px), rows[0]):
        left[row], right[row] = left[rows[0]], right[rows[0]]
    return replace(outline, left=left, right=right)


@pytest.mark.parametrize("view", [0, 4])
def test_what_a_heavier_line_adds_is_no_contradiction_where_it_is_known(view):
    found = cylinder(FIVE)
    wide = heavier(found[view], 7.0)
    assert compare_outlines(swapped(found, view, wide), HEIGHT).contradictions
    known = replace(wide, inked_out=7.0)
    assert compare_outlines(swapped(found, view, known), HEIGHT).contradictions == ()

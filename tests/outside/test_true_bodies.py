"""Solid people with known joints: true heights come back, planted drifts are found and no others.

The bodies are the open mesh of `tests.outside.bodies` (CC0), read from an installed package; their
heights are exact, so every check here has a truth that turncheck had no part in.
"""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest

import turncheck
from tests.outside.bodies import HUMAN_TARGETS, body_or_skip
from tests.outside.planting import (
    EXACT,
    blamed,
    off_model,
    only_move,
    only_whole,
    replaced,
    row,
)
from tests.outside.rendering import SheetTruth, write_sheet
from turncheck.checking import Checked
from turncheck.sheet.vocabulary import read_vocabulary

YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
HEIGHT_PX = 600.0
DRIFT_PX = 15.0  # 2.5 % of the height
PEOPLE = tuple(HUMAN_TARGETS)
SIZES = {"three_quarter": 0.7, "side": 1.3}


@cache
def part(name: str) -> tuple[str, ...]:
    """Return the landmarks with a height of a part, of those that the bodies have."""
    known = read_vocabulary("biped", Path()).landmarks
    there = body_or_skip("adult_male").joints
    return tuple(n for n in there if known[n].part == name and known[n].has_height)


@pytest.fixture(scope="module")
def sheets(tmp_path_factory):
    """Return a function: body and placing to its clean sheet, drawn once, and the truth of it."""
    folder = tmp_path_factory.mktemp("people")

    @cache
    def drawn(name: str, placing: str = "ground", extra: tuple = ()) -> tuple[Path, SheetTruth]:
        clean = folder / f"{name}-{placing}-{len(extra)}"
        if placing == "canvas":  # the same drawings, compared as they lie
            ground, truth = drawn(name, "ground", extra)
            return replaced(ground, clean, placing=placing), truth
        sizes = SIZES if placing == "fit" else {}
        truth = write_sheet(
            clean,
            body_or_skip(name),
            YAWS | dict(extra),
            height_px=HEIGHT_PX,
            placing=placing,
            view_scale=sizes,
        )
        return clean, truth

    return drawn


def assert_true(checked: Checked, truth: SheetTruth, name: str, within: float) -> None:
    """Assert that each height, in px of the reference, is the body's own."""
    body, measured = body_or_skip(name), checked.measured
    s = truth.views[measured.sheet.base].s
    for landmark in measured.landmarks:
        column = measured.columns(landmark)
        heights, _ = measured.table.means(column)
        assert heights == pytest.approx(s * body.joints[landmark][1], abs=within), landmark


# Without drift


@pytest.mark.parametrize("placing", ["ground", "canvas", "fit"])
@pytest.mark.parametrize("name", PEOPLE)
def test_true_heights_come_back_and_nothing_is_off_model(name, placing, sheets):
    clean, truth = sheets(name, placing)
    checked = turncheck.check(clean)
    assert_true(checked, truth, name, within=0.01)
    assert checked.measured.figure_height == pytest.approx(truth.figure_height, abs=1e-3)
    if placing == "fit":
        found = [ruler.scale for ruler in checked.measured.height_scales]
        assert found == pytest.approx([SIZES.get(view, 1.0) for view in YAWS], abs=1e-5)
    assert checked.verdict == "on_model"
    assert off_model(checked).empty
    assert checked.instructions == ()


@pytest.mark.parametrize("name", PEOPLE)
def test_the_crown_is_where_the_drawing_has_its_topmost_row(name, sheets):
    clean, _ = sheets(name, "fit")
    checked = turncheck.check(clean)
    for view in ("three_quarter", "side", "back"):
        ink = cv2.imread(str(clean / f"{view}.png"), cv2.IMREAD_UNCHANGED)[..., 3] > 127
        rows = np.flatnonzero(ink.any(axis=1))
        crown = row(checked, "height", view, "crown")
        assert crown["measured"] == pytest.approx(rows[-1] - rows[0] + 1, abs=1.5)


def test_five_views_with_one_from_behind_agree_as_well(sheets):
    clean, truth = sheets("child", extra=(("back_three_quarter", 135.0),))
    checked = turncheck.check(clean)
    assert_true(checked, truth, "child", within=0.01)
    assert off_model(checked).empty


def test_landmarks_placed_on_whole_pixels_are_still_on_model(sheets, tmp_path):
    # As clicks are: half a pixel each for the landmark and for the ground, 0.17 % of the height.
    clean, truth = sheets("adult_female")
    exact = turncheck.check(clean).placings
    rounding = {(one.view, one.landmark): one.y - round(one.y) for one in exact}
    checked = turncheck.check(replaced(clean, tmp_path / "whole", rounding))
    assert_true(checked, truth, "adult_female", within=1.0)
    assert off_model(checked).empty


# One part of one drawing

PLANTED = {
    "a knee in the side view": ("side", ("knee_r",)),
    "an arm in the three-quarter view": ("three_quarter", "arm_l"),
    "a leg in the back view": ("back", "leg_r"),
    "the eye line in the side view": ("side", ("eye_l", "eye_r")),
    "the chin in the reference": ("front", ("chin",)),
    "an arm in the reference": ("front", "arm_r"),
    "the eye line in the reference": ("front", ("eye_l", "eye_r")),
    "the crown in the reference": ("front", ("crown",)),
}


@pytest.mark.parametrize("placing", ["ground", "fit"])
@pytest.mark.parametrize("planted", PLANTED)
@pytest.mark.parametrize("name", PEOPLE)
def test_a_planted_drift_is_named_with_its_drawing_its_part_and_its_px(
    name, planted, placing, sheets, tmp_path
):
    view, what = PLANTED[planted]
    names = part(what) if isinstance(what, str) else what
    # Up and down in turn, so that both are tried without doubling the runs.
    px = DRIFT_PX if PEOPLE.index(name) % 2 else -DRIFT_PX
    clean, _ = sheets(name, placing)
    drift = dict.fromkeys([(view, landmark) for landmark in names], px)
    checked = turncheck.check(replaced(clean, tmp_path / "sheet", drift, placing_sd=EXACT))
    move = only_move(checked)
    assert (move.view, set(move.landmarks), move.settled) == (view, set(names), True)
    assert move.amount_px == pytest.approx(px, abs=0.5)
    assert ("too high" if px > 0 else "too low") in move.says
    if isinstance(what, str):
        # of a part that is not whole the points are listed
        assert ":" not in move.headline
    if placing == "ground":
        assert blamed(checked) == {view}


def test_a_drift_in_a_view_from_behind_is_named_there(sheets, tmp_path):
    clean, _ = sheets("child", extra=(("back_three_quarter", 135.0),))
    drift = {("back_three_quarter", "elbow_l"): DRIFT_PX}
    checked = turncheck.check(replaced(clean, tmp_path / "sheet", drift, placing_sd=EXACT))
    assert only_move(checked).landmarks == ("elbow_l",)
    assert blamed(checked) == {"back_three_quarter"}


def test_drifts_of_two_parts_in_two_drawings_are_two_instructions(sheets, tmp_path):
    clean, _ = sheets("adult_male")
    drift = {("side", "knee_r"): DRIFT_PX, ("back", "chin"): -DRIFT_PX}
    checked = turncheck.check(replaced(clean, tmp_path / "sheet", drift, placing_sd=EXACT))
    found = {(i.view, i.landmarks): i.amount_px for i in checked.instructions}
    expected = {("side", ("knee_r",)): DRIFT_PX, ("back", ("chin",)): -DRIFT_PX}
    assert found == pytest.approx(expected, abs=0.5)


# Whole drawings


@pytest.mark.parametrize("placing", ["ground", "canvas", "fit"])
@pytest.mark.parametrize("percent", [3.0, -3.0])
@pytest.mark.parametrize("view", ["front", "side"])
def test_a_drawing_of_another_size_is_named_and_nothing_in_it(view, percent, placing, tmp_path):
    size = 1 + percent / 100
    write_sheet(
        tmp_path / "clean", body_or_skip("adult_male"), YAWS, height_px=HEIGHT_PX,
        placing=placing, view_scale={view: size}, draw_pictures=False,
    )  # fmt: skip
    checked = turncheck.check(replaced(tmp_path / "clean", tmp_path / "s", placing_sd=EXACT))
    if placing == "fit":  # as it is meant: told and no fault
        larger, against = (view, size) if view != "front" else ("back", 1.0 / size)
        note = f"drawn {against:.2f} times as large as front: scale by {1.0 / against:.2f} when"
        assert row(checked, "size", larger, "scale")["note"].startswith(note)
        assert checked.instructions == () and off_model(checked).empty
        return
    whole = only_whole(checked)
    assert (whole.view, whole.settled) == (view, True)
    assert whole.amount_pct == pytest.approx(percent, abs=0.01)
    assert whole.amount_px == pytest.approx(percent / 100 * HEIGHT_PX, abs=0.5)
    assert f"scale it to {100 / size:.1f} %" in whole.says
    assert blamed(checked) == {view}


@pytest.mark.parametrize("px", [12.0, -12.0])
@pytest.mark.parametrize("view", ["front", "back"])
def test_on_one_canvas_a_drawing_that_stands_elsewhere_is_named(view, px, tmp_path):
    write_sheet(
        tmp_path / "clean", body_or_skip("child"), YAWS, height_px=HEIGHT_PX,
        placing="canvas", view_shift={view: (0.0, px)}, draw_pictures=False,
    )  # fmt: skip
    checked = turncheck.check(replaced(tmp_path / "clean", tmp_path / "s", placing_sd=EXACT))
    whole = only_whole(checked)
    assert (whole.view, whole.settled) == (view, True)
    assert whole.amount_px == pytest.approx(px, abs=0.5)
    assert f"move it {'down' if px > 0 else 'up'} 12 px" in whole.says
    assert blamed(checked) == {view}


@pytest.mark.parametrize("placing", ["ground", "fit"])
def test_where_drawings_stand_on_their_own_ground_a_shift_means_nothing(placing, tmp_path):
    shift = {"side": (7.0, 12.0), "back": (-5.0, -12.0)}
    write_sheet(
        tmp_path / "clean", body_or_skip("baby"), YAWS, height_px=HEIGHT_PX,
        placing=placing, view_shift=shift, draw_pictures=False,
    )  # fmt: skip
    checked = turncheck.check(replaced(tmp_path / "clean", tmp_path / "s", placing_sd=EXACT))
    assert off_model(checked).empty


@pytest.mark.parametrize("placing", ["ground", "fit"])
@pytest.mark.parametrize("px", [DRIFT_PX, -DRIFT_PX])
@pytest.mark.parametrize("view", ["front", "side"])
def test_a_ground_line_misplaced_is_said_once_for_the_whole_drawing(
    view, px, placing, sheets, tmp_path
):
    clean, _ = sheets("adult_female")
    drift = {(view, "ground"): px}
    checked = turncheck.check(
        replaced(clean, tmp_path / "sheet", drift, placing=placing, placing_sd=EXACT)
    )
    if placing == "fit":  # all heights line it up, whatever its ground line
        assert checked.instructions == () and off_model(checked).empty
        return
    whole = only_whole(checked)
    assert (whole.view, whole.settled) == (view, True)
    assert whole.amount_px == pytest.approx(-px, abs=0.5)
    assert "or place the ground again" in whole.says
    assert blamed(checked) == {view}


@pytest.mark.parametrize("view", ["front", "side"])
def test_a_drift_inside_a_drawing_of_another_size_is_told_apart_from_it(view, tmp_path):
    clean = tmp_path / "clean"
    write_sheet(
        clean, body_or_skip("adult_male"), YAWS, height_px=HEIGHT_PX,
        view_scale={view: 1.03}, draw_pictures=False,
    )  # fmt: skip
    drift = {(view, "knee_r"): DRIFT_PX}
    checked = turncheck.check(replaced(clean, tmp_path / "sheet", drift, placing_sd=EXACT))
    size, knee = checked.instructions
    assert (size.view, size.amount_pct) == (view, pytest.approx(3.0, abs=0.01))
    assert (knee.view, knee.landmarks) == (view, ("knee_r",))
    assert knee.amount_px == pytest.approx(DRIFT_PX, abs=0.5)


# Other references, fewer views


@pytest.mark.parametrize("view", ["front", "side"])
@pytest.mark.parametrize("placing", ["ground", "fit"])
@pytest.mark.parametrize("what", [("mouth",), "arm_l", ("eye_l", "eye_r")])
def test_held_against_the_consensus_the_same_drawing_is_named(
    what, placing, view, sheets, tmp_path
):
    names = part(what) if isinstance(what, str) else what
    clean, _ = sheets("child")
    drift = dict.fromkeys([(view, landmark) for landmark in names], DRIFT_PX)
    settings = {"reference": "consensus", "placing": placing, "placing_sd": EXACT}
    checked = turncheck.check(replaced(clean, tmp_path / "sheet", drift, **settings))
    move = only_move(checked)
    assert (move.view, set(move.landmarks), move.settled) == (view, set(names), True)
    assert move.amount_px == pytest.approx(DRIFT_PX, abs=0.5)
    assert blamed(checked) == {view}
    # Against the consensus every drawing has a row, and the good ones are on model.
    assert set(off_model(checked)["view"]) == {view}


@pytest.mark.parametrize("view", ["front", "three_quarter", "side"])
def test_of_three_views_the_two_that_agree_outvote_the_third(view, sheets, tmp_path):
    clean, _ = sheets("adult_female")
    drift = {(view, "knee_r"): DRIFT_PX}
    folder = replaced(clean, tmp_path / "sheet", drift, leave_out=["back"], placing_sd=EXACT)
    checked = turncheck.check(folder)
    move = only_move(checked)
    assert (move.view, move.landmarks, move.settled) == (view, ("knee_r",), True)
    assert blamed(checked) == {view}


@pytest.mark.parametrize("what", [("mouth",), "arm_l"])
@pytest.mark.parametrize("view", ["three_quarter", "side"])
def test_of_two_views_neither_is_blamed(view, what, sheets, tmp_path):
    names = part(what) if isinstance(what, str) else what
    clean, _ = sheets("adult_male")
    others = [v for v in ("three_quarter", "side") if v != view]
    drift = dict.fromkeys([(view, landmark) for landmark in names], DRIFT_PX)
    folder = replaced(
        clean, tmp_path / "sheet", drift, leave_out=["back", *others], placing_sd=EXACT
    )
    checked = turncheck.check(folder)
    move = only_move(checked)
    assert not move.settled
    assert set(move.landmarks) == set(names)
    assert set(move.views) == {"front", view}
    assert move.move_px[view] == (0.0, pytest.approx(DRIFT_PX, abs=0.5))
    assert move.move_px["front"] == (0.0, pytest.approx(-DRIFT_PX, abs=0.5))
    assert "decide which is right" in move.says
    assert set(checked.findings["odd_view"]) == {""}


@pytest.mark.parametrize("planted", ["size", "ground"])
def test_of_two_views_neither_is_blamed_for_its_size_or_ground(planted, tmp_path):
    clean, views = tmp_path / "clean", {"front": 0.0, "side": 90.0}
    size = {"side": 1.03} if planted == "size" else {}
    write_sheet(clean, body_or_skip("child"), views, view_scale=size, draw_pictures=False)
    drift = {("side", "ground"): -20.0} if planted == "ground" else {}
    checked = turncheck.check(replaced(clean, tmp_path / "sheet", drift, placing_sd=EXACT))
    whole = only_whole(checked)
    assert not whole.settled
    assert set(whole.views) == set(views)
    assert "decide which is right" in whole.says
    assert set(checked.findings["odd_view"]) == {""}


# With the noise of a hand


@pytest.mark.parametrize("noise", [0.10, 0.15])
@pytest.mark.parametrize(
    ("view", "what"), [("side", ("knee_r",)), ("front", ("chin",)), ("front", "arm_l")]
)
def test_with_noisy_placings_the_planted_is_found_and_nobody_else(
    view, what, noise, sheets, tmp_path
):
    names = part(what) if isinstance(what, str) else what
    clean, _ = sheets("adult_male")
    drift = dict.fromkeys([(view, landmark) for landmark in names], DRIFT_PX)
    hand = {"noise_px": noise / 100 * HEIGHT_PX, "placing_sd": noise}
    seeds, seen = 16, Counter()
    for seed in range(seeds):
        checked = turncheck.check(replaced(clean, tmp_path / str(seed), drift, seed=seed, **hand))
        moved = {(i.view, name) for i in checked.instructions for name in i.landmarks}
        seen["found"] += {(view, name) for name in names} <= moved
        seen["other blamed"] += bool(blamed(checked) - {view})
    assert seen["found"] == seeds
    assert seen["other blamed"] == 0

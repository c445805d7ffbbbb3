"""A solid dog with a known skeleton: the same claims as for people, in the quadruped vocabulary.

The dog is the open skin and skeleton of `tests.outside.dog` (Apache-2.0), read from an installed
package. Its side view is the one that artists begin with, so it is the reference here as well.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

import turncheck
from tests.outside.bodies import body_or_skip
from tests.outside.planting import EXACT, blamed, off_model, only_move, only_whole, replaced
from tests.outside.rendering import SheetTruth, write_sheet
from turncheck.sheet.vocabulary import read_vocabulary

YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
HEIGHT_PX = 600.0
DRIFT_PX = 15.0
REFERENCES = ("front", "side")


@cache
def part(name: str) -> tuple[str, ...]:
    """Return the landmarks with a height of a part, of those that the dog has."""
    known = read_vocabulary("quadruped", Path()).landmarks
    there = body_or_skip("dog").joints
    return tuple(n for n in there if known[n].part == name and known[n].has_height)


@pytest.fixture(scope="module", params=REFERENCES)
def reference(request: pytest.FixtureRequest) -> str:
    return request.param


@pytest.fixture(scope="module")
def drawn_once(tmp_path_factory) -> tuple[Path, SheetTruth]:
    folder = tmp_path_factory.mktemp("dog") / "drawn"
    return folder, write_sheet(folder, body_or_skip("dog"), YAWS, height_px=HEIGHT_PX)


@pytest.fixture(scope="module")
def drawn(reference, drawn_once) -> tuple[Path, SheetTruth]:
    folder, truth = drawn_once
    return replaced(folder, folder.parent / reference, reference=reference), truth


@pytest.mark.parametrize("placing", ["ground", "canvas", "fit"])
def test_the_dogs_true_heights_come_back_and_nothing_is_off_model(drawn, placing, tmp_path):
    clean, truth = drawn
    checked = turncheck.check(replaced(clean, tmp_path / "sheet", placing=placing))
    dog, measured = body_or_skip("dog"), checked.measured
    s = truth.views[measured.sheet.base].s
    for landmark in measured.landmarks:
        heights, _ = measured.table.means(measured.columns(landmark))
        assert heights == pytest.approx(s * dog.joints[landmark][1], abs=0.01), landmark
    assert checked.verdict == "on_model"
    assert off_model(checked).empty
    assert checked.instructions == ()


def test_dogs_drawn_at_different_sizes_are_fitted_on_one_ruler(reference, tmp_path):
    sizes = {"front": 1.0, "three_quarter": 0.7, "side": 1.3, "back": 1.0}
    dog = body_or_skip("dog")
    truth = write_sheet(
        tmp_path, dog, YAWS, height_px=HEIGHT_PX, placing="fit", reference=reference,
        view_scale=sizes, draw_pictures=False,
    )  # fmt: skip
    checked = turncheck.check(tmp_path)
    s = truth.views[reference].s
    for landmark in ("withers", "croup", "hind_hock_l", "fore_knee_r", "crown", "tail_tip"):
        measured = checked.measured
        heights, _ = measured.table.means(measured.columns(landmark))
        assert heights == pytest.approx(s * dog.joints[landmark][1], abs=0.01)
    assert off_model(checked).empty


PLANTED = {
    "the withers in the side view": ("side", ("withers",)),
    "the croup in the front view": ("front", ("croup",)),
    "a foreleg in the side view": ("side", "fore_r"),
    "a hind leg in the back view": ("back", "hind_l"),
    "a hock in the front view": ("front", ("hind_hock_r",)),
    "the muzzle's chin in the three-quarter view": ("three_quarter", ("chin",)),
    "the eye line in the side view": ("side", ("eye_l", "eye_r")),
    "the root of the tail in the back view": ("back", "tail"),
}


@pytest.mark.parametrize("placing", ["ground", "fit"])
@pytest.mark.parametrize("px", [DRIFT_PX, -DRIFT_PX])
@pytest.mark.parametrize("planted", PLANTED)
def test_a_planted_drift_is_named_with_its_drawing_its_part_and_its_px(
    planted, px, placing, drawn, tmp_path
):
    view, what = PLANTED[planted]
    names = part(what) if isinstance(what, str) else what
    drift = dict.fromkeys([(view, landmark) for landmark in names], px)
    folder = replaced(drawn[0], tmp_path / "sheet", drift, placing=placing, placing_sd=EXACT)
    checked = turncheck.check(folder)
    move = only_move(checked)
    assert (move.view, set(move.landmarks), move.settled) == (view, set(names), True)
    assert move.amount_px == pytest.approx(px, abs=0.5)
    assert blamed(checked) == {view}


@pytest.mark.parametrize("view", ["front", "side"])
@pytest.mark.parametrize("percent", [3.0, -3.0])
def test_a_dog_of_another_size_is_named_and_nothing_in_it(view, percent, reference, tmp_path):
    write_sheet(
        tmp_path / "clean", body_or_skip("dog"), YAWS, height_px=HEIGHT_PX, reference=reference,
        view_scale={view: 1 + percent / 100}, draw_pictures=False,
    )  # fmt: skip
    checked = turncheck.check(replaced(tmp_path / "clean", tmp_path / "s", placing_sd=EXACT))
    whole = only_whole(checked)
    assert (whole.view, whole.settled) == (view, True)
    assert whole.amount_pct == pytest.approx(percent, abs=0.01)
    assert blamed(checked) == {view}


@pytest.mark.parametrize("view", ["front", "side"])
def test_a_ground_line_misplaced_is_said_once_for_the_whole_drawing(view, drawn, tmp_path):
    drift = {(view, "ground"): DRIFT_PX}
    checked = turncheck.check(replaced(drawn[0], tmp_path / "s", drift, placing_sd=EXACT))
    whole = only_whole(checked)
    assert (whole.view, whole.settled) == (view, True)
    assert whole.amount_px == pytest.approx(-DRIFT_PX, abs=0.5)
    assert blamed(checked) == {view}


def test_a_kneeling_foreleg_and_a_low_head_are_two_instructions(drawn, tmp_path):
    drift = dict.fromkeys([("side", name) for name in part("fore_l")], -DRIFT_PX)
    drift |= {("back", "chin"): DRIFT_PX}
    checked = turncheck.check(replaced(drawn[0], tmp_path / "s", drift, placing_sd=EXACT))
    found = {(i.view, frozenset(i.landmarks)): i.amount_px for i in checked.instructions}
    leg = frozenset(part("fore_l"))
    expected = {("side", leg): -DRIFT_PX, ("back", frozenset({"chin"})): DRIFT_PX}
    assert found == pytest.approx(expected, abs=0.5)

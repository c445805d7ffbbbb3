"""Figures with the proportions of measured people: heights come back, planted drifts are found.

Sources, each the height of a landmark above the ground over the stature:

- Drillis and Contini 1966, as drawn in Winter, Biomechanics and Motor Control of Human Movement,
  2009, fig. 4.1. The fractions were seen in stored public text, not in the book itself.
- ANSUR II: Gordon et al. 2014, NATICK/TR-15/007; means over people of their own ratios, 4,082 men
  and 1,986 women. Computed by us from the published measurements.
"""

from __future__ import annotations

from itertools import cycle
from pathlib import Path

import pytest

import turncheck
from tests.outside.figures import figure
from tests.outside.planting import EXACT, blamed, off_model, only_move, replaced, row
from tests.outside.rendering import write_sheet

DRILLIS_CONTINI = {
    "eye": 0.936, "chin": 0.870, "shoulder": 0.818, "elbow": 0.630, "hip": 0.530,
    "wrist": 0.485, "fingertip": 0.377, "knee": 0.285, "ankle": 0.039,
}  # fmt: skip
HEAD = 0.130  # chin to crown, of the same figure
# ANSUR II names: acromial, trochanterion, mid-patella and lateral malleolus height.
ANSUR_MEN = {
    "eye": 0.9352, "shoulder": 0.8203, "elbow": 0.6294, "hip": 0.5128,
    "wrist": 0.4825, "knee": 0.2780, "ankle": 0.0415,
}  # fmt: skip
ANSUR_WOMEN = {
    "eye": 0.9331, "shoulder": 0.8198, "elbow": 0.6287, "hip": 0.5190,
    "wrist": 0.4877, "knee": 0.2756, "ankle": 0.0385,
}  # fmt: skip
# Standard deviation between people of the acromial ratio, of the same data.
ACROMIAL_SD = {"men": 0.0096, "women": 0.0087}
PEOPLE = {"drillis_contini": DRILLIS_CONTINI, "men": ANSUR_MEN, "women": ANSUR_WOMEN}

YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
SIZES = {"front": 1.0, "three_quarter": 0.7, "side": 1.3, "back": 0.9}
DRIFT_PX = 20.0


def heights_of(checked: turncheck.checking.Checked, view: str) -> dict[str, float]:
    """Return the heights that the findings report for a view, over the figure's own height."""
    summary = checked.summary()
    tall = summary["figure_height_px"] * summary["views"][view]["scale"]
    table = checked.findings
    kinds = table["check"].isin(["height", "pivot", "eye_line"]) & (table["unit"] == "pct_height")
    rows = table[kinds & (table["view"] == view) & ~table["subject"].str.contains("level")]
    return dict(zip(rows["subject"], rows["measured"] / tall, strict=True))


def sided(heights: dict[str, float]) -> dict[str, float]:
    """Return the same heights under the names that the findings use."""
    found = {"crown": 1.0}
    for name, height in heights.items():
        if name == "eye":
            found["eye_line"] = height
        elif name == "chin":
            found[name] = height
        else:
            found |= {f"{name}_l": height, f"{name}_r": height}
    return found


@pytest.mark.parametrize("people", PEOPLE)
@pytest.mark.parametrize("height_px", [420.0, 1000.0, 1777.7])
def test_on_one_ground_the_published_heights_come_back(people, height_px, tmp_path):
    write_sheet(
        tmp_path, figure(PEOPLE[people]), YAWS, height_px=height_px, draw_pictures=False
    )  # fmt: skip
    checked = turncheck.check(tmp_path)
    for view in ("three_quarter", "side", "back"):
        assert heights_of(checked, view) == pytest.approx(sided(PEOPLE[people]), abs=1e-6)
    assert off_model(checked).empty


@pytest.mark.parametrize("people", PEOPLE)
def test_drawn_at_different_sizes_the_published_heights_come_back_by_fit(people, tmp_path):
    write_sheet(
        tmp_path, figure(PEOPLE[people]), YAWS,
        placing="fit", view_scale=SIZES, view_shift={"side": (5.0, 9.0)}, draw_pictures=False,
    )  # fmt: skip
    checked = turncheck.check(tmp_path)
    views = checked.summary()["views"]
    assert {name: view["scale"] for name, view in views.items()} == pytest.approx(SIZES, abs=2e-6)
    for view in ("three_quarter", "side", "back"):
        assert heights_of(checked, view) == pytest.approx(sided(PEOPLE[people]), abs=1e-6)
    assert off_model(checked).empty


@pytest.mark.parametrize("sds", [-2, 2])
@pytest.mark.parametrize("people", ACROMIAL_SD)
def test_people_with_high_or_low_shoulders_are_measured_as_they_are(people, sds, tmp_path):
    heights = dict(PEOPLE[people])
    heights["shoulder"] += sds * ACROMIAL_SD[people]
    write_sheet(tmp_path, figure(heights), YAWS, draw_pictures=False)
    checked = turncheck.check(tmp_path)
    assert heights_of(checked, "back")["shoulder_r"] == pytest.approx(heights["shoulder"], abs=1e-6)
    assert off_model(checked).empty


def test_a_figure_with_shoulders_of_another_person_is_off_model_there_alone(tmp_path):
    # Two standard deviations between men are 1.9 % of the stature.
    clean, high = tmp_path / "clean", 2 * ACROMIAL_SD["men"] * 1000
    write_sheet(clean, figure(ANSUR_MEN), YAWS, draw_pictures=False)
    drift = {("back", "shoulder_l"): high, ("back", "shoulder_r"): high}
    checked = turncheck.check(replaced(clean, tmp_path / "high", drift))
    assert {name for i in checked.instructions for name in i.landmarks} == {
        "shoulder_l",
        "shoulder_r",
    }
    assert blamed(checked) == {"back"}


def test_the_head_count_is_that_of_the_published_head_length(tmp_path):
    write_sheet(tmp_path, figure(DRILLIS_CONTINI), YAWS, draw_pictures=False)
    checked = turncheck.check(tmp_path)
    for view in ("three_quarter", "side", "back"):
        heads = row(checked, "proportion", view, "head count")
        assert (heads["expected"], heads["measured"]) == pytest.approx((1 / HEAD, 1 / HEAD))


def test_the_ratios_of_limbs_are_those_of_the_published_spans(tmp_path):
    # Upper arm .188, forearm .145, thigh .245, shin .246 of the stature: differences of the above.
    write_sheet(tmp_path, figure(DRILLIS_CONTINI), YAWS, draw_pictures=False)
    checked = turncheck.check(tmp_path)
    for side in ("left", "right"):
        arm = row(checked, "proportion", "side", f"upper arm : forearm {side}")
        leg = row(checked, "proportion", "side", f"thigh : shin {side}")
        assert (arm["measured"], leg["measured"]) == pytest.approx((0.188 / 0.145, 0.245 / 0.246))


def test_without_a_chin_the_head_count_says_that_it_is_not_measured(tmp_path):
    write_sheet(tmp_path, figure(ANSUR_MEN), YAWS, draw_pictures=False)
    heads = row(turncheck.check(tmp_path), "proportion", "", "head count")
    assert heads["verdict"] == "not_measured"
    assert "chin" in heads["note"]


@pytest.fixture(scope="module")
def average(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("stature") / "ground"
    write_sheet(folder, figure(DRILLIS_CONTINI), YAWS, draw_pictures=False)
    return folder


@pytest.fixture(scope="module")
def average_by_fit(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("stature") / "fit"
    write_sheet(
        folder, figure(DRILLIS_CONTINI), YAWS, placing="fit", view_scale=SIZES, draw_pictures=False
    )
    return folder


SUBJECTS = [name for name in sided(DRILLIS_CONTINI) if name != "eye_line"]
EACH_IN_SOME_VIEW = list(zip(SUBJECTS, cycle(YAWS), strict=False))


@pytest.mark.parametrize("px", [DRIFT_PX, -DRIFT_PX])
@pytest.mark.parametrize(("landmark", "view"), EACH_IN_SOME_VIEW)
def test_a_drift_of_any_landmark_is_found_in_its_view_and_nothing_else(
    landmark, view, px, average, tmp_path
):
    folder = replaced(average, tmp_path / "s", {(view, landmark): px}, placing_sd=EXACT)
    checked = turncheck.check(folder)
    move = only_move(checked)
    assert (move.view, move.landmarks, move.settled) == (view, (landmark,), True)
    assert move.amount_px == pytest.approx(px, abs=0.5)
    assert len(checked.instructions) == 1
    assert blamed(checked) == {view}
    check = "height" if landmark in ("crown", "chin") or "fingertip" in landmark else "pivot"
    if view != "front":
        assert row(checked, check, view, landmark)["drift_px"] == pytest.approx(px, abs=0.5)


@pytest.mark.parametrize("px", [DRIFT_PX, -DRIFT_PX])
@pytest.mark.parametrize(("landmark", "view"), EACH_IN_SOME_VIEW[::3])
def test_a_drift_is_found_also_where_every_drawing_has_its_own_size(
    landmark, view, px, average_by_fit, tmp_path
):
    folder = replaced(average_by_fit, tmp_path / "s", {(view, landmark): px}, placing_sd=EXACT)
    checked = turncheck.check(folder)
    move = only_move(checked)
    assert (move.view, move.landmarks, move.settled) == (view, (landmark,), True)
    assert move.amount_px == pytest.approx(px, abs=0.5)


@pytest.mark.parametrize("px", [DRIFT_PX, -DRIFT_PX])
@pytest.mark.parametrize("view", YAWS)
def test_a_drift_of_the_eye_line_is_found_in_its_view_and_nothing_else(view, px, average, tmp_path):
    drift = {(view, "eye_l"): px, (view, "eye_r"): px}
    checked = turncheck.check(replaced(average, tmp_path / "s", drift, placing_sd=EXACT))
    (eyes,) = checked.instructions
    assert (eyes.view, set(eyes.landmarks), eyes.settled) == (view, {"eye_l", "eye_r"}, True)
    assert eyes.amount_px == pytest.approx(px, abs=0.5)
    assert blamed(checked) == {view}

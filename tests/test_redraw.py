"""What to redraw: one instruction for one cause, and nobody else blamed."""

import numpy as np
import pytest

from tests.simulations.figures import HEIGHTS, placings, sheet, x_of
from turncheck.checks import run_checks
from turncheck.findings import waive
from turncheck.measuring import measure
from turncheck.redraw import Cause, what_to_redraw
from turncheck.sheet import Waiver

ARM = ("shoulder_l", "elbow_l", "wrist_l", "fingertip_l")


def instructions(drift=None, views=4, change=lambda table: table, waivers=(), **of):
    simulated = sheet(views, **({"placing_sd": 0.05} | of))
    table = change(placings(simulated, np.random.default_rng(5), drift or {}, 0.0))
    measured = measure(simulated, table)
    return what_to_redraw(measured, waive(run_checks(measured), waivers))


def enlarge(view, factor):
    def change(table):
        drawn = table["view"] == view
        table.loc[drawn, "y"] = 1400.0 - factor * (1400.0 - table.loc[drawn, "y"])
        table.loc[drawn, "x"] = 500.0 + factor * (table.loc[drawn, "x"] - 500.0)
        return table

    return change


def test_a_clean_sheet_needs_no_redrawing():
    assert instructions() == []


@pytest.mark.parametrize("view", ["front", "three_quarter", "side", "back"])
@pytest.mark.parametrize("placing", ["ground", "canvas", "fit"])
def test_an_arm_that_hangs_low_is_one_instruction_that_names_its_drawing(view, placing):
    found = instructions({(view, name): -1.5 for name in ARM}, placing=placing)
    assert [(i.view, i.cause) for i in found] == [(view, Cause.PART)]
    assert found[0].says == "The whole left arm is 15 px (1.5 %) too low; raise it 15 px."
    assert found[0].landmarks == ARM


def test_part_of_an_arm_is_named_by_its_points():
    found = instructions({("side", "elbow_l"): 2.0, ("side", "wrist_l"): 2.0})
    assert len(found) == 1
    assert found[0].says.startswith("The left arm: left elbow and left wrist are 20 px")


def test_one_arm_up_and_one_leg_down_are_two_instructions_parts_first():
    drift = {("side", name): 1.2 for name in ARM} | {("side", "knee_l"): -3.0}
    found = instructions(drift)
    assert [i.cause for i in found] == [Cause.PART, Cause.LANDMARK]
    assert found[1].says == "The left knee is 30 px (3.0 %) too low; raise it 30 px."


def test_a_drawing_that_is_too_large_is_the_only_cause():
    found = instructions(change=enlarge("back", 1.04))
    assert [(i.view, i.cause) for i in found] == [("back", Cause.WHOLE)]
    assert "4.0 % larger than the other drawings; scale it to 96.2 %" in found[0].says


def test_a_drawing_turned_to_another_angle_is_said_with_both_angles():
    def change(table):
        drawn = table["view"] == "three_quarter"
        table.loc[drawn, "x"] = [x_of(name, 36.0) for name in table.loc[drawn, "landmark"]]
        return table

    (found,) = instructions(change=change)
    assert (found.view, found.cause) == ("three_quarter", Cause.WHOLE)
    assert "where 45° was asked for" in found.says


def test_a_large_drawing_with_a_low_chin_is_scaled_first_then_the_chin():
    found = instructions({("back", "chin"): -2.0}, change=enlarge("back", 1.04))
    assert [(i.view, i.cause) for i in found] == [("back", Cause.WHOLE), ("back", Cause.LANDMARK)]
    assert found[1].amount_pct == pytest.approx(-2.0, abs=0.01)
    assert found[1].amount_px == pytest.approx(-20.8, abs=0.1)  # in px of the large drawing


def test_a_front_that_is_too_large_is_named_though_it_is_the_reference():
    found = instructions(change=enlarge("front", 1.03))
    assert [(i.view, i.cause) for i in found] == [("front", Cause.WHOLE)]
    assert "3.0 % larger" in found[0].says


def test_two_drawings_that_disagree_get_an_instruction_that_blames_nobody():
    found = instructions({("three_quarter", "knee_l"): 2.0}, views=2)
    assert [i.settled for i in found] == [False]
    assert "no majority says which drawing is wrong" in found[0].says


def test_a_knee_that_is_off_is_not_said_again_as_a_ratio_or_a_tilt():
    found = instructions({("back", "knee_r"): 2.5})
    assert [i.landmarks for i in found] == [("knee_r",)]


def test_a_waived_finding_asks_for_nothing():
    waiver = Waiver("height", "side", "waist", "meant", "art lead")
    assert instructions({("side", "waist"): 3.0}, waivers=(waiver,)) == []
    assert len(instructions({("side", "waist"): 3.0})) == 1


def chin_to_the_right(table):
    table.loc[(table["view"] == "back") & (table["landmark"] == "chin"), "x"] += 20.0
    return table


def test_a_chin_too_far_to_the_right_is_said_once_though_the_midline_shows_it_too():
    (found,) = instructions(change=chin_to_the_right)
    assert found.sideways
    assert found.says == (
        "The chin is 20 px (2.0 %) too far to the picture's right; move it 20 px left."
    )


def test_without_a_side_drawing_a_point_beside_the_midline_is_still_moved_back():
    def change(table):
        flat = table["view"].isin(["front", "back"]) | (table["landmark"] == "ground")
        return chin_to_the_right(table)[flat]

    (found,) = instructions(change=change)
    assert found.says == (
        "Chin lies 20 px (2.0 %) to the picture's right of the midline; move it 20 px left."
    )


def test_every_off_model_row_is_answered_by_an_instruction_or_explained():
    drift = {("side", name): -1.5 for name in ARM} | {("back", "knee_r"): 2.0}
    simulated = sheet(4, placing_sd=0.05)
    measured = measure(simulated, placings(simulated, np.random.default_rng(5), drift, 0.0))
    findings = run_checks(measured)
    found = what_to_redraw(measured, findings)
    named = {(i.view, name) for i in found for name in i.landmarks}
    for _, row in findings[findings["verdict"] == "off_model"].iterrows():
        assert any((row["odd_view"] or row["view"], n) in named for n in row["landmarks"].split())


@pytest.mark.parametrize("landmark", [n for n in HEIGHTS if n not in ("ground", "crown")])
@pytest.mark.parametrize("amount", [-2.2, 2.2])
def test_any_single_landmark_is_named_alone(landmark, amount):
    found = instructions({("side", landmark): amount})
    assert [(i.view, i.landmarks) for i in found] == [("side", (landmark,))]
    assert found[0].amount_pct == pytest.approx(amount, abs=0.02)

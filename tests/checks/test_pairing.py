from dataclasses import replace

import numpy as np
import pytest

from tests.simulations.figures import YAWS, x_of
from turncheck.checks.check import Tolerances
from turncheck.checks.pairing import find_pairing_drift


def _shift(view, landmark, px):
    def change(table):
        table.loc[(table["view"] == view) & (table["landmark"] == landmark), "x"] += px
        return table

    return change


def test_a_symmetric_figure_is_paired_in_front_and_back(rows):
    found = rows("pairing")
    assert set(found["verdict"]) == {"on_model"}
    assert set(found.index.get_level_values("view")) == {"front", "back"}
    assert ("front", "shoulder_l/shoulder_r") in found.index
    assert ("back", "nose_tip") in found.index


def test_a_shoulder_drawn_too_far_out_moves_the_middle_of_its_pair_by_half(rows):
    found = rows("pairing", change=_shift("front", "shoulder_l", 30.0))
    off = found[found["verdict"] == "off_model"]
    assert list(off.index) == [("front", "shoulder_l/shoulder_r")]
    assert off["drift_px"].iloc[0] == pytest.approx(15.0, abs=0.01)


def test_a_chin_off_the_midline_is_named_and_the_midline_stays(rows):
    found = rows("pairing", change=_shift("back", "chin", -14.0))
    off = found[found["verdict"] == "off_model"]
    assert list(off.index) == [("back", "chin")]
    assert off["drift_px"].iloc[0] == pytest.approx(-14.0, abs=0.01)


def test_a_body_that_is_not_symmetric_is_not_measured_with_the_reason(figure):
    measured = figure()
    measured = replace(measured, sheet=replace(measured.sheet, symmetric=False))
    found = list(find_pairing_drift(measured, Tolerances(1.0, {})))
    assert [row.verdict for row in found] == ["not_measured"]
    assert "not symmetric" in str(found[0].note)


def test_1_percent_is_let_pass_and_no_more(rows):
    def verdict(px):
        # at the axis, so that the drawing's own turn, never known exactly, moves it nowhere
        found = rows("pairing", change=_shift("back", "spine", px), placing_sd=0.001)
        return found.loc[("back", "spine"), "verdict"]

    assert verdict(9.5) == "on_model"
    assert verdict(10.5) == "off_model"


def _redrawn(yaw):
    """Draw the back at another yaw."""

    def change(table):
        back = table["view"] == "back"
        table.loc[back, "x"] = [x_of(name, yaw) for name in table.loc[back, "landmark"]]
        return table

    return change


@pytest.mark.parametrize("yaw", [172.0, 176.0, 185.0])
def test_a_back_drawn_a_little_aside_is_no_asymmetry(rows, yaw):
    found = rows("pairing", change=_redrawn(yaw))
    assert set(found["verdict"]) == {"on_model"}
    assert found["drift_px"].abs().max() < 1.0


def test_a_middle_counts_once_in_the_midline_that_it_is_held_against(rows):
    """Against the weighted mean of all, itself among them, it has its variance less the mean's."""
    found = rows("pairing", change=lambda t: t[t["view"].isin(["front", "back"])]).loc["front"]
    middles = found[~found.index.str.endswith("level")]
    variance = np.where(middles.index.str.contains("/"), 0.05**2 / 2.0, 0.05**2)
    expected = np.sqrt(variance - 1.0 / np.sum(1.0 / variance))
    assert middles["uncertainty_pct"].to_numpy() == pytest.approx(expected)


def _raised_arm(table, views=("front", "three_quarter", "side", "back")):
    """The left arm raised and spread: up and aside alike in every drawing of these."""
    for landmark, out in (("elbow_l", 3.0), ("wrist_l", 5.0)):
        for view in views:
            row = (table["view"] == view) & (table["landmark"] == landmark)
            table.loc[row, "x"] += out * 10.0 * np.cos(np.radians(YAWS[view]))
            table.loc[row, "y"] -= 80.0
    return table


def test_an_arm_that_all_drawings_pose_is_not_compared_and_that_is_said_once(rows):
    found = rows("pairing", change=_raised_arm)
    said = "the arms are posed: pairs of the arms are not compared; "
    said += "set symmetric = false on them if the body is meant so"
    assert found.loc[("", "arms"), "note"] == said
    assert set(found["verdict"]) == {"on_model", "not_measured"}
    assert not [name for _, name in found.index if "elbow" in name or "shoulder" in name]
    assert set(rows("pivot", change=_raised_arm).loc["", "note"]) == {said}


def test_an_arm_off_in_one_drawing_is_no_pose(rows):
    found = rows("pairing", change=lambda table: _raised_arm(table, ["front"]))
    off = found[found["verdict"] == "off_model"]
    assert ("front", "elbow_l/elbow_r") in off.index
    assert ("", "arms") not in found.index

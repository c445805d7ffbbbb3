from dataclasses import replace

import pytest

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

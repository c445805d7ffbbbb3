"""`eye_line`: the height of the eyes across views, in the head, and level within a view."""

import pytest


def test_a_lower_eye_line_in_the_side_drawing_is_named(rows):
    found = rows("eye_line", drift={("side", "eye_l"): -1.2})
    assert found.loc[("side", "eye_line"), "verdict"] == "off_model"
    assert found.loc[("side", "eye_line"), "drift_px"] == pytest.approx(-12.0)
    assert found.loc[("back", "eye_line"), "verdict"] == "on_model"
    assert found.loc[("side", "eye_line in head"), "drift_pct"] == pytest.approx(-1.2 / 7.0 * 100)


def test_without_eyes_the_eye_line_is_not_measured(rows):
    found = rows("eye_line", change=lambda t: t[t["landmark"] != "eye_l"])
    assert list(found["verdict"]) == ["not_measured"]
    assert found["note"].iloc[0] == "no eye is placed"


def test_half_a_percent_is_let_pass_and_no_more(rows):
    def verdict(percent):
        found = rows("eye_line", drift={("side", "eye_l"): percent}, placing_sd=0.001)
        return found.loc[("side", "eye_line"), "verdict"]

    assert verdict(-0.45) == "on_model"
    assert verdict(-0.55) == "off_model"

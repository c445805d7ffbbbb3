"""`height`: heights across views, and whom `compare_heights` blames."""

import numpy as np
import pytest


@pytest.mark.parametrize("placing", ["ground", "canvas", "fit"])
@pytest.mark.parametrize("percent", [-2.0, 1.6])
def test_a_waist_drawn_at_another_height_is_off_by_just_that(rows, placing, percent):
    found = rows("height", drift={("side", "waist"): percent}, placing=placing)
    off = found[found["verdict"] == "off_model"]
    assert list(off.index) == [("side", "waist")]
    row = off.iloc[0]
    assert row["drift_px"] == pytest.approx(percent * 10.0, abs=1e-6)
    assert row["drift_pct"] == pytest.approx(percent, abs=1e-6)
    assert row["measured"] - row["expected"] == pytest.approx(row["drift_px"], abs=1e-9)
    assert row["odd_view"] == "side"


def test_when_the_front_is_the_odd_one_out_the_others_rows_say_so(rows):
    found = rows("pivot", drift={("front", "knee_l"): 2.0})
    off = found[found["verdict"] == "off_model"]
    assert set(off.index) == {
        ("three_quarter", "knee_l"),
        ("side", "knee_l"),
        ("back", "knee_l"),
        ("front", "knee_l/knee_r level"),
    }
    assert set(off["odd_view"]) == {"front"}
    across = off[~off.index.get_level_values("subject").str.endswith("level")]
    assert across["odd_pct"].to_numpy() == pytest.approx(2.0, abs=1e-6)
    assert across["note"].str.contains("front is the odd one out").all()


def test_against_the_consensus_only_the_drifting_drawing_is_off(rows):
    found = rows("pivot", drift={("front", "neck"): 2.0}, reference="consensus")
    off = found[found["verdict"] == "off_model"]
    assert list(off.index) == [("front", "neck")]
    assert off["drift_pct"].iloc[0] == pytest.approx(2.0, abs=1e-6)


def test_two_drawings_that_disagree_blame_nobody(rows):
    found = rows("height", views=2, drift={("three_quarter", "chin"): 3.0})
    row = found.loc[("three_quarter", "chin")]
    assert row["verdict"] == "off_model"
    assert row["odd_view"] == ""
    assert "no majority" in row["note"]


def test_the_whole_drawings_share_is_taken_apart_from_its_own(rows):
    def enlarged(table):
        side = table["view"] == "side"
        table.loc[side, "y"] = 1400.0 - 1.03 * (1400.0 - table.loc[side, "y"])
        return table

    found = rows("height", drift={("side", "waist"): 2.0}, change=enlarged)
    waist, chin = found.loc[("side", "waist")], found.loc[("side", "chin")]
    assert chin["whole_pct"] == pytest.approx(0.03 * 86.5, abs=0.01)
    assert chin["own_pct"] == pytest.approx(0.0, abs=0.01)
    assert waist["own_pct"] == pytest.approx(2.0 * 1.03, abs=0.01)
    assert waist["whole_pct"] + waist["own_pct"] == pytest.approx(waist["drift_pct"], abs=1e-9)


def test_a_landmark_missing_in_one_drawing_is_not_measured_with_the_reason(rows):
    found = rows("height", change=lambda t: t[~((t["view"] == "side") & (t["landmark"] == "chin"))])
    row = found.loc[("side", "chin")]
    assert row["verdict"] == "not_measured"
    assert row["note"] == "chin is not placed on side"
    assert np.isnan(row["drift_pct"])


def test_a_landmark_missing_in_the_reference_is_not_measured_anywhere(rows):
    found = rows(
        "height", change=lambda t: t[~((t["view"] == "front") & (t["landmark"] == "chin"))]
    )
    assert set(found.xs("chin", level="subject")["verdict"]) == {"not_measured"}
    assert set(found.xs("chin", level="subject")["note"]) == {"chin is not placed on front"}


def test_the_ground_line_is_counted_in_the_uncertainty(rows):
    on_ground = rows("height", placing="ground").loc[("side", "chin")]
    on_canvas = rows("height", placing="canvas").loc[("side", "chin")]
    assert on_ground["uncertainty_pct"] == pytest.approx(0.05 * 2.0)  # two placings, two grounds
    assert on_canvas["uncertainty_pct"] == pytest.approx(0.05 * np.sqrt(2.0))


def test_a_hidden_landmark_is_less_certain(rows):
    def hide(table):
        table.loc[(table["view"] == "side") & (table["landmark"] == "chin"), "hidden"] = True
        return table

    seen = rows("height", placing="canvas").loc[("side", "chin"), "uncertainty_pct"]
    hidden = rows("height", placing="canvas", change=hide).loc[("side", "chin"), "uncertainty_pct"]
    assert hidden == pytest.approx(0.05 * np.sqrt(1.0 + 4.0))
    assert hidden > seen


def test_1_percent_is_let_pass_and_no_more(rows):
    def verdict(percent):
        found = rows("height", drift={("side", "waist"): percent}, placing_sd=0.001)
        return found.loc[("side", "waist"), "verdict"]

    assert verdict(0.95) == "on_model"
    assert verdict(1.05) == "off_model"

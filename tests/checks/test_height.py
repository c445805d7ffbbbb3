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


def test_a_front_that_is_the_odd_one_out_has_a_row_of_its_own_and_the_others_agree(rows):
    found = rows("pivot", drift={("front", "knee_l"): 2.0})
    off = found[found["verdict"] == "off_model"]
    assert set(off.index) == {("front", "knee_l"), ("front", "knee_l/knee_r level")}
    assert set(off["odd_view"]) == {"front"}
    assert off.loc[("front", "knee_l"), "odd_pct"] == pytest.approx(2.0, abs=1e-6)


def test_of_two_drawings_the_other_has_the_row(rows):
    found = rows("pivot", views=2, drift={("front", "neck"): 2.0})
    across = found.xs("neck", level="subject")
    assert list(across.index) == ["three_quarter"]
    assert across["drift_pct"].iloc[0] == pytest.approx(-2.0, abs=0.01)


def test_two_against_two_is_one_question_with_one_verdict_for_all_four(rows):
    drift = {(view, "chin"): 1.6 for view in ("front", "side")}
    found = rows("height", drift=drift).xs("chin", level="subject")
    assert set(found["verdict"]) == {"off_model"} and set(found["blamed"]) == {"set"}
    assert found["drift_pct"].abs().to_numpy() == pytest.approx(1.6, abs=0.01)
    assert (found["drift_pct"] > 0).to_dict() == {
        "front": True,
        "three_quarter": False,
        "side": True,
        "back": False,
    }


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
    assert waist["own_pct"] == pytest.approx(2.0, abs=0.01)
    assert waist["whole_pct"] + waist["own_pct"] == pytest.approx(waist["drift_pct"], abs=1e-9)


def test_a_landmark_missing_in_one_drawing_is_not_measured_with_the_reason(rows):
    found = rows("height", change=lambda t: t[~((t["view"] == "side") & (t["landmark"] == "chin"))])
    row = found.loc[("side", "chin")]
    assert row["verdict"] == "not_measured"
    assert row["note"] == "chin is not placed on side"
    assert np.isnan(row["drift_pct"])


def test_a_landmark_missing_in_the_reference_is_compared_among_the_others(rows):
    found = rows(
        "height",
        drift={("side", "chin"): 2.0},
        change=lambda t: t[~((t["view"] == "front") & (t["landmark"] == "chin"))],
    ).xs("chin", level="subject")
    assert found["verdict"].to_dict() == {
        "three_quarter": "on_model",
        "side": "off_model",
        "back": "on_model",
    }


def test_a_landmark_on_one_drawing_alone_is_not_measured_with_the_reason(rows):
    found = rows("height", change=lambda t: t[(t["view"] == "side") | (t["landmark"] != "chin")])
    chin = found.xs("chin", level="subject")
    assert set(chin["verdict"]) == {"not_measured"}
    assert chin.loc["side", "note"] == "chin is placed on side alone"
    assert chin.loc["back", "note"] == "chin is not placed on back"


def test_a_drawing_is_held_against_the_mean_of_the_others_and_its_ground_is_that_of_all(rows):
    on_canvas = rows("height", placing="canvas").loc[("side", "chin")]
    on_ground = rows("height", placing="ground").loc[("side", "chin")]
    least = 0.05 * np.sqrt(1.0 + 1.0 / 3.0)  # its own placing, and three others
    assert least < on_canvas["uncertainty_pct"] < 1.25 * least
    assert least < on_ground["uncertainty_pct"] < 1.35 * least


def test_a_hidden_landmark_is_less_certain(rows):
    def hide(table):
        table.loc[(table["view"] == "side") & (table["landmark"] == "chin"), "hidden"] = True
        return table

    hidden = rows("height", placing="canvas", change=hide).loc[("side", "chin"), "uncertainty_pct"]
    assert hidden == pytest.approx(0.05 * np.sqrt(4.0 + 1.0 / 3.0), rel=0.07)  # and their scales


def test_1_percent_is_let_pass_and_no_more(rows):
    def verdict(percent):
        found = rows("height", drift={("side", "waist"): percent}, placing_sd=0.001)
        return found.loc[("side", "waist"), "verdict"]

    assert verdict(0.95) == "on_model"
    assert verdict(1.05) == "off_model"

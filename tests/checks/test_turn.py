import numpy as np
import pandas as pd
import pytest

from tests.simulations.figures import YAWS, x_of


def turned(view, yaw):
    """Draw a view at another yaw than the sheet says."""

    def change(table):
        drawn = table["view"] == view
        table.loc[drawn, "x"] = [x_of(name, yaw) for name in table.loc[drawn, "landmark"]]
        return table

    return change


def shifted(view, landmark, px):
    def change(table):
        table.loc[(table["view"] == view) & (table["landmark"] == landmark), "x"] += px
        return table

    return change


def test_drawings_of_one_body_agree(rows):
    found = rows("turn")
    assert set(found["verdict"]) <= {"on_model", "not_measured"}
    assert found.loc[("three_quarter", "yaw"), "measured"] == pytest.approx(45.0, abs=0.1)
    assert found.loc[("three_quarter", "yaw"), "unit"] == "deg"
    assert found.loc[("front", "yaw"), "measured"] == pytest.approx(0.0, abs=0.1)


def test_a_three_quarter_drawn_at_36_degrees_is_named_with_its_angle(rows):
    found = rows("turn", change=turned("three_quarter", 36.0))
    off = found[found["verdict"] == "off_model"]
    assert list(off.index) == [("three_quarter", "yaw")]
    assert off["measured"].iloc[0] == pytest.approx(36.0, abs=0.2)
    assert off["drift_pct"].iloc[0] == pytest.approx(-9.0, abs=0.2)
    assert off["odd_view"].iloc[0] == "three_quarter"


def test_an_elbow_too_far_to_the_right_is_named_with_its_drift(rows):
    found = rows("turn", change=shifted("three_quarter", "elbow_l", 30.0))
    row = found.loc[("three_quarter", "elbow_l")]
    assert row["verdict"] == "off_model"
    assert row["odd_view"] == "three_quarter"
    assert row["drift_px"] == pytest.approx(30.0, abs=3.0)
    assert row["measured"] - row["expected"] == pytest.approx(row["drift_px"])
    assert list(found[found["verdict"] == "off_model"].index) == [("three_quarter", "elbow_l")]


def test_a_mirrored_drawing_is_recognised(rows):
    found = rows("turn", change=turned("three_quarter", -45.0))
    row = found.loc[("three_quarter", "yaw")]
    assert row["verdict"] == "off_model"
    assert "mirror image" in row["note"]


def test_exchanged_left_and_right_names_are_recognised(rows):
    def change(table):
        table = table[~table["landmark"].str.endswith("_r")]
        left = table[table["landmark"].str.endswith("_l")]
        yaw = left["view"].map(YAWS)
        right = left.assign(landmark=left["landmark"].str.replace("_l$", "_r", regex=True))
        right["x"] = [x_of(n, y) for n, y in zip(right["landmark"], yaw, strict=True)]
        table = pd.concat([table, right], ignore_index=True)
        drawn = table["view"] == "three_quarter"
        swapped = table.loc[drawn, "landmark"].str.replace(
            "_[lr]$", lambda side: {"_l": "_r", "_r": "_l"}[side[0]], regex=True
        )
        table.loc[drawn, "landmark"] = swapped
        return table

    found = rows("turn", change=change)
    assert "left and right names" in found.loc[("three_quarter", "yaw"), "note"]


def test_front_and_back_alone_give_no_depth_and_say_so(rows):
    found = rows("turn", change=lambda t: t[t["view"].isin(["front", "back"])])
    assert list(found.index) == [
        ("front", "yaw"),
        ("three_quarter", "yaw"),
        ("side", "yaw"),
        ("back", "yaw"),
    ]
    assert set(found["verdict"]) == {"not_measured"}
    assert found["note"].all()


def test_points_that_slide_over_the_surface_have_no_row(rows):
    found = rows("turn")
    assert "waist" not in found.index.get_level_values("subject")
    assert "ground" not in found.index.get_level_values("subject")


def test_moving_a_drawing_sideways_on_its_page_changes_nothing(rows):
    def change(table):
        table.loc[table["view"] == "side", "x"] += 137.0
        return table

    before, after = rows("turn"), rows("turn", change=change)
    assert np.allclose(before["drift_pct"], after["drift_pct"], atol=1e-6, equal_nan=True)


def test_5_degrees_are_let_pass_and_no_more(rows):
    def verdict(yaw):
        # without symmetry the front is at 0 degrees, and nothing else is uncertain
        drawn = {"change": turned("three_quarter", yaw), "placing_sd": 0.001}
        found = rows("turn", **drawn, symmetric=False)
        return found.loc[("three_quarter", "yaw"), "verdict"]

    assert verdict(40.3) == "on_model"
    assert verdict(39.7) == "off_model"


def test_1_and_a_half_percent_sideways_are_let_pass_and_no_more(rows):
    def verdict(px):
        found = rows("turn", change=shifted("three_quarter", "elbow_l", px), placing_sd=0.001)
        return found.loc[("three_quarter", "elbow_l"), "verdict"]

    assert verdict(14.0) == "on_model"
    assert verdict(16.0) == "off_model"


def test_a_front_that_is_turned_itself_is_named_and_not_the_others(rows):
    found = rows("turn", change=turned("front", 9.0))
    off = found[found["verdict"] == "off_model"]
    assert list(off.index) == [("front", "yaw")]
    assert off["measured"].iloc[0] == pytest.approx(9.0, abs=0.2)


def test_a_front_that_nothing_tells_the_turn_of_says_so(rows):
    row = rows("turn", symmetric=False).loc[("front", "yaw")]
    assert row["verdict"] == "not_measured"
    assert "the others are turned against it" in row["note"]


def test_two_drawings_that_contradict_each_other_have_one_verdict(rows):
    found = rows("turn", change=shifted("side", "nose_tip", 40.0))
    off = found[found["verdict"] == "off_model"]
    assert list(off.index) == [("three_quarter", "nose_tip"), ("side", "nose_tip")]
    assert set(off["blamed"]) == {"set"}
    assert set(off["blamed_views"]) == {"three_quarter side"}
    said = "three_quarter and side contradict each other; a back three-quarter drawing would decide"
    assert set(off["note"]) == {said}


def test_a_fifth_drawing_decides(rows):
    found = rows("turn", views=5, change=shifted("side", "nose_tip", 40.0))
    off = found[found["verdict"] == "off_model"]
    assert list(off.index) == [("side", "nose_tip")]
    assert off["blamed"].iloc[0] == "this"


def test_a_side_view_that_may_have_its_names_exchanged_says_both(rows):
    def change(table):
        # pairs whole on every drawing, so that symmetry tells how the side view is turned
        left = table[table["landmark"].str.endswith("_l")]
        right = left.assign(landmark=left["landmark"].str.replace("_l$", "_r", regex=True))
        table = pd.concat([table[~table["landmark"].str.endswith("_r")], left[:0], right])
        yaws = table["view"].map(YAWS | {"side": 98.0})
        named = zip(table["landmark"], yaws, strict=True)
        return table.assign(x=[x_of(name, yaw) for name, yaw in named]).reset_index(drop=True)

    row = rows("turn", change=change).loc[("side", "yaw")]
    assert row["verdict"] == "off_model"
    assert row["measured"] == pytest.approx(98.0, abs=0.2)
    assert row["note"] == "or at 82.0° it has left and right names exchanged"

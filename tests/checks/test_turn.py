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

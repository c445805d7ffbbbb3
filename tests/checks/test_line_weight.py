"""`line_weight`: the outline's weight across drawings."""

import pytest

from tests.checks.drawn import drawn
from tests.simulations.figures import YAWS
from turncheck.checks.check import Tolerances
from turncheck.checks.line_weight import CHECK
from turncheck.checks.table import as_table


@pytest.fixture
def rows(figure):
    def build(widths=None, change=lambda table: table, looked=True, **of):
        features = drawn(YAWS, widths=widths) if looked else None
        measured = figure(change=change, features=features, **of)
        found = as_table(CHECK.run(measured, Tolerances(CHECK.tolerance, {})))
        return found.set_index("view")

    return build


def test_outlines_of_one_weight_are_on_model(rows):
    found = rows()
    assert list(found.index) == ["front", "three_quarter", "side", "back"]
    assert set(found["verdict"]) == {"on_model"}
    assert set(found["subject"]) == {"outline"}


@pytest.mark.parametrize("width", [5.0, 9.5])
def test_a_drawing_inked_with_another_brush_is_named_by_how_much(rows, width):
    found = rows({"side": width})
    row = found.loc["side"]
    assert row["verdict"] == "off_model"
    assert row["odd_view"] == "side"
    assert row["drift_pct"] == pytest.approx(100.0 * (width / 7.0 - 1.0), abs=0.5)
    assert row["drift_px"] == pytest.approx(width - 7.0, abs=0.05)
    assert found.loc[["three_quarter", "back"], "verdict"].eq("on_model").all()


def test_a_small_difference_is_let_pass(rows):
    assert rows({"side": 7.5}).loc["side", "verdict"] == "on_model"


def test_a_front_that_is_inked_heavier_than_all_others_is_named(rows):
    found = rows({"front": 10.0})
    assert found.index[found["verdict"] == "off_model"].tolist() == ["front"]
    assert found.loc["front", "odd_view"] == "front"


def test_a_line_scaled_with_its_drawing_is_no_drift_of_its_own(rows):
    def enlarged(table):
        side = table["view"] == "side"
        table.loc[side, "y"] = 1400.0 - 1.3 * (1400.0 - table.loc[side, "y"])
        return table

    row = rows({"side": 1.3 * 7.0}, change=enlarged).loc["side"]
    assert row["verdict"] == "on_model"
    assert row["drift_pct"] == pytest.approx(0.0, abs=0.1)
    assert row["measured"] == pytest.approx(9.1, abs=0.01)
    assert "0.70 % of the figure" in row["note"]


def test_a_drawing_without_outlines_is_not_measured_with_the_reason(rows):
    found = rows({"side": None})
    assert found.loc["side", "verdict"] == "not_measured"
    assert found.loc["side", "note"] == "side has no dark line work along its outline"
    without_front = rows({"front": None})["verdict"]
    assert set(without_front.drop("front", errors="ignore")) == {"on_model"}


def test_drawings_that_nobody_looked_at_are_not_measured_each_with_the_reason(rows):
    found = rows(looked=False)
    assert len(found) == 3 and set(found["verdict"]) == {"not_measured"}
    assert found["note"].str.endswith("has no dark line work along its outline").all()


def test_against_the_consensus_only_the_odd_drawing_is_off(rows):
    found = rows({"front": 10.0}, reference="consensus")
    assert list(found.index[found["verdict"] == "off_model"]) == ["front"]


def test_15_percent_are_let_pass_and_no_more(rows):
    assert rows({"side": 1.10 * 7.0}).loc["side", "verdict"] == "on_model"
    assert rows({"side": 1.20 * 7.0}).loc["side", "verdict"] == "off_model"


@pytest.mark.parametrize("width", [0.8 * 7.0, 1.2 * 7.0])
@pytest.mark.parametrize("view", ["front", "side"])
def test_a_reference_is_off_by_as_much_as_any_drawing(rows, view, width):
    off = rows({view: width}).query("verdict == 'off_model'")
    assert set(off["odd_view"]) == {view}
    assert off["drift_pct"].abs().to_numpy() == pytest.approx(20.0, abs=0.1)

import numpy as np
import pytest

from turncheck.checks.check import Tolerances
from turncheck.checks.proportion import HEAD_COUNT, find_proportion_drift
from turncheck.checks.spans import compare_ratios


def test_the_head_count_is_the_height_over_the_head(rows):
    found = rows("proportion")
    row = found.loc[("side", "head count")]
    assert row["expected"] == pytest.approx(100.0 / 13.5)
    assert row["verdict"] == "on_model" and row["unit"] == "pct_ratio"


def test_a_smaller_head_in_one_drawing_changes_its_head_count(rows):
    found = rows("proportion", drift={("back", "chin"): 1.5})
    row = found.loc[("back", "head count")]
    assert row["measured"] == pytest.approx(100.0 / 12.0)
    assert row["drift_pct"] == pytest.approx((13.5 / 12.0 - 1.0) * 100)
    assert row["verdict"] == "off_model" and row["odd_view"] == "back"


def test_a_ratio_does_not_depend_on_the_size_of_the_drawing(rows):
    def enlarged(table):
        side = table["view"] == "side"
        table.loc[side, "y"] = 1400.0 - 1.3 * (1400.0 - table.loc[side, "y"])
        return table

    found = rows("proportion", change=enlarged)
    assert found.loc[("side", "upper arm : forearm left"), "drift_pct"] == pytest.approx(0.0)


def test_the_uncertainty_of_a_ratio_is_that_of_many_placings(figure):
    measured = figure(placing_sd=0.15, noise_pct=0.0)
    spans = (("crown",), ("ground",)), (("crown",), ("chin",))
    row = next(iter(compare_ratios(measured, "proportion", HEAD_COUNT, *spans, 4.0)))
    rng = np.random.default_rng(3)
    crown, ground, chin = rng.normal(0.0, 0.15, (3, 4, 40_000))
    counts = (100.0 + crown - ground) / (13.5 + crown - chin)
    spread = np.std(counts[0] - counts[1:].mean(axis=0)) / (100.0 / 13.5) * 100
    assert row.uncertainty_pct == pytest.approx(spread, rel=0.03)


FLAT = ["front", "back"]


def without_turn(table):
    """Keep what gives no depth, so that only heights are left."""
    return table[table["view"].isin(FLAT) | (table["landmark"] == "ground")]


def test_without_a_solved_turn_a_limb_that_lies_level_is_not_measured(rows):
    level = {("back", "shoulder_l"): 63.0 - 81.0}
    found = rows("proportion", drift=level, change=without_turn)
    row = found.loc[("back", "upper arm : forearm left")]
    assert row["verdict"] == "not_measured"
    assert "too short" in row["note"]


def test_with_a_solved_turn_limbs_are_compared_by_their_true_lengths(figure):
    from tests.simulations.figures import DEPTHS, HEIGHTS, WIDTHS

    measured = figure()
    row = next(
        row
        for row in find_proportion_drift(measured, Tolerances(4.0, {}))
        if row.subject.name == "upper arm : forearm left"
    )
    points = {
        stem: np.array([WIDTHS[stem], HEIGHTS[f"{stem}_l"], DEPTHS[stem]])
        for stem in ("shoulder", "elbow", "wrist")
    }
    upper = np.linalg.norm(points["shoulder"] - points["elbow"])
    lower = np.linalg.norm(points["elbow"] - points["wrist"])
    assert row.expected == pytest.approx(upper / lower, rel=2e-3)


def test_tolerances_of_a_ratio_are_percent_of_it(figure):
    found = list(find_proportion_drift(figure(), Tolerances(7.0, {})))
    assert {row.tolerance_pct for row in found if row.verdict != "not_measured"} == {7.0}


def test_a_ratio_that_could_never_be_on_model_is_called_off_only_when_noise_is_out(rows):
    def row_at(drift, placing_sd):
        drifts = {("back", "wrist_l"): drift}
        found = rows("proportion", drift=drifts, placing_sd=placing_sd, change=without_turn)
        return found.loc[("back", "upper arm : forearm left")]

    vague = row_at(4.0, 0.4)
    assert abs(vague["drift_pct"]) - 1.645 * vague["uncertainty_pct"] > vague["tolerance_pct"]
    assert vague["verdict"] == "not_measured" and "too uncertain to tell" in vague["note"]
    certain = row_at(11.0, 0.4)
    assert 1.645 * certain["uncertainty_pct"] > certain["tolerance_pct"]
    assert abs(certain["drift_pct"]) > 4.0 * certain["uncertainty_pct"]
    assert certain["verdict"] == "off_model"
    assert row_at(6.0, 0.05)["verdict"] == "off_model"


def test_4_percent_of_a_ratio_are_let_pass_and_no_more(rows):
    def verdict(percent):
        up = 13.5 * (1.0 - 100.0 / (100.0 + percent))  # of the chin: the head is the smaller
        found = rows("proportion", drift={("back", "chin"): up}, placing_sd=0.001)
        return found.loc[("back", "head count"), "verdict"]

    assert verdict(3.9) == "on_model"
    assert verdict(4.1) == "off_model"

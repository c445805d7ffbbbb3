import pytest

from turncheck.checks.register import run_checks
from turncheck.checks.table import as_table
from turncheck.checks.verdicts import overall


def _scaled(view, scale=1.0, up=0.0, line=False):
    """Draw a view larger, or higher; with `line` its ground line goes along."""

    def change(table):
        moved = table["view"] == view
        if not line:
            moved &= table["landmark"] != "ground"
        table.loc[moved, "y"] = 1400.0 - scale * (1400.0 - table.loc[moved, "y"]) - up
        return table

    return change


@pytest.mark.parametrize("placing", ["ground", "canvas"])
def test_a_larger_drawing_is_named_with_its_size(rows, placing):
    found = rows("size", change=_scaled("side", 1.031, line=True), placing=placing)
    row = found.loc[("side", "scale")]
    assert row["verdict"] == "off_model"
    assert row["drift_pct"] == pytest.approx(3.1, abs=1e-6)
    assert row["expected"] == pytest.approx(1000.0) and row["measured"] == pytest.approx(1031.0)
    assert row["odd_view"] == "side"
    assert found.loc[("back", "scale"), "verdict"] == "on_model"


def test_a_front_that_is_larger_than_all_others_is_the_odd_one_out(rows):
    found = rows("size", change=_scaled("front", 1.03, line=True))
    scales = found.xs("scale", level="subject")
    assert scales.index[scales["verdict"] == "off_model"].tolist() == ["front"]
    assert scales.loc["front", "odd_view"] == "front"
    assert scales.loc["front", "odd_pct"] == pytest.approx(3.0, abs=0.1)


def test_a_figure_that_floats_above_its_ground_line_is_named(rows):
    found = rows("size", change=_scaled("side", up=14.0))
    row = found.loc[("side", "ground")]
    assert row["verdict"] == "off_model"
    assert row["drift_px"] == pytest.approx(14.0, abs=1e-6)
    assert row["odd_view"] == "side"


@pytest.mark.parametrize("reference", ["front", "consensus"])
@pytest.mark.parametrize(
    ("scale", "says"),
    [
        (1.25, "drawn 1.25 times as large as front: scale by 0.80 when it is built"),
        (0.6, "drawn 0.60 times as large as front: scale by 1.67 when it is built"),
        (1.004, "drawn as large as front"),
    ],
)
def test_sizes_that_differ_on_purpose_are_told_and_judged_by_nothing(
    figure, scale, says, reference
):
    change = _scaled("side", scale, up=14.0)
    findings = run_checks(figure(change=change, placing="fit", reference=reference))
    found = as_table(findings).set_index(["check", "view", "subject"])
    row = found.loc[("size", "side", "scale")]
    assert row["note"] == says
    assert row["drift_pct"] == pytest.approx(100.0 * (scale - 1.0), abs=1e-6)
    assert row["measured"] == pytest.approx(1000.0 * scale)
    ground = found.loc[("size", "side", "ground")]
    assert ground["measured"] == pytest.approx(14.0, abs=1e-6)
    percent = f"{1.4 / scale:.1f} %"
    assert ground["note"].startswith(f"stands {percent} above its ground line")
    assert set(found.loc["size"]["verdict"]) == {"not_measured"}
    assert found.loc["size"]["tolerance_pct"].isna().all()
    assert found.index.drop_duplicates().size == len(found)
    heights = found.loc[["height", "pivot", "eye_line", "proportion"]]
    assert set(heights["verdict"]) == {"on_model"}


def test_on_one_canvas_a_drawing_that_sits_higher_is_named(rows):
    found = rows("size", change=_scaled("side", up=14.0, line=True), placing="canvas")
    assert found.loc[("side", "ground"), "drift_px"] == pytest.approx(14.0, abs=1e-6)
    assert found.loc[("side", "scale"), "verdict"] == "on_model"


def test_a_drawing_that_no_ruler_fits_is_distrusted_and_nothing_in_it_is_called_on_model(figure):

    drift = {("side", name): 4.0 for name in ("chin", "neck", "waist", "elbow_l", "knee_l")}
    drift |= {("side", name): -4.0 for name in ("crotch", "wrist_l", "hip_l", "shoulder_r")}
    findings = run_checks(figure(drift=drift, placing="fit"))
    found = as_table(findings).set_index(["check", "view", "subject"])
    assert "agree on one size and position" in found.loc[("size", "side", "scale"), "note"]
    assert found.loc[("size", "side", "scale"), "verdict"] == "not_measured"
    assert found.loc[("size", "side", "ruler"), "verdict"] == "off_model"
    heights = found.loc["height"].xs("side", level="view")
    assert set(heights["verdict"]) == {"undecided"}
    assert overall(findings) == "off_model"


def test_too_few_landmarks_for_a_ruler_is_said(rows):
    few = ("ground", "crown", "chin")
    found = rows("size", change=lambda t: t[(t["view"] != "side") | t["landmark"].isin(few)])
    assert "only 3 points in common" in found.loc[("side", "scale"), "note"]
    assert found.loc[("back", "scale"), "verdict"] == "on_model"


@pytest.mark.parametrize(
    ("subject", "change"),
    [
        ("scale", lambda percent: _scaled("side", 1.0 + percent / 100.0, line=True)),
        ("ground", lambda percent: _scaled("side", up=10.0 * percent)),
    ],
)
def test_1_percent_is_let_pass_and_no_more(rows, subject, change):
    def verdict(percent):
        found = rows("size", change=change(percent), placing_sd=0.001)
        return found.loc[("side", subject), "verdict"]

    assert verdict(0.95) == "on_model"
    assert verdict(1.05) == "off_model"

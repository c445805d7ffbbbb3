import io

import numpy as np
import pandas as pd

from turncheck.checks.finding import (
    COLUMNS,
    Finding,
    as_csv,
    as_table,
    astray,
    counts,
    overall,
    ranked,
    waive,
)
from turncheck.sheet.model import Waiver


def row(verdict, subject="chin", drift=0.0, tolerance=1.0, **of):
    return Finding(
        "height", "side", subject, drift_pct=drift, tolerance_pct=tolerance, verdict=verdict, **of
    )


def test_one_off_model_row_makes_the_sheet_off_model():
    assert overall(as_table([row("on_model"), row("off_model", "waist")])) == "off_model"


def test_undecided_rows_leave_a_sheet_on_model_while_they_are_the_minority():
    assert overall(as_table([row("on_model"), row("undecided")])) == "on_model"
    assert overall(as_table([row("on_model"), row("undecided"), row("undecided")])) == "undecided"


def test_a_sheet_of_which_nothing_was_measured_is_not_on_model():
    assert overall(as_table([row("not_measured")])) == "undecided"
    assert overall(as_table([])) == "undecided"


def test_every_verdict_is_counted_also_at_zero():
    assert counts(as_table([row("on_model")])) == {
        "off_model": 0,
        "undecided": 0,
        "waived": 0,
        "on_model": 1,
        "not_measured": 0,
    }


def test_a_waiver_covers_its_own_row_only():
    table = as_table(
        [row("off_model", "chin"), row("off_model", "waist"), row("on_model", "mouth")]
    )
    waived = waive(table, [Waiver("height", "side", "chin", "meant", "art lead")])
    assert list(waived["verdict"]) == ["waived", "off_model", "on_model"]
    assert waived["note"].iloc[0] == "waived by art lead: meant"
    assert list(table["verdict"]) == ["off_model", "off_model", "on_model"]


def test_a_waiver_does_not_touch_what_is_on_model():
    waived = waive(as_table([row("on_model")]), [Waiver("height", "side", "chin", "meant", "me")])
    assert list(waived["verdict"]) == ["on_model"]


def test_a_waiver_of_what_is_not_compared_is_found_with_the_nearest_that_is():
    table = as_table([row("off_model", "eye_line"), row("on_model", "chin")])
    near, used, elsewhere = (
        Waiver("height", view, subject, "meant", "me")
        for view, subject in (("side", "eye_lime"), ("side", "chin"), ("back", "chin"))
    )
    assert astray(table, [near, used, elsewhere]) == [
        (near, 'did you mean "eye_line"?'),
        (elsewhere, "none is known"),
    ]


def test_the_worst_is_the_furthest_beyond_its_own_tolerance():
    table = as_table(
        [row("off_model", "waist", 1.6), row("off_model", "eye_line", -1.2, 0.5), row("on_model")]
    )
    assert list(ranked(table)["subject"]) == ["eye_line", "waist"]


def test_the_csv_comes_back_as_it_was():
    table = as_table([row("off_model", drift=-1.25), row("not_measured", note="no eye, none")])
    back = pd.read_csv(io.StringIO(as_csv(table)), keep_default_na=True)
    assert tuple(back.columns) == COLUMNS
    assert back["drift_pct"].iloc[0] == -1.25
    assert np.isnan(back["drift_px"].iloc[0])
    assert back["note"].iloc[1] == "no eye, none"


def test_a_cell_never_starts_a_formula():
    table = as_table([row("waived", note='=HYPERLINK("http://x")'), row("on_model", "@chin")])
    lines = as_csv(table).splitlines()
    assert "'=HYPERLINK" in lines[1] and "'@chin" in lines[2]

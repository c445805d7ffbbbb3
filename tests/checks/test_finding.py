import io
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from tests.simulations.figures import sheet
from turncheck.checks.finding import Finding, Kind, Subject
from turncheck.checks.note import LandmarkName, ViewName, noted
from turncheck.checks.table import COLUMNS, as_table, cells_of, csv_text
from turncheck.checks.verdicts import counts, overall, waive, waiver_remarks
from turncheck.geometry.guard_bands import Verdict
from turncheck.sheet.model import Waiver

SEEN = Subject(Kind.POINT, "chin", ("chin",))


def row(verdict, subject="chin", drift=0.0, tolerance=1.0, note=""):
    return Finding(
        "height",
        "side",
        Subject(Kind.POINT, subject, (subject,)),
        drift_pct=drift,
        tolerance_pct=tolerance,
        verdict=Verdict(verdict),
        note=noted("{}", note),
    )


def test_one_off_model_row_makes_the_sheet_off_model():
    assert overall([row("on_model"), row("off_model", "waist")]) == "off_model"


def test_undecided_rows_leave_a_sheet_on_model_while_they_are_the_minority():
    assert overall([row("on_model"), row("undecided")]) == "on_model"
    assert overall([row("on_model"), row("undecided"), row("undecided")]) == "undecided"


def test_a_sheet_of_which_nothing_was_measured_is_not_on_model():
    assert overall([row("not_measured")]) == "undecided"
    assert overall([]) == "undecided"


def test_what_rests_on_few_repeats_has_a_wider_give_or_take():
    known = Finding("height", "side", SEEN, drift_pct=0.7, uncertainty_pct=0.15, tolerance_pct=1.0)
    learned = replace(known, dof=3.0)
    assert known.width_pct == pytest.approx(1.96 * 0.15)
    assert learned.width_pct == pytest.approx(3.182 * 0.15, rel=0.01)
    assert (known.judged().verdict, learned.judged().verdict) == ("on_model", "undecided")


def test_points_that_must_sit_on_each_other_are_judged_as_a_distance():
    drift = Finding("pivot", "side", SEEN, drift_pct=0.42, uncertainty_pct=0.21, tolerance_pct=0.75)
    seat = replace(drift, subject=replace(SEEN, kind=Kind.SEAT))
    assert (drift.judged().verdict, seat.judged().verdict) == ("undecided", "on_model")


def test_every_verdict_is_counted_also_at_zero():
    assert counts([row("on_model")]) == {
        "off_model": 0,
        "undecided": 0,
        "waived": 0,
        "on_model": 1,
        "not_measured": 0,
    }


def test_a_waiver_covers_its_own_row_only():
    table = [row("off_model", "chin"), row("off_model", "waist"), row("on_model", "mouth")]
    waived = waive(
        table, [Waiver(check="height", view="side", subject="chin", reason="meant", by="art lead")]
    )
    assert [found.verdict for found in waived] == ["waived", "off_model", "on_model"]
    assert str(waived[0].note) == "waived by art lead: meant"
    assert [found.verdict for found in table] == ["off_model", "off_model", "on_model"]


def test_a_waiver_does_not_touch_what_is_on_model():
    waived = waive(
        [row("on_model")],
        [Waiver(check="height", view="side", subject="chin", reason="meant", by="me")],
    )
    assert [found.verdict for found in waived] == ["on_model"]


def test_a_waiver_of_what_is_not_compared_is_found_with_the_nearest_that_is():
    table = [row("off_model", "eye_line"), row("on_model", "chin")]
    named = [("side", "eye_lime", ""), ("side", "chin", ""), ("back", "chin", "")]
    waivers = [
        Waiver(check="height", view=view, subject=subject, reason="meant", by="me", revision=of)
        for view, subject, of in [*named, ("side", "eye_line", ""), ("side", "eye_line", "0")]
    ]
    held = replace(sheet(4), revision="A", waivers=tuple(waivers))
    told = [says for _, says in waiver_remarks(waive(table, held.waivers_in_force), held)]
    nothing = "waives nothing: it is not compared there; "
    assert told == [
        f'{nothing}did you mean "eye_line"?',
        "is not needed: nothing is off there",
        f"{nothing}none is known",
        "",
        "ended with revision 0",
    ]


def test_the_csv_comes_back_as_it_was():
    table = [row("off_model", drift=-1.25), row("not_measured", note="no eye, none")]
    back = pd.read_csv(io.StringIO(csv_text(COLUMNS, cells_of(table))), keep_default_na=True)
    assert tuple(back.columns) == COLUMNS
    assert back["drift_pct"].iloc[0] == -1.25
    assert np.isnan(back["drift_px"].iloc[0])
    assert back["note"].iloc[1] == "no eye, none"


def test_the_last_column_has_the_instruction_that_a_row_follows_from():
    table = [row("off_model"), row("on_model")]
    lines = csv_text(COLUMNS, cells_of(table, {0: 3})).splitlines()
    assert [line.rsplit(",", 1)[1] for line in lines] == ["follows", "3", ""]
    assert list(as_table(table, {0: 3})["follows"]) == ["3", ""]


def test_a_cell_never_starts_a_formula():
    table = [row("waived", note='=HYPERLINK("http://x")'), row("on_model", "@chin")]
    lines = csv_text(COLUMNS, cells_of(table)).splitlines()
    assert "'=HYPERLINK" in lines[1] and "'@chin" in lines[2]


def test_the_csv_says_what_the_frame_says():
    table = [row("off_model", drift=-1.25), row("not_measured", note="no eye, none")]
    back = pd.read_csv(
        io.StringIO(csv_text(COLUMNS, cells_of(table))),
        keep_default_na=False,
        na_values={"drift_pct": ""},
    )
    frame = as_table(table)
    assert list(back["note"]) == list(frame["note"])
    assert list(back["verdict"]) == list(frame["verdict"])


def test_names_in_a_note_are_told_from_its_words():
    note = noted("{} is not placed on {}, nor is knee_l", LandmarkName("knee_l"), ViewName("on"))
    assert str(note) == "knee_l is not placed on on, nor is knee_l"
    assert note.spoken({"knee_l": "left knee", "on": "off"}) == (
        "left knee is not placed on off, nor is knee_l"
    )

"""What the page says of a placing is what the check says of it; and it can be said early."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from dataclasses import replace
from pathlib import Path
from statistics import mean

import pytest

from tests.places import SAMPLES
from tests.placings import read_placings
from tests.samples import checked
from turncheck.checks.finding import Finding, Kind, Subject
from turncheck.checks.register import all_checks, open_sheet, tolerances_for
from turncheck.checks.verdicts import waive
from turncheck.geometry.guard_bands import COVERAGE, Verdict
from turncheck.geometry.measurement import measure
from turncheck.placing.live_verdicts import in_words, read_so_far
from turncheck.placing.proposing import UNSEEN_SD
from turncheck.sheet.landmark_table import Placing, landmarks_path
from turncheck.sheet.model import Sheet, Waiver
from turncheck.sheet.vocabulary import SHIPPED, read_vocabulary


def pim() -> tuple[Sheet, tuple[Placing, ...], tuple[Finding, ...]]:
    return checked("pim").sheet, checked("pim").placings, checked("pim").rows


def kept(placings: Collection[Placing], where: Callable[[Placing], bool]) -> tuple[Placing, ...]:
    return tuple(placing for placing in placings if where(placing))


@pytest.mark.parametrize("sample", ["odo", "pim", "brindle"])
@pytest.mark.parametrize("alone", [False, True])
def test_every_reading_is_the_checks_own_finding(sample: str, alone: bool) -> None:
    known = checked(sample)
    names = list(known.measured.landmarks)
    if alone:
        said: dict[tuple[str, str], object] = {}
        for name in names[::4]:
            said |= read_so_far(known.sheet, known.placings, [name]).of
    else:
        said = dict(read_so_far(known.sheet, known.placings).of)
    subjects = {name: "eye_line" if name.startswith("eye_") else name for name in names}
    judged = ("height", "eye_line", "pivot")
    rows = {(row.view, row.subject.name): row for row in known.rows if row.check in judged}
    compared = 0
    for (view, name), reading in said.items():
        row = rows.get((view, subjects[name]))
        if row is not None and row.verdict != "not_measured":
            assert reading.verdict == row.verdict
            assert reading.drift_px == pytest.approx(row.drift_px, abs=1e-9)
            compared += 1
    assert compared > (8 if alone else 50)


@pytest.mark.parametrize("sample", ["odo", "pim"])
@pytest.mark.parametrize("alone", [False, True])
def test_a_width_is_read_as_its_pair_is_judged(sample: str, alone: bool) -> None:
    sheet = checked(sample).sheet
    name = next(mark.name for mark in sheet.vocabulary.of_kind("width"))
    placings = tuple(
        replace(one, x=5.0) if (one.view, one.landmark) == ("front", name) else one
        for one in checked(sample).placings
    )
    pairing = next(one for one in all_checks() if one.name == "pairing")
    rows = {
        row.view: row
        for row in pairing.run(measure(sheet, placings, {}), tolerances_for(pairing, sheet))
        if name in row.subject.landmarks
    }
    said = read_so_far(sheet, placings, [name] if alone else None)
    assert set(rows) == {"front", "back"}
    for view in sheet.views:
        reading = said.of[view, name]
        if view in rows:
            assert reading.verdict == rows[view].verdict
            assert reading.drift_px == pytest.approx(rows[view].drift_px)
        else:
            assert reading.words == "compared sideways by the check"
    assert said.of["front", name].verdict == "off_model"
    assert said.of["front", name].words.endswith("px too far left")
    assert said.lines[name].tolerance == 0.0


def test_a_width_without_its_other_side_is_not_judged() -> None:
    sheet, placings, _ = pim()
    said = read_so_far(sheet, kept(placings, lambda one: one.landmark != "cheek_r"))
    assert said.of["front", "cheek_l"].verdict == "across"


def test_without_ground_and_crown_it_says_what_is_missing() -> None:
    sheet, placings, _ = pim()
    bare = read_so_far(sheet, ())
    assert bare.waiting.startswith("Place ground on front and crown on front")
    assert bare.waiting.endswith("measured from ground to crown.")
    assert bare.height_scales == {} and bare.of == {}
    both = [("front", "ground"), ("front", "crown")]
    some = read_so_far(sheet, kept(placings, lambda one: (one.view, one.landmark) in both))
    assert some.waiting.startswith("Place the ground on three quarter, side, back")
    assert some.of["front", "crown"].words == "the reference"


FURTHER = ("nose_tip", "chin", "mouth", "neck", "shoulder_r", "elbow_r", "knee_r", "hip_r")


@pytest.mark.parametrize("count", [0, 1, 5, 6, 8])
def test_a_view_is_judged_as_soon_as_it_stands_on_its_ground(count: int) -> None:
    sheet, placings, _ = pim()
    names, views = ("ground", "crown", "eye_r", *FURTHER[:count]), ("front", "side")
    some = kept(placings, lambda one: one.landmark in names and one.view in views)
    said = read_so_far(sheet, some)
    assert re.fullmatch("1[89] px too low", said.of["side", "eye_r"].words)
    assert set(said.height_scales) == {"front", "side"}


def test_a_crown_below_the_ground_is_said_and_does_not_stop_the_page() -> None:
    sheet, placings, _ = pim()
    said = read_so_far(
        sheet,
        [
            replace(one, y=1435.0) if (one.view, one.landmark) == ("front", "crown") else one
            for one in placings
        ],
    )
    assert "lies below the ground" in said.waiting


def test_the_ruled_height_is_where_the_reference_has_it() -> None:
    sheet, placings, _ = pim()
    said = read_so_far(sheet, placings)
    (knee,) = kept(placings, lambda one: (one.view, one.landmark) == ("front", "knee_l"))
    line = said.lines["knee_l"]
    assert said.height_scales["front"].y_at(line.height) == pytest.approx(knee.y)
    assert line.view == "front"
    assert line.tolerance == pytest.approx(0.75 / 100 * (said.figure_height or 0))


def test_a_landmark_that_the_reference_lacks_is_ruled_from_where_it_is() -> None:
    sheet, placings, _ = pim()
    said = read_so_far(
        sheet, kept(placings, lambda one: (one.view, one.landmark) != ("front", "knee_l"))
    )
    assert said.lines["knee_l"].view == "three_quarter"
    assert said.of["side", "knee_r"].words == "on model"


def test_waivers_hold_on_the_page_too() -> None:
    sheet, placings, findings = pim()
    waivers = (
        Waiver(check="eye_line", view="side", subject="eye_line", reason="meant", by="lead"),
    )
    said = read_so_far(replace(sheet, waivers=waivers), placings)
    waived = waive(findings, waivers)
    assert sum(row.verdict is Verdict.WAIVED for row in waived) == 1
    assert said.of["side", "eye_r"].words == "waived, 20 px low"


def test_the_midline_is_the_middle_of_what_is_placed() -> None:
    sheet, placings, _ = pim()
    knees = [("front", "knee_l"), ("front", "knee_r")]
    pair = kept(placings, lambda one: (one.view, one.landmark) in knees)
    said = read_so_far(sheet, pair)
    assert said.midlines == {"front": pytest.approx(mean(one.x for one in pair))}


@pytest.mark.parametrize("vocabulary", SHIPPED)
def test_an_unseen_proposal_can_not_prove_any_drawing_on_model(vocabulary: str) -> None:
    known = read_vocabulary(vocabulary, Path())
    widest = max([1.0, *(mark.tolerance or 0.0 for mark in known.landmarks.values())])
    assert widest < COVERAGE * UNSEEN_SD


def test_words_name_the_way() -> None:
    chin = Subject(Kind.POINT, "chin", ("chin",))
    up = Finding("height", "side", chin, drift_px=6.2, verdict=Verdict.OFF_MODEL)
    assert in_words(up) == "6.2 px too high"
    assert in_words(replace(up, drift_px=-0.01, verdict=Verdict.UNDECIDED)) == "too close to call"


def test_what_is_said_of_a_point_does_not_hang_on_what_else_is_asked() -> None:
    """Brows that are not level are for the whole sheet: neither alone nor among all is it said."""
    sheet = open_sheet(SAMPLES / "odo")
    placings = read_placings(landmarks_path(sheet), sheet)
    askew = [
        replace(p, y=p.y - 40.0) if (p.view, p.landmark) == ("front", "brow_l") else p
        for p in placings
    ]
    names = ["brow_l", "brow_r", "ear_l"]
    among_all, alone = read_so_far(sheet, askew), read_so_far(sheet, askew, names[:2])
    widths_too = read_so_far(sheet, askew, names)
    for name in names[:2]:
        said = among_all.of["front", name]
        assert said == alone.of["front", name] == widths_too.of["front", name]

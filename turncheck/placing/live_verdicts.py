"""What the measuring says of the placings made so far, complete or not.

The numbers are those of `turncheck check`: the same `measure` and the same checks run here, on the
views that can be measured already. Nothing on the page has a rule of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from turncheck.checks.finding import Cause, Finding, Kind
from turncheck.checks.register import judge_of, tolerance_of, tolerances_for
from turncheck.checks.verdicts import waive
from turncheck.errors import TurncheckError
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.height_scale import HeightScale, fixed_height_scale
from turncheck.geometry.heights import Average, averaged
from turncheck.geometry.majority import find_majority
from turncheck.geometry.measurement import Measurement, measure
from turncheck.plain import sentence_px, spoken
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import CONSENSUS, Sheet
from turncheck.sheet.vocabulary import Landmark
from turncheck.wording.findings import note_of, titles_of

#: Below this a drift has no way, px; common practice, no source.
LEAST_SAID = 0.05
TOO_CLOSE = "too close to call"
UPRIGHT = ("too high", "too low")
SIDEWAYS = ("too far right", "too far left")
#: From here on a placing counts as loose, and moving it gives it the sheet's own, % of H.
LOOSE_FROM = 0.75


@dataclass(frozen=True)
class Reading:
    """What is said beside one placing: a verdict, in words, with notes that go with it."""

    verdict: str
    words: str
    drift_px: float | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Line:
    """The height of a landmark, ruled across the views: base px above the ground.

    `view` is the drawing that it comes from, or '' for the consensus; `tolerance` is half the
    width of the band, 0 where no height is judged.
    """

    height: float
    tolerance: float
    view: str


@dataclass(frozen=True)
class Readings:
    """Everything that the page shows of the measuring.

    Attributes
    ----------
    height_scales
        By view, scale and ground; only for views that stand on a known ground.
    of
        By view and landmark.
    lines
        By landmark.
    midlines
        By view seen from straight in front or behind, x in px; only where something says it.
    waiting
        What is still to be placed before heights can be compared, as a sentence, or ''.
    """

    height_scales: Mapping[str, HeightScale] = field(default_factory=dict)
    of: Mapping[tuple[str, str], Reading] = field(default_factory=dict)
    lines: Mapping[str, Line] = field(default_factory=dict)
    midlines: Mapping[str, float] = field(default_factory=dict)
    waiting: str = ""
    figure_height: float | None = None


def read_so_far(
    sheet: Sheet, placings: Iterable[Placing], landmarks: Sequence[str] | None = None
) -> Readings:
    """Measure what is placed so far.

    Parameters
    ----------
    placings
        Of the sheet; any may be missing.
    landmarks
        Those that verdicts and lines are wanted of; None for all.
    """
    placings = tuple(placings)
    placed = averaged(placings)
    midlines = _midlines(sheet, placed)
    views = {name: view for name, view in sheet.views.items() if (name, "ground") in placed}
    grounds = {name: fixed_height_scale(placed[name, "ground"].y, 0.0) for name in views}
    base = sheet.base
    missing = [
        f"{name} on {spoken(base)}" for name in ("ground", "crown") if (base, name) not in placed
    ]
    if missing:
        waiting = f"Place {' and '.join(missing)}: every height is measured from ground to crown."
        return Readings(grounds, midlines=midlines, waiting=waiting)
    try:
        grounded = tuple(placing for placing in placings if placing.view in views)
        measured = measure(replace(sheet, views=views), grounded, {})
    except TurncheckError:
        waiting = f"The crown on {spoken(base)} lies below the ground: place one of them again."
        return Readings(grounds, midlines=midlines, waiting=waiting)
    left = ", ".join(spoken(name) for name in sheet.views if name not in views)
    waiting = f"Place the ground on {left}: heights are compared from the ground." if left else ""
    wanted = [name for name in measured.landmarks if landmarks is None or name in landmarks]
    scales = grounds  # each drawing as it was placed, whatever all heights together say
    if sheet.placing == "canvas":
        scales = dict.fromkeys(views, grounds[base])
    elif sheet.placing == "fit":
        scales = dict(zip(measured.views, measured.height_scales, strict=True))
    return Readings(
        height_scales=scales,
        of=_readings(measured, wanted),
        lines=_lines(measured, wanted, scales),
        midlines=midlines,
        waiting=waiting,
        figure_height=measured.figure_height,
    )


def _readings(measured: Measurement, wanted: Sequence[str]) -> dict[tuple[str, str], Reading]:
    """Run the checks that judge some landmarks' placing."""
    sheet = measured.sheet
    if sheet.reference == CONSENSUS and len(measured.views) < 3:
        return {}
    marks = sheet.vocabulary.landmarks
    judges = {name: judge_of(marks[name].kind) for name in wanted}
    found = [
        finding
        for check in {check.name: check for check in judges.values()}.values()
        for finding in check.run(measured, tolerances_for(check, sheet))
        if finding.unit == "pct_height"
    ]
    about: dict[tuple[str, str], list[Finding]] = {}
    for finding in waive(found, sheet.waivers):
        for name in finding.subject.landmarks:
            if name in judges and judges[name].name == finding.check:
                about.setdefault((finding.view, name), []).append(finding)
    return {
        (view, name): _reading(measured, marks[name], view, about.get((view, name), []))
        for name in wanted
        for v, view in enumerate(measured.views)
        if np.isfinite(measured.y[v, measured.landmarks.index(name)])
    }


def _reading(measured: Measurement, mark: Landmark, view: str, rows: list[Finding]) -> Reading:
    if not mark.has_height:
        return _reading_across(mark, rows)
    apart = [row for row in rows if row.subject.kind in (Kind.LEVEL, Kind.SEAT)]
    notes = tuple(_apart(measured, row) for row in apart if row.is_off_model)
    if mark.name == "ground":
        return Reading("ground", "the ground", notes=notes)
    own = next((row for row in rows if row.subject.kind is Kind.POINT), None)
    if own is None and view == measured.sheet.reference:
        return Reading("reference", "the reference", notes=notes)
    if own is not None and own.cause is Cause.UNSURE:
        notes = ("placed too unsurely to tell", *notes)
        return Reading(Verdict.UNDECIDED.value, TOO_CLOSE, notes=notes)
    if own is None or not own.is_measured:
        reference = measured.sheet.reference
        return Reading("waiting", f"not on {spoken(reference)} yet", notes=notes)
    if own.note:
        notes = (note_of(own, titles_of(measured.sheet)), *notes)
    return Reading(own.verdict.value, in_words(own), own.drift_px, notes)


def _reading_across(mark: Landmark, rows: list[Finding]) -> Reading:
    """Return what is said of a width: its pair's place in front and back, nothing elsewhere."""
    own = next((row for row in rows if row.subject.kind is Kind.MIDDLE), None)
    if own is None:
        return Reading("across", "compared sideways by the check")
    note = "the pair's middle, against the midline" if mark.twin else "against the midline"
    return Reading(own.verdict.value, in_words(own, SIDEWAYS), own.drift_px, (note,))


def _apart(measured: Measurement, row: Finding) -> str:
    """Return what else is off where a landmark is placed: its twin's level, or its seat."""
    marks = measured.sheet.vocabulary.landmarks
    one, other = (marks[name].title for name in row.subject.landmarks[:2])
    return f"{one} and {other} are {sentence_px(row.drift_px)} apart"


def in_words(finding: Finding, ways: tuple[str, str] = UPRIGHT) -> str:
    """Return a judged height, or place across, as the page says it.

    Parameters
    ----------
    ways
        What a drift above zero is, and one below.

    >>> from turncheck.checks.finding import Subject
    >>> chin = Subject(Kind.POINT, "chin", ("chin",))
    >>> off = Finding("height", "side", chin, drift_px=-12.2, verdict=Verdict.OFF_MODEL)
    >>> in_words(off), in_words(replace(off, drift_px=6.24, verdict=Verdict.UNDECIDED))
    ('12 px too low', 'too close to call, 6.2 px high')
    """
    too_far = ways[0] if finding.drift_px > 0 else ways[1]
    way = too_far.split()[-1]
    amount = sentence_px(finding.drift_px)
    if finding.verdict is Verdict.OFF_MODEL:
        return f"{amount} {too_far}"
    if finding.verdict is Verdict.UNDECIDED and abs(finding.drift_px) < LEAST_SAID:
        return TOO_CLOSE
    if finding.verdict in (Verdict.UNDECIDED, Verdict.WAIVED):
        said = TOO_CLOSE if finding.verdict is Verdict.UNDECIDED else finding.verdict
        return f"{said}, {amount} {way}"
    return "on model"


def _lines(
    measured: Measurement, wanted: Sequence[str], scales: Mapping[str, HeightScale]
) -> dict[str, Line]:
    """Return the lines that points are ruled by, on the scales that the drawings are shown on."""
    lines: dict[str, Line] = {}
    reference = measured.reference
    for name in wanted:
        mark = measured.sheet.vocabulary.landmarks[name]
        allowed = tolerance_of(name, measured.sheet) / 100.0 * measured.figure_height
        columns = measured.columns(name)
        rows = zip(measured.views, measured.y[:, columns[0]], strict=True)
        heights = np.array([scales[view].heights(y) for view, y in rows])
        placed = np.flatnonzero(np.isfinite(heights))
        if reference is None and len(placed) >= 3:
            joint, errors = measured.table.means(columns)
            found = find_majority(joint, errors @ errors.T, allowed)
            height, view = float(heights[found.members if found.settled else placed].mean()), ""
        elif len(placed):
            v = reference if reference is not None and reference in placed else int(placed[0])
            height, view = float(heights[v]), measured.views[v]
        else:
            continue
        if math.isfinite(height):
            lines[name] = Line(height, allowed if mark.has_height else 0.0, view)
    return lines


def _midlines(sheet: Sheet, placed: Mapping[tuple[str, str], Average]) -> dict[str, float]:
    """Return x of the body's midline in each straight view: the median of what says it."""
    found: dict[str, float] = {}
    marks = sheet.vocabulary.landmarks
    for view in sheet.straight_on:
        at = {name: one.x for (on, name), one in placed.items() if on == view}
        says = [at[name] for name in at if marks[name].midline and marks[name].symmetric]
        says += [
            (at[left.name] + at[right.name]) / 2
            for left, right in sheet.vocabulary.pairs()
            if left.name in at and right.name in at and left.symmetric and right.symmetric
        ]
        if says:
            found[view] = float(np.median(says))
    return found


def as_message(readings: Readings) -> dict[str, object]:
    """Return readings as plain values for the page; what is not finite is left out."""
    height = readings.figure_height
    loose = None if height is None else round(LOOSE_FROM / 100.0 * height, 2)
    return {
        "scales": {
            name: {"scale": ruler.scale, "ground": ruler.ground}
            for name, ruler in readings.height_scales.items()
            if math.isfinite(ruler.scale) and math.isfinite(ruler.ground) and ruler.scale > 0
        },
        "of": [
            {
                "view": view,
                "landmark": name,
                "verdict": said.verdict,
                "words": said.words,
                "notes": list(said.notes),
            }
            for (view, name), said in readings.of.items()
        ],
        "lines": {name: vars(line) for name, line in readings.lines.items()},
        "midlines": dict(readings.midlines),
        "waiting": readings.waiting,
        "figure_height": height,
        "loose_from": loose,
    }

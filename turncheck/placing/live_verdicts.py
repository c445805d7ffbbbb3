"""What the measuring says of the placings made so far, complete or not.

The numbers are those of `turncheck check`: the same `measure` and the same checks run here, on the
views that can be measured already. Nothing on the page has a rule of its own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.finding import Finding, as_table, waive
from turncheck.checks.register import all_checks, tolerances_for
from turncheck.errors import TurncheckError
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.height_scale import HeightScale, fixed_height_scale
from turncheck.geometry.majority import find_majority
from turncheck.geometry.measurement import Measurement, measure
from turncheck.sheet.model import CONSENSUS, Sheet
from turncheck.sheet.vocabulary import Landmark
from turncheck.wording import sentence_px, spoken

#: Below this a drift has no way, px; common practice, no source.
LEAST_SAID = 0.05
UPRIGHT = ("too high", "too low")
SIDEWAYS = ("too far right", "too far left")
#: Standard uncertainty of a proposal that nobody has looked at, % of H: it lies on the ruled height
#: by its making, so it must not be able to prove that the drawing is on model. Wide enough for
#: 'undecided' at every default tolerance; chosen for that.
UNSEEN_SD = 1.5
#: From here on a placing counts as loose, and moving it gives it the sheet's own, % of H.
LOOSE_FROM = 0.75
#: By a landmark's kind, the check that judges its placing in one view: its height, or of a pair
#: that marks a width how far its middle lies from the midline. The others need the whole sheet.
LIVE = {"height": "height", "eye": "eye_line", "pivot": "pivot", "width": "pairing"}


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
    sheet: Sheet, placings: pd.DataFrame, landmarks: Sequence[str] | None = None
) -> Readings:
    """Measure what is placed so far.

    Parameters
    ----------
    placings
        As `read_landmarks` gives them; any may be missing.
    landmarks
        Those whose readings are wanted; None for all.
    """
    midlines = _midlines(sheet, placings)
    grounded = set(placings.loc[placings["landmark"] == "ground", "view"])
    views = {name: view for name, view in sheet.views.items() if name in grounded}
    height_scales = {
        name: fixed_height_scale(float(_of(placings, name, "ground")["y"].mean()), 0.0)
        for name in views
    }
    base = sheet.base
    missing = [
        f"{name} on {spoken(base)}"
        for name in ("ground", "crown")
        if _of(placings, base, name).empty
    ]
    if missing:
        waiting = f"Place {' and '.join(missing)}: every height is measured from ground to crown."
        return Readings(height_scales=height_scales, midlines=midlines, waiting=waiting)
    try:
        measured = measure(replace(sheet, views=views), placings[placings["view"].isin(grounded)])
    except TurncheckError:
        waiting = f"The crown on {spoken(base)} lies below the ground: place one of them again."
        return Readings(height_scales=height_scales, midlines=midlines, waiting=waiting)
    height_scales = dict(zip(measured.views, measured.height_scales, strict=True))
    wanted = [name for name in measured.landmarks if landmarks is None or name in landmarks]
    return Readings(
        height_scales=height_scales,
        of=_readings(measured, wanted),
        lines=_lines(measured, wanted),
        midlines=midlines,
        waiting=_still_waiting(sheet, views),
        figure_height=measured.figure_height,
    )


def _still_waiting(sheet: Sheet, views: Mapping[str, object]) -> str:
    left = [spoken(name) for name in sheet.views if name not in views]
    if left:
        return f"Place the ground on {', '.join(left)}: heights are compared from the ground."
    return ""


def _of(placings: pd.DataFrame, view: str, landmark: str) -> pd.DataFrame:
    return placings[(placings["view"] == view) & (placings["landmark"] == landmark)]


def _live_checks(measured: Measurement) -> dict[str, tuple[Check, Tolerances]]:
    return {
        check.name: (check, tolerances_for(check, measured))
        for check in all_checks()
        if check.name in LIVE.values()
    }


def _readings(measured: Measurement, wanted: Sequence[str]) -> dict[tuple[str, str], Reading]:
    """Run the live checks over some landmarks and what they are compared with."""
    sheet = measured.sheet
    if sheet.reference == CONSENSUS and len(measured.views) < 3:
        return {}
    marks = sheet.vocabulary.landmarks
    kinds = {LIVE[marks[name].kind] for name in wanted}
    needed = {"ground", "crown", *sheet.vocabulary.eyes, *wanted}
    needed |= {marks[name].twin for name in wanted} | {marks[n].coincides_with for n in wanted}
    if LIVE["width"] in kinds:  # every pair says where the midline is
        needed |= set(measured.landmarks)
    keep = [i for i, name in enumerate(measured.landmarks) if name in needed]
    part = replace(
        measured,
        landmarks=tuple(measured.landmarks[i] for i in keep),
        x=measured.x[:, keep],
        y=measured.y[:, keep],
        sd=measured.sd[:, keep],
        hidden=measured.hidden[:, keep],
    )
    rows: list[Finding] = []
    for name, (check, tolerances) in _live_checks(measured).items():
        if name in kinds:
            rows.extend(row for row in check.run(part, tolerances) if row.unit == "pct_height")
    if sheet.waivers:
        waived = waive(as_table(rows), sheet.waivers)
        rows = [
            replace(row, verdict=verdict)
            for row, verdict in zip(rows, waived["verdict"], strict=True)
        ]
    found: dict[tuple[str, str], Reading] = {}
    for name in wanted:
        for v, view in enumerate(measured.views):
            if np.isfinite(measured.y[v, measured.landmarks.index(name)]):
                mine = [row for row in rows if row.view == view and name in row.landmarks.split()]
                found[view, name] = _reading(measured, marks[name], view, mine)
    return found


def _reading(measured: Measurement, mark: Landmark, view: str, rows: list[Finding]) -> Reading:
    if not mark.has_height:
        return _reading_across(mark, rows)
    rows = [row for row in rows if row.check != LIVE["width"]]
    notes = tuple(
        _note(measured, row)
        for row in rows
        if row.subject not in (mark.name, "eye_line")
        and len(row.landmarks.split()) > 1
        and row.verdict == Verdict.OFF_MODEL.value
    )
    if mark.name == "ground":
        return Reading("ground", "the ground", notes=notes)
    own = next((row for row in rows if row.subject in (mark.name, "eye_line")), None)
    if own is None and view == measured.sheet.reference:
        return Reading("reference", "the reference", notes=notes)
    if own is None or own.verdict == Verdict.NOT_MEASURED.value:
        reference = measured.sheet.reference
        return Reading("waiting", f"not on {spoken(reference)} yet", notes=notes)
    if own.note:
        notes = (own.note.replace("_", " "), *notes)
    return Reading(own.verdict, in_words(own), own.drift_px, notes)


def _reading_across(mark: Landmark, rows: list[Finding]) -> Reading:
    """Return what is said of a width: its pair's place in front and back, nothing elsewhere."""
    own = next((row for row in rows if row.check == LIVE["width"]), None)
    if own is None:
        return Reading("across", "compared sideways by the check")
    note = "the pair's middle, against the midline" if mark.twin else "against the midline"
    return Reading(own.verdict, in_words(own, SIDEWAYS), own.drift_px, (note,))


def _note(measured: Measurement, row: Finding) -> str:
    """Return what else is off where a landmark is placed: its twin's level, or its seat."""
    marks = measured.sheet.vocabulary.landmarks
    one, other = (marks[name].title for name in row.landmarks.split()[:2])
    return f"{one} and {other} are {sentence_px(row.drift_px)} apart"


def in_words(finding: Finding, ways: tuple[str, str] = UPRIGHT) -> str:
    """Return a judged height, or place across, as the page says it.

    Parameters
    ----------
    ways
        What a drift above zero is, and one below.

    >>> in_words(Finding("height", "side", "chin", drift_px=-12.2, verdict="off_model"))
    '12 px too low'
    >>> in_words(Finding("height", "side", "chin", drift_px=6.24, verdict="undecided"))
    'undecided, 6.2 px high'
    """
    too_far = ways[0] if finding.drift_px > 0 else ways[1]
    way = too_far.split()[-1]
    amount = sentence_px(finding.drift_px)
    if finding.verdict == Verdict.UNDECIDED.value and abs(finding.drift_px) < LEAST_SAID:
        return "undecided"
    if finding.verdict == Verdict.OFF_MODEL.value:
        return f"{amount} {too_far}"
    if finding.verdict == Verdict.UNDECIDED.value:
        return f"undecided, {amount} {way}"
    if finding.verdict == Verdict.WAIVED.value:
        return f"waived, {amount} {way}"
    return "on model"


def _lines(measured: Measurement, wanted: Sequence[str]) -> dict[str, Line]:
    checks = _live_checks(measured)
    lines: dict[str, Line] = {}
    for name in wanted:
        mark = measured.sheet.vocabulary.landmarks[name]
        _, tolerances = checks[LIVE[mark.kind] if mark.has_height else "height"]
        allowed = tolerances.of(name) / 100.0 * measured.figure_height
        heights, sd = measured.line(measured.height_scales, measured.columns(name))
        placed = np.flatnonzero(np.isfinite(heights))
        reference = measured.reference
        if reference is not None and reference in placed:
            height, view = float(heights[reference]), measured.views[reference]
        elif reference is None and len(placed) >= 3:
            height, view = find_majority(heights, sd, allowed).centre, ""
        elif len(placed):
            height, view = float(heights[placed[0]]), measured.views[placed[0]]
        else:
            continue
        if math.isfinite(height):
            lines[name] = Line(height, allowed if mark.has_height else 0.0, view)
    return lines


def _midlines(sheet: Sheet, placings: pd.DataFrame) -> dict[str, float]:
    """Return x of the body's midline in each straight view: the median of what says it."""
    found: dict[str, float] = {}
    marks = sheet.vocabulary.landmarks
    for view in sheet.straight_on:
        means = placings[placings["view"] == view].groupby("landmark")["x"].mean()
        at = {str(name): float(x) for name, x in means.items()}
        says = [at[name] for name in at if marks[name].midline and marks[name].symmetric]
        says += [
            (at[left.name] + at[right.name]) / 2
            for left, right in sheet.vocabulary.pairs()
            if left.name in at and right.name in at and left.symmetric and right.symmetric
        ]
        if says:
            found[view] = float(np.median(says))
    return found


def _share(figure_height: float | None, percent: float) -> float | None:
    return None if figure_height is None else round(percent / 100.0 * figure_height, 2)


def as_message(readings: Readings) -> dict[str, object]:
    """Return readings as plain values for the page; what is not finite is left out."""
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
        "unseen_sd": _share(readings.figure_height, UNSEEN_SD),
        "loose_from": _share(readings.figure_height, LOOSE_FROM),
    }

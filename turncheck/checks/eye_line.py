"""`eye_line`: whether the eyes look out at one height in every drawing, level in each."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import compare_heights, compare_levels
from turncheck.checks.finding import Finding, Kind, Subject, not_measured
from turncheck.checks.note import LandmarkName, noted
from turncheck.checks.spans import compare_ratios
from turncheck.geometry.measurement import Measurement

LINE = Subject(Kind.POINT, "eye_line")
IN_HEAD = Subject(Kind.RATIO, "eye_line in head")


def find_eye_line_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield the eye line across views, its tilt within each, and its place in the head."""
    eyes = _eyes(measured)
    if not eyes:
        yield not_measured(CHECK.name, "", LINE, "no eye is placed")
        return
    tolerance = tolerances.of(*eyes)
    yield from compare_heights(measured, CHECK.name, replace(LINE, landmarks=eyes), tolerance)
    yield from _within_drawings(measured, tolerances)


def _eyes(measured: Measurement) -> tuple[str, ...]:
    return tuple(name for name in measured.sheet.vocabulary.eyes if name in measured.landmarks)


def _within_drawings(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield the line's tilt, and its place in the head."""
    vocabulary, eyes = measured.sheet.vocabulary, _eyes(measured)
    tolerance = tolerances.of(*eyes)
    for left, right in vocabulary.pairs("eye"):
        if left.name in eyes and right.name in eyes:
            for v in range(len(measured.views)):
                if np.isfinite(measured.y[v, measured.columns(left.name, right.name)]).all():
                    yield compare_levels(measured, CHECK.name, v, left.name, right.name, tolerance)

    crown, chin = vocabulary.head
    if chin not in measured.landmarks:
        reason = noted("{} is not placed", LandmarkName(chin))
        yield not_measured(CHECK.name, "", IN_HEAD, reason, "pct_ratio")
        return
    line, low = (measured.table.means(measured.columns(*ends))[0] for ends in (eyes, (chin,)))
    apart = np.abs(line - low)
    apart = apart[np.isfinite(apart)]
    span = float(np.median(apart)) if apart.size else measured.figure_height  # nothing to compare
    # the same distance as the eye line's own tolerance, as a share of eye to chin
    share = tolerance * measured.figure_height / max(span, 1e-9)
    yield from compare_ratios(
        measured, CHECK.name, IN_HEAD, (eyes, (chin,)), ((crown,), (chin,)), share
    )


CHECK = Check(
    name="eye_line",
    title="Eye line",
    order=30,
    unit="pct_height",
    tolerance=0.5,
    judges=("eye",),
    measures="the height of the eye line from drawing to drawing, whether both eyes are level, "
    "and where the line cuts the head",
    why="the eyes are what the audience looks at: a drop of a few px makes the face jump",
    mend="move the eyes, not the head, by the px given",
    run=find_eye_line_drift,
    within=_within_drawings,
)

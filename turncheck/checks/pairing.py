"""`pairing`: whether left and right mirror each other in the front and back drawings."""

import math
from collections.abc import Iterator

import numpy as np

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import compare_levels, within_view
from turncheck.checks.finding import NOTHING, Finding, Kind, Subject, not_measured
from turncheck.checks.note import ViewName, noted
from turncheck.geometry.measurement import Measurement
from turncheck.numerics.robust import robust_centre
from turncheck.sheet.vocabulary import Landmark


def find_pairing_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield, in front and back, how far pairs and midline landmarks lie from the midline."""
    if not measured.sheet.symmetric:
        yield not_measured(CHECK.name, "", NOTHING, "the sheet says that the body is not symmetric")
        return
    views = measured.straight_on
    if not views:
        yield not_measured(CHECK.name, "", NOTHING, "there is no front or back drawing")
    for v in views:
        yield from _one_view(measured, v, tolerances)


def _one_view(measured: Measurement, v: int, tolerances: Tolerances) -> Iterator[Finding]:
    view, vocabulary = measured.views[v], measured.sheet.vocabulary
    midline_marks = [(mark,) for mark in vocabulary.landmarks.values() if mark.midline]
    groups = [
        marks
        for marks in (*vocabulary.pairs(), *midline_marks)
        if all(mark.symmetric for mark in marks) and _placed(measured, v, marks)
    ]
    if len(groups) < 2:
        reason = noted("too few pairs are placed on {}", ViewName(view))
        yield not_measured(CHECK.name, view, NOTHING, reason)
        return
    columns = [measured.columns(*(mark.name for mark in group)) for group in groups]
    middles = np.array([measured.x[v, c].mean() for c in columns])
    sds = np.array([math.sqrt(float(np.sum(measured.sd[v, c] ** 2))) / len(c) for c in columns])
    midline, midline_sd = robust_centre(middles, sds)
    for group, middle, sd in zip(groups, middles, sds, strict=True):
        names = tuple(mark.name for mark in group)
        yield within_view(
            measured,
            CHECK.name,
            v,
            Subject(Kind.MIDDLE, "/".join(names), names, sideways=True),
            float(middle - midline),
            math.hypot(float(sd), midline_sd),
            tolerances.of(*names),
        )
        if len(names) == 2 and group[0].kind == "height":
            yield compare_levels(measured, CHECK.name, v, *names, tolerances.of(*names))


def _placed(measured: Measurement, v: int, marks: tuple[Landmark, ...]) -> bool:
    columns = measured.columns(*(mark.name for mark in marks))
    return len(columns) == len(marks) and bool(np.isfinite(measured.x[v, columns]).all())


CHECK = Check(
    name="pairing",
    title="Left and right",
    order=60,
    unit="pct_height",
    tolerance=1.0,
    judges=("width",),
    measures="in front and back, how far the middle of each left and right pair lies from the "
    "midline",
    why="a figure that leans or is wider on one side can't be flipped",
    mend="move the pair sideways, or the one of the two that is off",
    run=find_pairing_drift,
)

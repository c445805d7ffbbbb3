"""`pivot`: whether the pivots sit at one height in every drawing, level and on each other."""

import math
from collections.abc import Iterator

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import compare_heights, compare_levels, unplaced, within_view
from turncheck.checks.finding import NOTHING, Finding, Kind, Subject, not_measured
from turncheck.checks.posing import without_posed
from turncheck.geometry.measurement import Measurement
from turncheck.sheet.vocabulary import Landmark


def find_pivot_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield pivot heights across views, left against right, and pivots that must coincide."""
    pivots = _placed(measured)
    if not pivots:
        yield not_measured(CHECK.name, "", NOTHING, "no pivot is placed")
    for mark in pivots:
        subject = Subject(Kind.POINT, mark.name, (mark.name,))
        yield from compare_heights(measured, CHECK.name, subject, tolerances.of(mark.name))
    yield from _within_drawings(measured, tolerances)


def _placed(measured: Measurement) -> list[Landmark]:
    pivots = measured.sheet.vocabulary.of_kind("pivot")
    return [mark for mark in pivots if mark.name in measured.landmarks]


def _within_drawings(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    yield from without_posed(measured, CHECK.name, _levels(measured, tolerances))
    for mark in _placed(measured):
        if mark.coincides_with in measured.landmarks:
            yield from _coincidence(measured, mark.name, mark.coincides_with, tolerances)


def _levels(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    views = measured.straight_on if measured.sheet.symmetric else []
    for left, right in measured.sheet.vocabulary.pairs("pivot"):
        placed = left.name in measured.landmarks and right.name in measured.landmarks
        if placed and left.symmetric and right.symmetric:
            tolerance = tolerances.of(left.name, right.name)
            for v in views:
                yield compare_levels(measured, CHECK.name, v, left.name, right.name, tolerance)


def _coincidence(
    measured: Measurement, name: str, other: str, tolerances: Tolerances
) -> Iterator[Finding]:
    mine, theirs = measured.columns(name, other)
    subject = Subject(Kind.SEAT, f"{name} on {other}", (name, other))
    for v, view in enumerate(measured.views):
        missing = unplaced(measured, v, (name, other))
        if missing:
            yield not_measured(CHECK.name, view, subject, missing)
            continue
        across, up = (at[v, mine] - at[v, theirs] for at in (measured.x, measured.y))
        apart, tolerance = math.hypot(across, up), tolerances.of(name, other)
        uncertainty = math.hypot(measured.sd[v, mine], measured.sd[v, theirs])
        yield within_view(measured, CHECK.name, v, subject, apart, uncertainty, tolerance)


CHECK = Check(
    name="pivot",
    title="Pivots",
    order=40,
    unit="pct_height",
    tolerance=0.75,
    judges=("pivot",),
    measures="the height of each pivot from drawing to drawing, left against right, and pivots "
    "that must sit on each other",
    why="a pivot at another height bends the limb in the wrong place in that view",
    mend="move the joint, and the drawing around it, by the px given",
    run=find_pivot_drift,
    within=_within_drawings,
)

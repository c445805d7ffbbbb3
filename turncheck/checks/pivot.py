"""`pivot`: whether the pivots sit at one height in every drawing, level and on each other."""

from __future__ import annotations

import math
from collections.abc import Iterator

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import (
    compare_heights,
    compare_levels,
    within_view,
)
from turncheck.checks.finding import Finding, not_measured
from turncheck.geometry.measurement import Measurement


def find_pivot_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield pivot heights across views, left against right, and pivots that must coincide."""
    pivots = [
        mark
        for mark in measured.sheet.vocabulary.of_kind("pivot")
        if mark.name in measured.landmarks
    ]
    if not pivots:
        yield not_measured(CHECK.name, "", "", "no pivot is placed")
    for mark in pivots:
        yield from compare_heights(
            measured, CHECK.name, mark.name, [mark.name], tolerances.of(mark.name)
        )
    yield from _levels(measured, tolerances)
    for mark in pivots:
        if mark.coincides_with in measured.landmarks:
            yield from _coincidence(measured, mark.name, mark.coincides_with, tolerances)


def _levels(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    if not measured.sheet.symmetric:
        return
    for left, right in measured.sheet.vocabulary.pairs("pivot"):
        if not (left.symmetric and right.symmetric):
            continue
        if left.name in measured.landmarks and right.name in measured.landmarks:
            tolerance = tolerances.of(left.name, right.name)
            for v in measured.straight_on:
                yield compare_levels(measured, CHECK.name, v, left.name, right.name, tolerance)


def _coincidence(
    measured: Measurement, name: str, other: str, tolerances: Tolerances
) -> Iterator[Finding]:
    mine, theirs = measured.columns(name, other)
    for v, view in enumerate(measured.views):
        subject = f"{name} on {other}"
        dx = measured.x[v, mine] - measured.x[v, theirs]
        dy = measured.y[v, mine] - measured.y[v, theirs]
        apart = math.hypot(dx, dy)
        if math.isnan(apart):
            missing = name if math.isnan(measured.x[v, mine]) else other
            yield not_measured(CHECK.name, view, subject, f"{missing} is not placed on {view}")
            continue
        uncertainty = math.hypot(measured.sd[v, mine], measured.sd[v, theirs])
        yield within_view(
            measured,
            CHECK.name,
            v,
            subject,
            apart,
            uncertainty,
            tolerances.of(name, other),
            (name, other),
        )


CHECK = Check(
    name="pivot",
    title="Pivots",
    order=40,
    unit="pct_height",
    tolerance=0.75,
    measures="the height of each pivot against the reference, left against right, and pivots "
    "that must sit on each other",
    why="a pivot at another height bends the limb in the wrong place in that view",
    mend="move the joint, and the drawing around it, by the px given",
    run=find_pivot_drift,
)

"""`eye_line`: whether the eyes look out at one height in every drawing, level in each."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import compare_heights, compare_levels
from turncheck.checks.finding import Finding, not_measured
from turncheck.checks.spans import compare_ratios
from turncheck.geometry.measurement import Measurement


def find_eye_line_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield the eye line across views, its tilt within each, and its place in the head."""
    vocabulary = measured.sheet.vocabulary
    eyes = [name for name in vocabulary.eyes if name in measured.landmarks]
    if not eyes:
        yield not_measured(CHECK.name, "", "eye_line", "no eye is placed")
        return
    tolerance = tolerances.of(*eyes)
    yield from compare_heights(measured, CHECK.name, "eye_line", eyes, tolerance)

    for left, right in vocabulary.pairs("eye"):
        if left.name in eyes and right.name in eyes:
            for v in range(len(measured.views)):
                if np.isfinite(measured.y[v, measured.columns(left.name, right.name)]).all():
                    yield compare_levels(measured, CHECK.name, v, left.name, right.name, tolerance)

    crown, chin = vocabulary.head
    line = measured.line(measured.height_scales, measured.columns(*eyes))[0]
    low = (
        measured.line(measured.height_scales, measured.columns(chin))[0]
        if chin in measured.landmarks
        else None
    )
    if low is None:
        yield not_measured(CHECK.name, "", "eye_line in head", f"{chin} is not placed", "pct_ratio")
        return
    span = float(np.nanmedian(np.abs(line - low)))
    yield from compare_ratios(
        measured,
        CHECK.name,
        "eye_line in head",
        (eyes, [chin]),
        ([crown], [chin]),
        # the same distance as the eye line's own tolerance, as a share of eye to chin
        tolerance * measured.figure_height / max(span, 1e-9),
    )


CHECK = Check(
    name="eye_line",
    title="Eye line",
    order=30,
    unit="pct_height",
    tolerance=0.5,
    measures="the height of the eye line against the reference, whether both eyes are level, "
    "and where the line cuts the head",
    why="the eyes are what the audience looks at: a drop of a few px makes the face jump",
    mend="move the eyes, not the head, by the px given",
    run=find_eye_line_drift,
)

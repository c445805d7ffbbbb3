"""`line_weight`: whether every drawing is inked with an outline of the same weight."""

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import compare_values
from turncheck.checks.finding import Finding, Kind, Subject
from turncheck.checks.note import Note, ViewName, joined, noted
from turncheck.geometry.measurement import Measurement

#: How far drawings by one brush differ however many pieces agree, px, one sd; chosen by the
#: measurement in tests/figures/line_weight.md.
LEAST_SD = 0.1

OUTLINE = Subject(Kind.LINE_WEIGHT, "outline")


def find_line_weight_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield the outline's median stroke width of each view, drawings brought to one size.

    Drifts are % of the usual weight, so that a reference that is too heavy is by as much.
    """
    sizes = measured.sizes
    widths, widths_sd = np.full((2, len(sizes)), np.nan)
    reasons = [Note()] * len(sizes)
    for v, features in enumerate(measured.features):
        view = ViewName(measured.views[v])
        if features.strokes is None:
            reasons[v] = noted("{} has no dark line work along its outline", view)
        elif not math.isfinite(sizes[v]):
            reasons[v] = noted("the size of {} is not known", view)
        else:
            widths[v] = features.strokes.width / sizes[v]
            widths_sd[v] = np.hypot(features.strokes.width_sd, LEAST_SD) / sizes[v]
    shared = Finding(CHECK.name, "", OUTLINE, tolerance_pct=tolerances.general, unit=CHECK.unit)
    known = widths[np.isfinite(widths)]
    percent = 100.0 / float(np.median(known)) if len(known) else None
    covariance = np.diag(widths_sd**2)
    for row in compare_values(
        measured, shared, widths, covariance, reasons, measured.reference, percent
    ):
        if not row.is_measured:
            yield row
            continue
        size = float(sizes[measured.views.index(row.view)])
        words = (
            f"the outline is {row.measured * size:.1f} px, "
            f"{measured.percent(row.measured):.2f} % of the figure; "
            f"{measured.percent(row.expected):.2f} % is expected"
        )
        yield replace(row.in_px(size), note=joined((words, row.note)))


CHECK = Check(
    name="line_weight",
    title="Line weight",
    order=80,
    unit="pct_ratio",
    tolerance=15.0,  # common practice, no source
    measures="how wide the outline is drawn, on the whole, with the drawings brought to one size",
    why="a heavier or lighter outline makes one drawing stand out from the others",
    mend="ink the drawing again with the brush of the others; a line that was scaled with its "
    "drawing goes with the size",
    run=find_line_weight_drift,
)

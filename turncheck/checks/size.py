"""`size`: whether each whole drawing is as large as the reference and stands on its ground."""

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import compare_values
from turncheck.checks.finding import Blame, Blamed, Finding, Kind, Subject, not_measured
from turncheck.checks.note import noted
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement

SCALE = Subject(Kind.SCALE, "scale", ("ground", "crown"))
GROUND = Subject(Kind.GROUND, "ground", ("ground",))
RULER = Subject(Kind.RULER, "ruler")


def find_size_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield scale and ground of each view, from the robust fit of all its heights."""
    name, reference, stand = CHECK.name, measured.reference, measured.stand
    reasons = [noted("{}", ruler.distrust) for ruler in measured.fitted]
    known = np.array([ruler.trusted for ruler in measured.fitted])
    scales, above = (np.where(known, values, np.nan) for values in (stand.scales, stand.above))

    shared = Finding(name, "", SCALE, tolerance_pct=tolerances.general)
    covariance = stand.scale_errors @ stand.scale_errors.T
    for row in compare_values(measured, shared, scales, covariance, reasons, reference, 100.0):
        yield row.in_px(measured.figure_height)

    # how far the figure, as all its heights have it, stands above the line it is placed on
    shared = Finding(name, "", GROUND, tolerance_pct=tolerances.general)
    covariance = stand.above_errors @ stand.above_errors.T
    percent = 100.0 / measured.figure_height
    for row in compare_values(measured, shared, above, covariance, reasons, reference, percent):
        scale = 1.0 if math.isnan(row.measured) else measured.size(measured.views.index(row.view))
        yield row.in_px(scale)

    if measured.sheet.placing == "fit":
        yield from _distrusted(measured)


def _distrusted(measured: Measurement) -> Iterator[Finding]:
    """Yield a row for each view that no size and position explain, where heights rest on them."""
    for view, ruler in zip(measured.views, measured.fitted, strict=True):
        if ruler.trusted:
            continue
        row = not_measured(CHECK.name, view, RULER, ruler.distrust, "pct_ratio")
        if np.isfinite(ruler.covariance).all() and ruler.landmarks >= 4:
            row = replace(row, verdict=Verdict.OFF_MODEL, blame=Blame(Blamed.THIS, (view,)))
        yield row


CHECK = Check(
    name="size",
    title="Size and ground",
    order=10,
    unit="pct_height",
    tolerance=1.0,
    measures="how large each whole drawing is beside the others, and whether it stands on its "
    "ground line",
    why="a drawing that is larger or floats shifts every pivot in it at once",
    mend="scale or move the whole drawing before anything else in it is redrawn",
    run=find_size_drift,
)

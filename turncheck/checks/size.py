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
    name, reference = CHECK.name, measured.reference
    height = measured.figure_height
    reasons = [noted("{}", ruler.distrust) for ruler in measured.fitted]
    scales = np.array([ruler.scale for ruler in measured.fitted])
    scales_sd = np.array([ruler.scale_sd for ruler in measured.fitted])
    if reference is not None:
        scales_sd[reference] = 0.0
    known = np.array([ruler.trusted for ruler in measured.fitted])
    scales[~known] = np.nan

    shared = Finding(name, "", SCALE, tolerance_pct=tolerances.general)
    for row in compare_values(measured, shared, scales, scales_sd, reasons, reference, 100.0):
        yield row.in_px(height)

    # how far the figure, as all its heights have it, stands above the line it is placed on
    ground = measured.columns("ground")[0]
    lines = np.array([ruler.ground for ruler in measured.height_scales])
    lines_sd = measured.sd[:, ground]
    if measured.sheet.placing == "fit":
        lines = measured.y[:, ground]
    fitted = np.array([ruler.ground for ruler in measured.fitted])
    sizes = np.where(known, scales, 1.0)
    above = np.where(known, (lines - fitted) / sizes, np.nan)
    above_sd = np.array([ruler.ground_sd for ruler in measured.fitted])
    if measured.sheet.placing != "canvas":
        above_sd = np.hypot(above_sd, lines_sd)
    above_sd /= sizes
    if reference is not None:
        above_sd[reference] = 0.0
    shared = Finding(name, "", GROUND, tolerance_pct=tolerances.general)
    percent = 100.0 / height
    for row in compare_values(measured, shared, above, above_sd, reasons, reference, percent):
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
    measures="how large each whole drawing is against the reference, and whether it stands on "
    "its ground line",
    why="a drawing that is larger or floats shifts every pivot in it at once",
    mend="scale or move the whole drawing before anything else in it is redrawn",
    run=find_size_drift,
)

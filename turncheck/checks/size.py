"""`size`: whether each whole drawing is as large as the reference and stands on its ground."""

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import compare_values
from turncheck.checks.finding import Blame, Blamed, Finding, Kind, Subject, not_measured
from turncheck.checks.note import Note, ViewName, noted
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.heights import Heights
from turncheck.geometry.measurement import Measurement

SCALE = Subject(Kind.SCALE, "scale", ("ground", "crown"))
GROUND = Subject(Kind.GROUND, "ground", ("ground",))
RULER = Subject(Kind.RULER, "ruler")


def find_size_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield scale and ground of each view, from the robust fit of all its heights.

    Where the sheet says that its drawings differ in size, both are told beside the base drawing's,
    and no amount of either is a fault.
    """
    fit, stand = measured.sheet.placing == "fit", measured.stand
    reasons = [noted("{}", ruler.distrust) for ruler in measured.fitted]
    known = np.array([ruler.trusted for ruler in measured.fitted])
    scales, above = (np.where(known, values, np.nan) for values in (stand.scales, stand.above))
    # how far the figure, as all its heights have it, stands above the line it is placed on
    percent = 100.0 / measured.figure_height
    for subject, values, errors, to_pct in (
        (SCALE, scales, stand.scale_errors, 100.0),
        (GROUND, above, stand.above_errors, percent),
    ):
        for row in compare_values(
            measured,
            Finding(CHECK.name, "", subject, tolerance_pct=tolerances.general),
            values,
            errors @ errors.T,
            reasons,
            measured.reference,
            to_pct,
            held_to=measured.base if fit else None,
        ):
            px = measured.figure_height
            if subject is GROUND:
                px = 1.0 if math.isnan(row.measured) else measured.size(_at(measured, row))
            row = row.in_px(px)
            yield _told(measured, row) if fit and row.is_measured else row
    if fit:
        yield from _distrusted(measured)


def _at(measured: Measurement, row: Finding) -> int:
    return measured.views.index(row.view)


def _told(measured: Measurement, row: Finding) -> Finding:
    """Return a row that is told and held to no tolerance."""
    note = size_note(measured, _at(measured, row))
    if row.subject is GROUND:
        off = 100.0 * row.measured / measured.figure_height / measured.size(_at(measured, row))
        where = f"{abs(off):.1f} % {'above' if off > 0 else 'below'} its ground line"
        note = noted(f"stands {where}, which counts for nothing here: its heights line it up")
    return replace(
        row, verdict=Verdict.NOT_MEASURED, tolerance_pct=math.nan, note=note, blame=Blame()
    )


def size_note(heights: Heights, v: int) -> Note:
    """Return how large a drawing is beside the base, and what to scale it by for the rig."""
    times = heights.size(v)
    base = ViewName(heights.sheet.base)
    if is_as_large(times):
        return noted("drawn as large as {}", base)
    by = f"{times:.2f} times as large as {{}}: scale by {1.0 / times:.2f} when it is built"
    return noted(f"drawn {by}", base)


def is_as_large(times: float) -> bool:
    """Whether a size is 1 as it is written."""
    return f"{times:.2f}" == "1.00"


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
    "ground line; both are only told where the sheet says that the sizes differ",
    why="a drawing that is larger or floats shifts every pivot in it at once",
    mend="scale or move the whole drawing before anything else in it is redrawn",
    run=find_size_drift,
)

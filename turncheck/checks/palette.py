"""`palette`: whether every drawing is painted in the same flat colours."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import compare_values
from turncheck.checks.finding import Finding, not_measured
from turncheck.checks.looking import not_looked_at
from turncheck.geometry.colour_matching import MatchedColour
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement
from turncheck.images.flat_colours import Fill
from turncheck.sheet.model import CONSENSUS

#: A fill of at least this share of a drawing's flat area does not vanish by turning a little;
#: common practice, no source.
LARGE = 0.03
#: Views no further apart than this see mostly the same side of the body, degrees; common
#: practice, no source.
CLOSE = 60.0


def find_palette_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield each fill's colour difference from the reference's, and fills without a match.

    A fill without a match is only judged where turning can't have hidden it.
    """
    if measured.features is None:
        yield from not_looked_at(measured, CHECK.name, "fills", CHECK.unit)
        return
    fills = [study.fills for study in measured.features]
    for view, found in zip(measured.views, fills, strict=True):
        if not found:
            reason = f"{view} has no flat fills"
            yield not_measured(CHECK.name, view, "fills", reason, CHECK.unit)
    large = [swatch for swatch in measured.paints if swatch.first.share >= LARGE]
    repainted = {v for swatch in large for v in _only(swatch)}
    for swatch in measured.paints:
        yield from _compared(measured, swatch, fills, repainted, tolerances.general)


def _only(swatch: MatchedColour) -> list[int]:
    """Return the view that alone shows a swatch, if one does."""
    seen = [v for v, fill in enumerate(swatch.fills) if fill is not None]
    return seen if len(seen) == 1 else []


def _compared(
    measured: Measurement,
    swatch: MatchedColour,
    fills: list[tuple[Fill, ...]],
    repainted: set[int],
    tolerance: float,
) -> Iterator[Finding]:
    """Yield one swatch's rows: where it is seen, where it is not, or where alone it is.

    `repainted` are the views with much of a fill that no other view has.
    """
    reference = measured.reference
    hidden = reference is None or swatch.fills[reference] is None
    shared = Finding(CHECK.name, "", swatch.label, tolerance_pct=tolerance, unit=CHECK.unit)
    seen = [v for v, fill in enumerate(swatch.fills) if fill is not None]
    if hidden and len(seen) == 1:
        yield _extra(measured, swatch, replace(shared, view=measured.views[seen[0]]), fills)
        return
    if len(seen) > 1:
        against = measured
        if hidden:  # the drawings that show it are held against each other
            against = replace(measured, sheet=replace(measured.sheet, reference=CONSENSUS))
        values, sd = swatch.distances(against.reference, tolerance)
        reasons = ["" if fill else "not seen" for fill in swatch.fills]
        for row in compare_values(against, shared, values, sd, reasons, percent=1.0):
            fill = swatch.fills[measured.views.index(row.view)]
            if fill is not None:
                yield _as_distance(row, fill)
    for v, view in enumerate(measured.views):
        if v not in seen and v != reference and fills[v]:
            row = replace(shared, view=view)
            yield _missing(measured, swatch, row, fills[v], v in repainted)


def _as_distance(row: Finding, fill: Fill) -> Finding:
    """Return a row whose drift is a distance between colours: it has no sign."""
    note = row.note
    if row.verdict != Verdict.ON_MODEL.value:
        note = "; ".join(filter(None, (f"it is {fill.label} {_near(fill)}", note)))
    drift = abs(row.drift_pct)
    return replace(
        row, expected=0.0, measured=drift, drift_pct=drift, odd_pct=abs(row.odd_pct), note=note
    )


def _missing(
    measured: Measurement,
    swatch: MatchedColour,
    row: Finding,
    theirs: tuple[Fill, ...],
    repainted: bool,
) -> Finding:
    """Return the row of a fill that a drawing lacks.

    It is off model where all other drawings show much of it, one of them from nearly the same
    side; undecided where this one has much of another fill instead, repainted or in front of
    it; otherwise it may be hidden from there.
    """
    v = measured.views.index(row.view)
    others = {w: fill for w, fill in enumerate(swatch.fills) if w != v}
    example = next(w for w, fill in others.items() if fill is not None)
    where = f"{measured.views[example]} has it {_near(swatch.first)}"
    nearest, apart = swatch.nearest(theirs)
    where += f"; nearest here is {nearest.label} {_near(nearest)}"
    plenty = all(fill is not None and fill.share >= LARGE for fill in others.values())
    close = any(_angle(measured, v, w) <= CLOSE for w in others)
    if plenty and repainted and not close:
        note = f"no such fill but much of one that no other drawing has: repainted? {where}"
        return replace(row, verdict=Verdict.UNDECIDED.value, note=note)
    if plenty and close:
        uncertainty = float(np.hypot(nearest.sd, swatch.first.sd))
        return _unmatched(measured, row, apart, uncertainty, f"this fill is missing; {where}")
    return replace(row, note=f"no such fill, it may be hidden from this side; {where}")


def _extra(
    measured: Measurement, swatch: MatchedColour, row: Finding, fills: list[tuple[Fill, ...]]
) -> Finding:
    """Return the row of a fill that only one drawing has.

    It is off model where there is much of it and another drawing shows nearly the same side;
    otherwise the others may hide it.
    """
    v = measured.views.index(row.view)
    close = [
        fill
        for w, theirs in enumerate(fills)
        if w != v and _angle(measured, v, w) <= CLOSE
        for fill in theirs
    ]
    if swatch.first.share >= LARGE and close:
        nearest, apart = swatch.nearest(close)
        note = f"an extra fill {_near(swatch.first)}; nearest elsewhere is {nearest.label}"
        return _unmatched(measured, row, apart, float(np.hypot(nearest.sd, swatch.first.sd)), note)
    return replace(row, note=f"only here, {_near(swatch.first)}; other drawings may hide it")


def _unmatched(
    measured: Measurement, row: Finding, apart: float, uncertainty: float, note: str
) -> Finding:
    """Return the off-model row of a fill without a match: as far off as the nearest colour."""
    blamed = len(measured.views) > 2
    return replace(
        row,
        expected=0.0,
        measured=apart,
        drift_pct=apart,
        uncertainty_pct=uncertainty,
        verdict=Verdict.OFF_MODEL.value,
        odd_view=row.view if blamed else "",
        odd_pct=apart if blamed else np.nan,
        note=note,
    )


def _angle(measured: Measurement, v: int, w: int) -> float:
    """Return the angle between two views, degrees."""
    one, other = (measured.sheet.views[measured.views[i]].yaw for i in (v, w))
    return abs((one - other + 180.0) % 360.0 - 180.0)


def _near(fill: Fill) -> str:
    return f"near ({fill.at[0]:.0f}, {fill.at[1]:.0f})"


CHECK = Check(
    name="palette",
    title="Colours",
    order=90,
    unit="delta_e",
    # Just noticeable: Mahy, Van Eycken and Oosterlinck, Color Res. Appl. 19 (1994) 105-121, who
    # give 2.3 in CIE76; the figure is quoted from memory
    tolerance=2.3,
    measures="each flat fill's colour against the reference, as the CIEDE2000 difference",
    why="a coat that changes colour between drawings is painted wrong in the rig as well",
    mend="pick the colour from the reference drawing and fill again",
    run=find_palette_drift,
)

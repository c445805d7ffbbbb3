"""`palette`: whether every drawing is painted in the same flat colours."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import compare_values
from turncheck.checks.finding import Blame, Blamed, Cause, Finding, Kind, Subject, not_measured
from turncheck.checks.note import Note, ViewName, joined, noted
from turncheck.geometry.colour_matching import MatchedColour
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement
from turncheck.images.flat_colours import Fill
from turncheck.numerics.angles import wrapped

#: A fill of at least this share of a drawing's flat area does not vanish by turning a little;
#: common practice, no source.
LARGE = 0.03
#: Views no further apart than this see mostly the same side of the body, degrees; common
#: practice, no source.
CLOSE = 60.0
#: Degrees by which views may be more than opposite each other; common practice, no source.
NEARLY = 5.0

FILLS = Subject(Kind.FILL, "fills")


def find_palette_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield each fill's colour difference from the reference's, and fills without a match.

    A fill without a match is only judged where turning can't have hidden it.
    """
    fills = [features.fills for features in measured.features]
    for view, found in zip(measured.views, fills, strict=True):
        if not found:
            reason = noted("{} has no flat fills", ViewName(view))
            yield not_measured(CHECK.name, view, FILLS, reason, CHECK.unit)
    alone = [swatch for swatch in measured.paints if len(swatch.seen) == 1]
    repainted = {swatch.seen[0] for swatch in alone if swatch.first.share >= LARGE}
    for swatch in measured.paints:
        yield from _compared(measured, swatch, fills, repainted, tolerances.general)


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
    subject = Subject(Kind.FILL, swatch.label, fill=swatch)
    shared = Finding(CHECK.name, "", subject, tolerance_pct=tolerance, unit=CHECK.unit)
    seen = swatch.seen
    if hidden and len(seen) == 1:
        yield _extra(measured, swatch, replace(shared, view=measured.views[seen[0]]), fills)
        return
    if len(seen) > 1:
        against = None if hidden else reference  # else those that show it, against each other
        values, sd = swatch.distances(against, tolerance)
        reasons = [Note() if fill else noted("not seen") for fill in swatch.fills]
        covariance = np.diag(sd**2)
        for row in compare_values(
            measured, shared, values, covariance, reasons, against, percent=1.0, held_to=against
        ):
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
    if row.verdict is not Verdict.ON_MODEL:
        note = joined((f"it is {fill.label} {_near(fill)}", note))
    drift = abs(row.drift_pct)
    blame = replace(row.blame, amount=abs(row.blame.amount))
    return replace(row, expected=0.0, measured=drift, drift_pct=drift, blame=blame, note=note)


def _missing(
    measured: Measurement,
    swatch: MatchedColour,
    row: Finding,
    theirs: tuple[Fill, ...],
    repainted: bool,
) -> Finding:
    """Return the row of a fill that a drawing lacks.

    It is off model where all other drawings show much of it, one of them from nearly the same
    side and two from either side, between which nothing of it can turn away; undecided where this
    one has much of another fill instead, repainted or in front of it; otherwise it may be hidden
    from there.
    """
    v = measured.views.index(row.view)
    others = {w: fill for w, fill in enumerate(swatch.fills) if w != v}
    example = next(w for w, fill in others.items() if fill is not None)
    nearest, apart = swatch.nearest(theirs)
    where = noted(
        "{} has it {}; nearest here is {} {}",
        ViewName(measured.views[example]),
        _near(swatch.first),
        nearest.label,
        _near(nearest),
    )
    plenty = all(fill is not None and fill.share >= LARGE for fill in others.values())
    close = any(_angle(measured, v, w) <= CLOSE for w in others)
    if plenty and repainted and not close:
        note = noted("no such fill but much of one that no other drawing has: repainted? {}", where)
        return replace(row, verdict=Verdict.UNDECIDED, cause=Cause.MISSING, note=note)
    if plenty and close and _between(measured, v, swatch.seen):
        row = replace(row, cause=Cause.MISSING, note=noted("this fill is missing; {}", where))
        return _unmatched(measured, row, apart, swatch.first, nearest)
    return replace(row, note=noted("no such fill, it may be hidden from this side; {}", where))


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
        there = _near(swatch.first)
        note = noted("an extra fill {}; nearest elsewhere is {}", there, nearest.label)
        subject = replace(row.subject, nearest=nearest)
        row = replace(row, subject=subject, cause=Cause.EXTRA, note=note)
        return _unmatched(measured, row, apart, swatch.first, nearest)
    note = noted("only here, {}; other drawings may hide it", _near(swatch.first))
    return replace(row, note=note)


def _unmatched(
    measured: Measurement, row: Finding, apart: float, fill: Fill, nearest: Fill
) -> Finding:
    """Return the off-model row of a fill without a match: as far off as the nearest colour."""
    blame = Blame(Blamed.THIS, (row.view,), apart) if len(measured.views) > 2 else Blame()
    return replace(
        row,
        expected=0.0,
        measured=apart,
        drift_pct=apart,
        uncertainty_pct=float(np.hypot(nearest.sd, fill.sd)),
        verdict=Verdict.OFF_MODEL,
        blame=blame,
    )


def _angle(measured: Measurement, v: int, w: int) -> float:
    """Return the angle between two views, degrees."""
    one, other = (measured.sheet.views[measured.views[i]].yaw for i in (v, w))
    return abs(wrapped(one - other))


def _between(measured: Measurement, v: int, seen: list[int]) -> bool:
    """Return whether a view lies between two that show a fill, no more than opposite each other.

    What faces both faces every view between them.
    """
    yaws = [measured.sheet.views[view].yaw for view in measured.views]
    turns = [wrapped(yaws[w] - yaws[v]) for w in seen]
    before, after = ([abs(turn) for turn in turns if sign * turn > 0] for sign in (-1, 1))
    return bool(before and after) and min(before) + min(after) <= 180.0 + NEARLY


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
    measures="each flat fill's colour from drawing to drawing, as the CIEDE2000 difference",
    why="a coat that changes colour between drawings is painted wrong in the rig as well",
    mend="pick the colour from a drawing that has it right and fill again",
    run=find_palette_drift,
)

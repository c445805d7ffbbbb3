"""What follows from a cause that is told already, and needs no work of its own.

Whether a pair, a ratio or a midline is still off once every point lies where it is told to is
computed: the checks run again on the drawings as told. Outlines are not drawn anew; they follow
where they break in the part that moves. Fills never follow: those that are judged are too large for
a part that moves by a few per cent to hide or bare them.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from turncheck.checks.finding import Finding, Kind
from turncheck.checks.register import all_checks, tolerances_for
from turncheck.checks.verdicts import key_of
from turncheck.geometry.measurement import Measurement
from turncheck.geometry.outlines import Contradiction
from turncheck.instructions.instruction import Instruction, Row, target_of
from turncheck.instructions.whole import is_explained, resized_views
from turncheck.numerics.arrays import Floats

#: How far the drawing around a landmark goes along with it, % of the figure height, or as a share
#: of the height that its part takes up if that is more; common practice, no source.
PART_REACH, PART_SHARE = 4.0, 0.2

#: Where each landmark of each view goes, px of its drawing.
Ways = dict[tuple[str, str], tuple[float, float]]


def followers(
    measured: Measurement, rows: Sequence[Row], causes: Sequence[Instruction]
) -> dict[int, int]:
    """Return the rows that follow from a cause, and each one's cause, both by index."""
    if not causes:
        return {}
    mended = _mended(measured, rows, causes)
    found = {}
    for row, finding in rows:
        kind = finding.subject.kind
        for n in sorted(range(len(causes)), key=lambda n: -abs(causes[n].amount_pct)):
            cause = causes[n]
            if row in mended:
                follows = _is_involved(measured, finding, cause)
            elif kind is Kind.POINT and not finding.subject.sideways:
                follows = is_explained(measured, finding, resized_views([cause]))
            else:
                follows = _breaks_there(measured, finding.subject.contradiction, cause)
            if follows and row not in cause.findings:
                found[row] = n
                break
    return found


def _mended(measured: Measurement, rows: Sequence[Row], causes: Sequence[Instruction]) -> set[int]:
    """Return the rows that compare places and are not off once all lies where it is told to."""
    compared = {
        key_of(finding): row
        for row, finding in rows
        if finding.subject.kind.is_within_a_drawing or finding.subject.kind is Kind.RATIO
    }
    names = {check for check, _, _ in compared}
    mended: set[int] = set()
    for ways in _as_told(measured, causes) if compared else ():
        told = _moved(measured, ways, causes)
        for check in all_checks():
            if check.name in names:
                run = check.within or check.run
                for finding in run(told, tolerances_for(check, measured.sheet)):
                    if key_of(finding) in compared and not finding.is_off_model:
                        mended.add(compared[key_of(finding)])
    return mended


def _as_told(measured: Measurement, causes: Iterable[Instruction]) -> Iterator[Ways]:
    """Yield where the landmarks go that are to be moved; one for each answer to each question."""
    settled: Ways = {}
    questions = []
    for cause in causes:
        ways = {(v, name): way for v, way in cause.move_px.items() for name in cause.landmarks}
        if cause.settled:
            for at, way in ways.items():
                before = settled.get(at, (0.0, 0.0))
                settled[at] = (before[0] + way[0], before[1] + way[1])
        else:
            questions.append(ways)
    yield settled
    for ways in questions:
        for view in dict.fromkeys(view for view, _ in ways):
            yield settled | {at: way for at, way in ways.items() if at[0] == view}


def _moved(measured: Measurement, ways: Ways, causes: Iterable[Instruction]) -> Measurement:
    """Return the placings as they are told to be; what else is measured stays as it is."""
    x, y = measured.x.copy(), measured.y.copy()
    for cause in causes:
        if cause.kind is Kind.GROUND and cause.settled:
            y[measured.views.index(cause.view), measured.columns("ground")] -= cause.amount_px
    for (view, name), (dx, dy) in ways.items():
        at = measured.views.index(view), measured.landmarks.index(name)
        x[at] += dx
        y[at] += dy
    return replace(measured, x=x, y=y)


def _is_involved(measured: Measurement, finding: Finding, cause: Instruction) -> bool:
    """Return whether a cause moves a point that a row rests on, in a drawing that it speaks of."""
    views = {finding.view, *target_of(measured, finding).views}
    if finding.subject.kind is Kind.RATIO and not finding.blame.odd_view:
        views.add(measured.sheet.reference)
    moves = {*cause.landmarks} | ({"ground"} if cause.kind is Kind.GROUND else set())
    return bool(views & {*cause.views} and moves & {*finding.subject.landmarks})


def _breaks_there(measured: Measurement, found: Contradiction | None, cause: Instruction) -> bool:
    """Return whether outlines break where a cause moves one of the drawings that take part."""
    if found is None:
        return False
    taking_part = [v for v in map(measured.views.index, cause.views) if v in found.views]
    if cause.kind is Kind.RULER:
        return bool(taking_part)
    return any(_lies_within(measured, cause, v, found.rows[v]) for v in taking_part)


def _lies_within(measured: Measurement, cause: Instruction, v: int, rows: Floats) -> bool:
    """Return whether picture rows of a view touch what moves there, and lie within its part.

    What is drawn between a point and the next ones of its part goes along with it.
    """
    view = measured.views[v]
    columns = measured.columns(*cause.landmarks)
    if view not in cause.move_px or not np.isfinite(measured.y[v, columns]).any():
        return False
    down = cause.move_px[view][1]
    part = _part_of(measured, v, columns)
    reach = max(
        PART_REACH / 100.0 * measured.figure_height * measured.size(v),
        PART_SHARE * float(np.ptp(measured.y[v, part])) if part else 0.0,
    )
    first, last = rows.min(), rows.max()
    top, bottom = _span(measured.y[v, columns], down)
    along = _span(measured.y[v, [*columns, *_next_to(part, columns)]], down)
    touches = top - reach <= last and first <= bottom + reach
    return bool(touches and along[0] - reach <= first and last <= along[1] + reach)


def _span(y: Floats, down: float) -> tuple[float, float]:
    """Return the first and the last row of points before and after they move down."""
    first, last = float(np.nanmin(y)), float(np.nanmax(y))
    return min(first, first + down), max(last, last + down)


def _part_of(measured: Measurement, v: int, columns: Sequence[int]) -> list[int]:
    """Return the points of the parts that some belong to, as a view has them from the top."""
    marks = measured.sheet.vocabulary.landmarks
    parts = {marks[measured.landmarks[c]].part for c in columns} - {""}
    placed = np.flatnonzero(np.isfinite(measured.y[v])).tolist()
    part = [c for c in placed if marks[measured.landmarks[c]].part in parts]
    return sorted(part, key=lambda c: float(measured.y[v, c]))


def _next_to(part: Sequence[int], columns: Sequence[int]) -> Sequence[int]:
    """Return what of a part lies from the point above some of its points to the one below."""
    at = [part.index(c) for c in columns if c in part]
    return part[max(min(at) - 1, 0) : max(at) + 2] if at else ()

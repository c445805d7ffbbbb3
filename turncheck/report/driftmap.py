"""The drift map: how far each height is off in each drawing, from head to foot."""

from __future__ import annotations

import math
from dataclasses import dataclass

from turncheck.checks.finding import Kind
from turncheck.geometry.guard_bands import Verdict
from turncheck.report.facts import Facts, Row, view_title
from turncheck.wording.findings import VERDICTS
from turncheck.wording.plain import number

#: Steps of colour on either side of none: within half the tolerance, within it, within twice
#: it, beyond; chosen by eye.
STEPS = (0.5, 1.0, 2.0)


@dataclass(frozen=True)
class Cell:
    """One height in one drawing.

    Attributes
    ----------
    step
        Colour, 'high-3' to 'low-3', 'level', 'reference', 'odd' (the reference, outvoted)
        or 'none'.
    gauge
        The drift, 10 being what is allowed, at most 30.
    """

    step: str
    text: str
    gauge: float
    says: str
    verdict: str
    row: str


@dataclass(frozen=True)
class Line:
    """One height across the drawings."""

    title: str
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class DriftMap:
    """The grid; `views` are its columns."""

    views: tuple[tuple[str, bool], ...]
    lines: tuple[Line, ...]


def build_driftmap(facts: Facts) -> DriftMap:
    """Return the grid of height drifts, the highest point of the figure first."""
    reference = facts.checked.sheet.reference
    found: dict[str, dict[str, Row]] = {}
    for row in facts.rows:
        subject = row.subject
        if subject.kind is Kind.POINT and not subject.sideways and row.unit == "pct_height":
            found.setdefault(subject.name, {}).setdefault(row.view, row)
    lines = []
    for rows in sorted(found.values(), key=_height, reverse=True):
        odd = next((row for row in rows.values() if facts.turned_to(row) == reference), None)
        cells = tuple(
            _reference(odd) if view == reference else _cell(rows.get(view)) for view in facts.views
        )
        lines.append(Line(next(iter(rows.values())).title, cells))
    views = tuple((view_title(view), view == reference) for view in facts.views)
    return DriftMap(views, tuple(lines))


def _height(rows: dict[str, Row]) -> float:
    """Return the height expected of a line, -inf where no drawing has it."""
    there = [row.expected for row in rows.values() if math.isfinite(row.expected)]
    return there[0] if there else -math.inf


def _reference(odd: Row | None) -> Cell:
    """Return the reference's cell; `odd` is a row that the majority turns against it."""
    if odd is None:
        return Cell("reference", "", 0.0, "the reference", "", "")
    return Cell("odd", "odd one out", 0.0, VERDICTS[Verdict.OFF_MODEL], Verdict.OFF_MODEL, odd.id)


def _cell(row: Row | None) -> Cell:
    if row is None:
        return _EMPTY
    if not row.is_measured:
        return Cell("none", "", 0.0, VERDICTS[Verdict.NOT_MEASURED], row.verdict, row.id)
    step = sum(row.excess > limit for limit in STEPS)
    way = "high" if row.drift_pct > 0 else "low"
    return Cell(
        step=f"{way}-{step}" if step else "level",
        text=number(row.drift_pct, 1, signed=True),
        gauge=math.copysign(min(10.0 * row.excess, 30.0), row.drift_pct),
        says=VERDICTS[row.verdict],
        verdict=row.verdict,
        row=row.id,
    )


_EMPTY = Cell("none", "", 0.0, "not compared", "", "")

"""The drift map: how far each height is off in each drawing, from head to foot."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from turncheck.checks.finding import Kind
from turncheck.report.facts import Facts, Row

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
    says
        In words, where there is no row.
    gauge
        The drift, 10 being what is allowed, at most 30.
    """

    step: str
    says: str = ""
    row: Row | None = None
    gauge: float = 0.0


def build_driftmap(facts: Facts) -> list[tuple[str, list[Cell]]]:
    """Return each height's name and a cell a drawing, the highest point of the figure first."""
    reference = facts.checked.sheet.reference
    found: dict[str, dict[str, Row]] = {}
    for row in facts.rows:
        subject = row.subject
        if subject.kind is Kind.POINT and not subject.sideways and row.unit == "pct_height":
            found.setdefault(subject.name, {}).setdefault(row.view, row)
    lines = []
    for rows in sorted(found.values(), key=_height, reverse=True):
        odd = next((row for row in rows.values() if facts.turned_to(row) == reference), None)
        own = rows.get(reference)
        if odd is None and own is not None and own.is_off_model:
            odd = own
        whole = Cell("reference", "the reference")
        if odd is not None:
            whole = Cell("odd", row=odd)
        elif own is not None:
            whole = replace(_cell(own), step="reference")
        cells = [whole if view == reference else _cell(rows.get(view)) for view in facts.views]
        lines.append((next(iter(rows.values())).title, cells))
    return lines


def _height(rows: dict[str, Row]) -> float:
    """Return the height expected of a line, -inf where no drawing has it."""
    there = [row.expected for row in rows.values() if math.isfinite(row.expected)]
    return there[0] if there else -math.inf


def _cell(row: Row | None) -> Cell:
    if row is None:
        return Cell("none", "not compared")
    if not row.is_measured:
        return Cell("none", row=row)
    step = sum(row.excess > limit for limit in STEPS)
    way = "high" if row.drift_pct > 0 else "low"
    gauge = math.copysign(min(10.0 * row.excess, 30.0), row.drift_pct)
    return Cell(f"{way}-{step}" if step else "level", row=row, gauge=gauge)

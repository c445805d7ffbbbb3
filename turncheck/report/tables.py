"""The checks' tables: one a check, in the register's order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from turncheck.checks.check import Check
from turncheck.checks.register import all_checks, tolerances_for
from turncheck.report.facts import NOT_MEASURED, OFF, Facts, Row
from turncheck.wording.findings import VERDICTS
from turncheck.wording.plain import number, spoken

UNITS = {
    "pct_height": "% of the figure height",
    "pct_ratio": "% of the ratio",
    "deg": "degrees",
    "delta_e": "colour difference (CIEDE2000)",
}
SIGNS = {"pct_height": " %", "pct_ratio": " %", "deg": "°", "delta_e": ""}


@dataclass(frozen=True)
class TableRow:
    """A finding, ready for its table: what is shown, and what it is sorted by."""

    id: str
    verdict: str
    rank: str
    view: str
    title: str
    says: str
    expected: str
    measured: str
    drift: str
    drift_value: str
    guard: str
    tolerance: str
    note: str
    mark: str
    marks: str


@dataclass(frozen=True)
class NotMeasured:
    """What could not be measured, and why."""

    ids: tuple[str, ...]
    title: str
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class CheckTable:
    """A check and what it found."""

    check: Check
    unit: str
    tolerance: str
    counts: tuple[tuple[str, int], ...]
    rows: tuple[TableRow, ...]
    not_measured: tuple[NotMeasured, ...]
    is_open: bool


def build_tables(facts: Facts) -> tuple[CheckTable, ...]:
    """Return a table for every check that found, or could not measure, anything."""
    found: dict[str, list[Row]] = {}
    for row in facts.rows:
        found.setdefault(row.check, []).append(row)
    return tuple(
        _table(facts, check, found[check.name]) for check in all_checks() if check.name in found
    )


def _table(facts: Facts, check: Check, rows: list[Row]) -> CheckTable:
    counts = {name: sum(row.verdict == name for row in rows) for name in VERDICTS}
    shown = sorted((row for row in rows if row.verdict != NOT_MEASURED), key=lambda r: r.order)
    return CheckTable(
        check=check,
        unit=UNITS[check.unit],
        tolerance=f"{tolerances_for(check, facts.checked.sheet).general:g}{SIGNS[check.unit]}",
        counts=tuple((name, count) for name, count in counts.items() if count),
        rows=tuple(_shown(facts, row, rank) for rank, row in enumerate(shown)),
        not_measured=tuple(_not_measured(row for row in rows if row.verdict == NOT_MEASURED)),
        is_open=counts[OFF] > 0,
    )


def _not_measured(rows: Iterable[Row]) -> Iterator[NotMeasured]:
    """Yield rows that could not be measured, those with one reason together."""
    by_reason: dict[str, list[Row]] = {}
    for row in rows:
        by_reason.setdefault(row.note, []).append(row)
    by_titles: dict[str, list[str]] = {}
    for reason, same in by_reason.items():
        titles = ", ".join(dict.fromkeys(row.title or "everything" for row in same))
        by_titles.setdefault(titles, []).append(reason)
    for titles, reasons in by_titles.items():
        ids = tuple(row.id for reason in reasons for row in by_reason[reason])
        yield NotMeasured(ids, titles, tuple(reasons))


def _shown(facts: Facts, row: Row, rank: int) -> TableRow:
    marks = [facts.mark_ids[row.view, name] for name in row.landmarks]
    decimals = 3 if row.unit == "pct_ratio" else 1
    sign = SIGNS[row.unit]
    return TableRow(
        id=row.id,
        verdict=row.verdict,
        rank=str(rank),
        view=spoken(row.view),
        title=row.title,
        says=row.says,
        expected=number(row.expected, decimals),
        measured=number(row.measured, decimals),
        drift=number(row.drift_pct, 2, signed=True) + sign,
        drift_value=f"{row.drift_pct:.6g}",
        guard=number(row.guard_pct, 2) + sign,
        tolerance=f"{row.tolerance_pct:.3g}{sign}",
        note=row.note,
        mark=marks[0] if marks else "",
        marks=" ".join(marks),
    )

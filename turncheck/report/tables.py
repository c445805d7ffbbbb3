"""The checks' tables: one a check, in the register's order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from turncheck.checks.check import Check
from turncheck.checks.register import all_checks
from turncheck.geometry.guard_bands import Verdict
from turncheck.report.facts import Facts, Row

#: By unit: what a drift is counted in, and the sign behind it.
UNITS = {
    "pct_height": ("% of the figure height", " %"),
    "pct_ratio": ("% of the ratio", " %"),
    "deg": ("degrees", "°"),
    "delta_e": ("colour difference (CIEDE2000)", ""),
}


@dataclass(frozen=True)
class NotMeasured:
    """What could not be measured, and why."""

    ids: tuple[str, ...]
    title: str
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class CheckTable:
    """A check and what it found, the worst first; `counts` are rows by verdict."""

    check: Check
    unit: str
    counts: dict[Verdict, int]
    rows: tuple[Row, ...]
    not_measured: tuple[NotMeasured, ...]


def build_tables(facts: Facts) -> tuple[CheckTable, ...]:
    """Return a table for every check that found, or could not measure, anything."""
    found: dict[str, list[Row]] = {}
    for row in facts.rows:
        found.setdefault(row.check, []).append(row)
    return tuple(_table(check, found[check.name]) for check in all_checks() if check.name in found)


def _table(check: Check, rows: list[Row]) -> CheckTable:
    counts = Counter(row.verdict for row in rows)
    measured = (row for row in rows if row.is_measured)
    return CheckTable(
        check=check,
        unit=UNITS[check.unit][0],
        counts={verdict: counts[verdict] for verdict in Verdict if counts[verdict]},
        rows=tuple(sorted(measured, key=lambda row: row.order)),
        not_measured=tuple(_not_measured(row for row in rows if not row.is_measured)),
    )


def _not_measured(rows: Iterable[Row]) -> Iterator[NotMeasured]:
    """Yield rows that could not be measured, those with one reason together."""
    by_reason: dict[str, list[Row]] = {}
    for row in rows:
        by_reason.setdefault(row.aside, []).append(row)
    by_titles: dict[str, list[str]] = {}
    for reason, same in by_reason.items():
        titles = ", ".join(dict.fromkeys(row.title or "everything" for row in same))
        by_titles.setdefault(titles, []).append(reason)
    for titles, reasons in by_titles.items():
        ids = tuple(row.id for reason in reasons for row in by_reason[reason])
        yield NotMeasured(ids, titles, tuple(reasons))

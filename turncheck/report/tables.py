"""The checks' tables: one a check, in the register's order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from types import SimpleNamespace

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


def build_tables(facts: Facts) -> list[SimpleNamespace]:
    """Return a table for every check that found, or could not measure, anything.

    `counts` are its rows by verdict; `rows` those that were measured, the worst first.
    """
    found: dict[str, list[Row]] = {}
    for row in facts.rows:
        found.setdefault(row.check, []).append(row)
    tables = []
    for check in all_checks():
        rows = found.get(check.name, [])
        counts = Counter(row.verdict for row in rows)
        if rows:
            table = SimpleNamespace(
                check=check,
                counts={verdict: counts[verdict] for verdict in Verdict if counts[verdict]},
                rows=sorted((row for row in rows if row.is_measured), key=lambda row: row.order),
                not_measured=_not_measured(row for row in rows if not row.is_measured),
            )
            tables.append(table)
    return tables


def _not_measured(rows: Iterable[Row]) -> list[tuple[str, list[Row]]]:
    """Return titles of what could not be measured, those with one reason together, with rows."""
    by_reason: dict[str, list[Row]] = {}
    for row in rows:
        by_reason.setdefault(row.aside, []).append(row)
    by_titles: dict[str, list[Row]] = {}
    for same in by_reason.values():
        titles = ", ".join(dict.fromkeys(row.title or "everything" for row in same))
        by_titles.setdefault(titles, []).extend(same)
    return list(by_titles.items())

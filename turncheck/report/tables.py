"""The checks' tables: one a check, in the register's order."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable
from types import SimpleNamespace

from turncheck.checks.check import Check
from turncheck.checks.finding import Blamed
from turncheck.checks.register import all_checks
from turncheck.geometry.guard_bands import Verdict
from turncheck.plain import listed, spoken
from turncheck.report.facts import OPEN, Facts, Row

#: By unit: what a drift is counted in, and the sign behind it.
UNITS = {
    "pct_height": ("% of the figure height", " %"),
    "pct_ratio": ("% of the ratio", " %"),
    "deg": ("degrees", "°"),
    "delta_e": ("colour difference (CIEDE2000)", ""),
}


def build_tables(facts: Facts) -> list[SimpleNamespace]:
    """Return a table for every check that found, or could not measure, anything.

    `counts` are its rows by verdict; `groups` the rows that were measured, those to be looked at
    and those on model, the worst first and causes before what follows from them; each row with
    whom it blames and how to accept it.
    """
    found = ((check, [r for r in facts.rows if r.check == check.name]) for check in all_checks())
    return [_table(facts, check, rows) for check, rows in found if rows]


def _table(facts: Facts, check: Check, rows: list[Row]) -> SimpleNamespace:
    counts, follows = Counter(row.verdict for row in rows), facts.checked.follows
    measured = sorted(
        (row for row in rows if row.is_measured),
        key=lambda row: (row.order[0], row.index in follows, row.order[1]),
    )
    told = [(row, _blames(row), _waiver(facts, row)) for row in measured]
    return SimpleNamespace(
        check=check,
        counts={verdict: counts[verdict] for verdict in Verdict if counts[verdict]},
        groups=[[one for one in told if (one[0].verdict in OPEN) == o] for o in (True, False)],
        not_measured=_not_measured(row for row in rows if not row.is_measured),
    )


def _blames(row: Row) -> str:
    """Return whom an off-model row speaks against, in words."""
    if not row.is_off_model:
        return ""
    if row.blame.kind is Blamed.NOBODY:
        return "nobody: no majority"
    if row.blame.kind is Blamed.SET:
        return f"one of {listed(map(spoken, row.blame.views))}"
    return spoken(row.blame.odd_view or row.view)


def _waiver(facts: Facts, row: Row) -> str:
    """Return what accepts an off-model row, once its reason and role are filled in.

    '' where nothing has to be accepted by itself: what follows from another is waived with it.
    """
    if not row.is_off_model or not row.view or row.index in facts.checked.follows:
        return ""
    named = {"check": row.check, "view": row.view, "subject": row.subject.name}
    lines = [f"{key} = {_toml(value)}" for key, value in named.items()]
    return "\n".join(["[[waivers]]", *lines, 'reason = ""', 'by = ""'])


def _toml(text: str) -> str:
    """Return a text as a basic string of TOML 1.0: JSON's, and DEL escaped as well."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


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

"""Writes a comparison: `compare.csv`, `compare.json` and `compare.html`."""

from __future__ import annotations

import math
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from turncheck.checks.finding import Finding
from turncheck.checks.table import csv_text, plain_cell
from turncheck.files.own import PAGE, SUMMARY, json_number, json_text, save_own
from turncheck.files.version import VERSION
from turncheck.instructions.result import Result
from turncheck.revisions.carrying import Uncarried
from turncheck.revisions.comparing import Compared, Comparison
from turncheck.revisions.page import render
from turncheck.revisions.words import became, told
from turncheck.sheet.landmark_table import Placing

SCHEMA_VERSION = 1
COLUMNS = ("check", "view", "subject", "before", "after", "drift_before", "drift_after", "change")
#: The files, and what each of them has held since the first version.
_OWN = {
    "compare.csv": ",".join(COLUMNS[:5]).encode(),
    "compare.json": SUMMARY,
    "compare.html": PAGE,
}


def save_comparison(comparison: Comparison, folder: Path) -> list[Path]:
    """Write the table, the counts and the page as `save_own` does; return their paths."""
    table = csv_text(COLUMNS, map(_cells, comparison.rows))
    return save_own(folder, _OWN, (table, json_text(as_json(comparison)), render(comparison)))


def _cells(row: Compared) -> list[str]:
    """Return a row of the table: before and after are verdicts, empty where there was none.

    A drift is in the unit that the findings table has for it.
    """
    verdicts = (verdict.value if verdict else "" for verdict in row.verdicts)
    drifts = map(_drift, (row.before, row.after))
    return [*map(plain_cell, row.key), *verdicts, *drifts, row.change.value]


def _drift(finding: Finding | None) -> str:
    return "" if finding is None or math.isnan(finding.drift_pct) else f"{finding.drift_pct:.6g}"


def as_json(comparison: Comparison) -> dict[str, Any]:
    """Return what a program wants to know of it."""
    carried = comparison.carried
    return {
        "schema_version": SCHEMA_VERSION,
        "old": _of(comparison.old),
        "new": _of(comparison.new),
        "counts": {change.value: count for change, count in comparison.counts.items()},
        "differences": [
            {
                "number": number,
                "became": became(one),
                "views": list(one.views),
                "told": told(one)[0] if one.before else "",
                "tells": told(one)[1],
            }
            for number, one in enumerate(comparison.differences, 1)
        ],
        "registered": sorted(carried.laid),
        "carried": _by_view(carried.placings, "x", "y", "sd"),
        "complete": not carried.uncarried,
        "proposed": _by_view(carried.uncarried, "x", "y"),
        "written": comparison.written,
        "turncheck_version": VERSION,
    }


def _of(checked: Result) -> dict[str, Any]:
    return {
        "character": checked.sheet.character,
        "revision": checked.sheet.revision,
        "verdict": checked.verdict.value,
        "drawings": {name: one.sha256 for name, one in checked.drawings.items()},
        "landmarks_sha256": checked.landmarks_sha256,
    }


def _by_view(
    points: Iterable[Placing | Uncarried], *names: str
) -> dict[str, list[dict[str, str | float | None]]]:
    found: dict[str, list[dict[str, str | float | None]]] = {}
    for one in points:
        numbers = {name: json_number(getattr(one, name), 3) for name in names}
        found.setdefault(one.view, []).append({"landmark": one.landmark, **numbers})
    return found

"""Writes what the rigger builds on: `pivots.csv`, `body.csv`, `pivots.json` and `pivots.html`."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from turncheck.checks.table import csv_text, plain_cell
from turncheck.files.own import SUMMARY, json_number, json_text, save_own
from turncheck.files.version import VERSION
from turncheck.handover.pivot_places import PivotPlace
from turncheck.handover.pivots import Pivots
from turncheck.handover.pivots_page import render

SCHEMA_VERSION = 1
PIVOT_COLUMNS = (
    "pivot",
    "parent",
    "view",
    "x",
    "y",
    "x_sd",
    "y_sd",
    "drawn_x",
    "drawn_y",
    "rig_x",
    "rig_y",
    "side",
    "hidden_behind",
)
BODY_COLUMNS = ("landmark", "X", "Y", "Z", "X_sd", "Y_sd", "Z_sd")
#: The files, and what each of them has held since the first version.
_OWN = {
    "pivots.csv": ",".join(PIVOT_COLUMNS[:5]).encode(),
    "body.csv": ",".join(BODY_COLUMNS).encode(),
    "pivots.json": SUMMARY,
    "pivots.html": b"<title>Pivots: ",
}


def save_pivots(pivots: Pivots, folder: Path) -> list[Path]:
    """Write the tables and the page as `save_own` does; return their paths."""
    contents = (
        as_csv(PIVOT_COLUMNS, map(_cells, pivots.places)),
        as_csv(BODY_COLUMNS, pivots.body_rows),
        json_text(as_json(pivots)),
        render(pivots),
    )
    return save_own(folder, _OWN, contents)


def as_json(pivots: Pivots) -> dict[str, Any]:
    """Return all of it, for other programs."""
    sheet, measured, rig = pivots.checked.sheet, pivots.checked.measured, pivots.checked.sheet.rig
    rows = (dict(zip(BODY_COLUMNS, row, strict=True)) for row in pivots.body_rows)
    return {
        "schema_version": SCHEMA_VERSION,
        "character": sheet.character,
        "revision": sheet.revision,
        "verdict": pivots.checked.verdict.value,
        "figure_height_px": round(measured.figure_height, 4),
        "rig": {
            "unit": rig.figure or "px",
            "origin": list(rig.origin) if rig.origin else "ground",
            "y_up": rig.y_up,
        },
        "body": [{key: _known(value) for key, value in row.items()} for row in rows],
        "pivots": [
            {key: _known(value) for key, value in zip(PIVOT_COLUMNS, _cells(one), strict=True)}
            | {"settled": one.settled}
            for one in pivots.places
        ],
        "hidden_parts": [
            {"view": one.view, "part": one.part, "landmarks": list(one.landmarks)}
            for one in pivots.hidden
        ],
        "turncheck_version": VERSION,
    }


def _cells(place: PivotPlace) -> list[str | float]:
    return [getattr(place, name) for name in PIVOT_COLUMNS]


def _known(value: str | float) -> str | float | None:
    return value if isinstance(value, str) else json_number(value, 4)


def as_csv(columns: Sequence[str], rows: Iterable[Iterable[str | float]]) -> str:
    """Return a table as text; what is not known is left empty."""
    return csv_text(columns, (map(_cell, row) for row in rows))


def _cell(value: str | float) -> str:
    known = _known(value)
    return plain_cell(known) if isinstance(known, str) else "" if known is None else f"{known:.3f}"

"""Finds the sheets of a show."""

from __future__ import annotations

from pathlib import Path

from turncheck.sheet.model import SHEET_FILE


def find_sheets(folder: Path) -> list[Path]:
    """Return every sheet's file below a folder, in the order of their paths."""
    return sorted(path for path in folder.rglob(SHEET_FILE) if path.is_file())

"""A sheet's placings as a check reads them."""

from __future__ import annotations

from pathlib import Path

from turncheck.sheet.landmark_table import Placing, read_complete
from turncheck.sheet.model import Sheet


def read_placings(path: Path, sheet: Sheet) -> tuple[Placing, ...]:
    """The placings of a complete table."""
    return tuple(read_complete(path, sheet).placings.values())

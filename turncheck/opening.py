"""Opens a sheet: reads it with the names of all checks known."""

from __future__ import annotations

from pathlib import Path

from turncheck.checks import check_names, further_tolerances
from turncheck.sheet import Sheet, read_sheet


def open_sheet(path: str | Path) -> Sheet:
    """Read a sheet's folder or file.

    Raises
    ------
    TurncheckError
        Naming every fault of the file and how to mend it.
    """
    return read_sheet(Path(path), check_names(), further_tolerances())

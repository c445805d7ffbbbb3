"""Finds the sheets below a folder."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from pathlib import Path

from turncheck.errors import shown

#: The name of a sheet's file; a folder may hold further sheets under names of their own.
_SHEET = "sheet.toml"
#: What a sheet has, and a vocabulary or another tool's settings have not: drawings.
_VIEWS = re.compile(rb"^\s*(\[\s*[\"']?views[\"']?\s*[.\]]|views\s*[.=])", re.MULTILINE)


@dataclass(frozen=True)
class Found:
    """A sheet below a folder.

    Attributes
    ----------
    file
        Its `sheet.toml`, or what stands in its place.
    path
        What it goes by: its folder, or its file where that has a name of its own; below the
        folder, with slashes, and on one line.
    fault
        Why nothing can be found there, '' for a sheet.
    """

    file: Path
    path: str
    fault: str = ""


def sheets_below(folder: Path, leave_out: Path | None = None) -> list[Found]:
    """Return the sheets below a folder, by path.

    Hidden folders, links to folders and `leave_out` are not looked into; a folder that can't be
    looked into is found with its fault.
    """
    skip = leave_out.resolve() if leave_out else None
    faults: list[Found] = []

    def unread(error: OSError) -> None:
        where = Path(error.filename)
        says = f"can't be looked into ({error.strerror}); check that you may open it"
        faults.append(Found(where, _below(where, folder), says))

    found = []
    for at, folders, files in os.walk(folder, onerror=unread):
        here = Path(at)
        folders[:] = [
            name for name in folders if name[:1] != "." and (here / name).resolve() != skip
        ]
        for name in sorted(files):
            if name.lower() == _SHEET:
                found.append(Found(here / name, _below(here, folder)))
            elif _is_sheet(here / name):
                found.append(Found(here / name, _below(here / name, folder)))
    return sorted([*found, *faults], key=lambda one: one.path)


def _is_sheet(file: Path) -> bool:
    """Return whether a file of another name is a sheet."""
    if file.name[:1] == "." or file.suffix.lower() != ".toml":
        return False
    try:
        return file.is_file() and _VIEWS.search(file.read_bytes()) is not None
    except OSError:  # what can't be read can't be known
        return False


def _below(path: Path, folder: Path) -> str:
    return shown(path.relative_to(folder).as_posix())

"""Tells the files that turncheck wrote from others of their names, which are never overwritten."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from turncheck.errors import Fault, TurncheckError
from turncheck.files.user_files import is_file

#: What every page has held since its first version.
PAGE = b'<meta name="generator" content="turncheck '
#: What every summary in JSON has held, and a table in Parquet.
SUMMARY = b'"turncheck_version": '


def refuse_foreign(folder: Path, marks: Mapping[str, bytes]) -> None:
    """Refuse to go on where a file was not written by turncheck.

    Parameters
    ----------
    marks
        By file name, what every file of that name has held that turncheck wrote.

    Raises
    ------
    TurncheckError
        Naming each of them.
    """
    faults = [
        Fault(
            "was not written by turncheck, so it is not overwritten; move it, or name another "
            "folder with --out",
            str(folder / name),
        )
        for name, mark in marks.items()
        if is_file(folder / name) and not _holds(folder / name, mark)
    ]
    if faults:
        raise TurncheckError(*faults)


def _holds(path: Path, mark: bytes) -> bool:
    try:
        return mark in path.read_bytes()
    except OSError:  # what can't be read can't be known as turncheck's own
        return False

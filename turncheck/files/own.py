"""Writes the files that turncheck names itself, none over one that it did not write."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from turncheck.errors import Fault, TurncheckError
from turncheck.files.atomic import Content, save_together
from turncheck.files.user_files import is_file

#: What every page has held since its first version.
PAGE = b'<meta name="generator" content="turncheck '
#: What every summary in JSON has held, and a table in Parquet.
SUMMARY = b'"turncheck_version": '
#: Of a file that is looked into, bytes that are held at once; common practice, no source.
_AT_ONCE = 1_000_000
#: What to do about another's file where the folder can be chosen.
ELSEWHERE = "move it, or name another folder with --out"


def save_own(
    folder: Path, marks: Mapping[str, bytes], contents: Iterable[Content], mend: str = ELSEWHERE
) -> list[Path]:
    """Write files into a folder, all or none of them; return their paths.

    Parameters
    ----------
    marks, mend
        As `refuse_foreign` takes them.
    contents
        Of each, in the same order, as `save_together` takes it.

    Raises
    ------
    TurncheckError
        If the folder can't be written, or a file in it was not written by turncheck.
    """
    refuse_foreign(folder, marks, mend)
    save_together(folder, dict(zip(marks, contents, strict=True)))
    return [folder / name for name in marks]


def refuse_foreign(folder: Path, marks: Mapping[str, bytes], mend: str = ELSEWHERE) -> None:
    """Refuse to go on where a file was not written by turncheck.

    Parameters
    ----------
    marks
        By file name, what every file of that name has held that turncheck wrote.
    mend
        What to do about another's.

    Raises
    ------
    TurncheckError
        Naming each of them.
    """
    faults = [
        Fault(
            f"was not written by turncheck, so it is not overwritten; {mend}",
            str(folder / name),
        )
        for name, mark in marks.items()
        if is_file(folder / name) and not _holds(folder / name, mark)
    ]
    if faults:
        raise TurncheckError(*faults)


def _holds(path: Path, mark: bytes) -> bool:
    """Return whether a file, which may be of any length, holds a mark."""
    before = b""
    try:
        with path.open("rb") as file:
            while piece := file.read(_AT_ONCE):
                if mark in before + piece:
                    return True
                before = piece[-len(mark) :]
    except OSError:  # what can't be read can't be known as turncheck's own
        pass
    return False


def json_text(told: Any) -> str:
    """Return what is told to other programs as the text of a JSON file."""
    return json.dumps(told, indent=2, ensure_ascii=False) + "\n"


def json_number(value: float, decimals: int) -> float | None:
    """Return a number as JSON has it: rounded, without minus nought, nothing where not finite.

    >>> json_number(-0.0004, 3), json_number(float("nan"), 3)
    (0.0, None)
    """
    return round(value, decimals) + 0.0 if math.isfinite(value) else None

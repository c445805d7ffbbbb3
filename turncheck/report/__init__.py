"""The report: one self-contained page, the findings as a table, and the summary."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from turncheck.checks.table import COLUMNS, as_csv
from turncheck.errors import TurncheckError
from turncheck.files.atomic import save_together
from turncheck.files.user_files import is_file
from turncheck.instructions.result import Result
from turncheck.report.summary import summary_of

#: The files of a report, and what each of them has held since the first version.
_OWN = {
    "report.html": b'<meta name="generator" content="turncheck ',
    "findings.csv": ",".join(COLUMNS[:5]).encode(),
    "summary.json": b'"turncheck_version": ',
}


def save_report(checked: Result, folder: Path) -> dict[str, Any]:
    """Write the files of a checked sheet's report; return the summary.

    Raises
    ------
    TurncheckError
        If the folder can't be written, or a file in it is not turncheck's.
    """
    _refuse_foreign(folder)
    summary = summary_of(checked)
    contents = (
        build_report(checked, summary),
        as_csv(checked.rows, checked.follows),
        json.dumps(summary, indent=2, ensure_ascii=False) + "\n",
    )
    save_together(folder, dict(zip(_OWN, contents, strict=True)))
    return summary


def build_report(checked: Result, summary: dict[str, Any]) -> str:
    """Return the page as HTML text; the same input gives the same text.

    Parameters
    ----------
    summary
        As `summary_of` gives it.
    """
    from turncheck.report.facts import gather
    from turncheck.report.page import render

    return render(gather(checked, summary))


def _refuse_foreign(folder: Path) -> None:
    """Refuse to go on where a file of a report's name was not written by turncheck."""
    faults = [
        f"{folder / name}: is not of a turncheck report, so it is not overwritten; "
        "move it, or name another folder with --out"
        for name, mark in _OWN.items()
        if is_file(folder / name) and not _holds(folder / name, mark)
    ]
    if faults:
        raise TurncheckError(*faults)


def _holds(path: Path, mark: bytes) -> bool:
    try:
        return mark in path.read_bytes()
    except OSError:  # what can't be read can't be known as turncheck's own
        return False

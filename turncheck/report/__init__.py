"""The report: one self-contained page, the findings as a table, and the summary."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from turncheck.checks.table import COLUMNS, csv_text
from turncheck.errors import Fault, FileFaults, TurncheckError
from turncheck.files.own import PAGE, SUMMARY, json_text, save_own
from turncheck.files.user_files import read_text
from turncheck.handover.turning import KeptTurn, turn_in
from turncheck.instructions.result import Result
from turncheck.report.summary import summary_of
from turncheck.sheet.model import SHEET_FILE, Sheet

#: The folder beside a report in which the guides lie.
GUIDES = "guides"
#: The files of a report, and what each of them has held since the first version.
OWN = {
    "report.html": PAGE,
    "findings.csv": ",".join(COLUMNS[:5]).encode(),
    "summary.json": SUMMARY,
}


def save_report(checked: Result, folder: Path) -> dict[str, Any]:
    """Write the files of a checked sheet's report; return the summary.

    The summary that is written also tells where the sheet lies, seen from the report's folder.

    Raises
    ------
    TurncheckError
        If the folder can't be written, or a file in it is not turncheck's.
    """
    summary = _summary(checked, folder)
    contents = (
        build_report(checked, summary, turn_in(folder / GUIDES, checked.sums)),
        csv_text(COLUMNS, checked.cells),
        json_text(summary),
    )
    save_own(folder, OWN, contents)
    return summary


def save_again(checked: Result, guides: Path) -> bool:
    """Write the report beside a folder of guides anew, if it is of the very same sheet as it is.

    Returns
    -------
    bool
        Whether it was.

    Raises
    ------
    TurncheckError
        If it can't be written.
    """
    folder = guides.parent
    now = json.loads(json_text(_summary(checked, folder)))
    if guides.name != GUIDES or _kept_summary(folder) != now:
        return False
    save_report(checked, folder)
    return True


def refuse_report_of_another(folder: Path, sheet: Sheet) -> None:
    """Refuse to overwrite the report of another sheet, where that sheet is still there.

    Raises
    ------
    TurncheckError
        Naming the other one.
    """
    try:
        other = folder / _kept_summary(folder)["sheet"]
        is_another = other.exists() and not other.samefile(_named(sheet))
    except (ValueError, TypeError, KeyError, OSError):  # none, or not told
        return
    if is_another:
        says = (
            f"holds the report of another sheet with this character and revision, {other}; name "
            "another folder with --out, or give one of them another revision"
        )
        raise TurncheckError(Fault(says, str(folder)))


def _summary(checked: Result, folder: Path) -> dict[str, Any]:
    return summary_of(checked) | {"sheet": _way(folder, _named(checked.sheet))}


def _kept_summary(folder: Path) -> Any:
    """Return what the summary in a folder holds, nothing where there is none."""
    try:
        return json.loads(read_text(folder / "summary.json", FileFaults("")))
    except (TurncheckError, ValueError):
        return {}


def _named(sheet: Sheet) -> Path:
    """Return the path that a sheet goes by: its folder, or its file where that is another's."""
    return sheet.folder if sheet.file == SHEET_FILE else sheet.path


def _way(start: Path, end: Path) -> str:
    """Return a path as seen from a folder, whole where no way leads there."""
    try:
        return Path(os.path.relpath(end.resolve(), start.resolve())).as_posix()
    except ValueError:  # on another disk of Windows
        return end.resolve().as_posix()


def build_report(checked: Result, summary: dict[str, Any], turn: KeptTurn | None = None) -> str:
    """Return the page as HTML text; the same input gives the same text.

    Parameters
    ----------
    summary
        As `summary_of` gives it.
    turn
        The whole turn that lies beside the report.
    """
    from turncheck.report.facts import gather
    from turncheck.report.page import render

    return render(gather(checked, summary, turn))

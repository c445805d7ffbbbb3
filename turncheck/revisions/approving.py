"""Approves a sheet: who, when, and exactly what."""

from __future__ import annotations

import json
import os
from datetime import UTC, datetime
from typing import Any

from turncheck.errors import Fault, TurncheckError, shown
from turncheck.files.atomic import not_written, put_in_place
from turncheck.files.own import json_text
from turncheck.geometry.guard_bands import Verdict
from turncheck.instructions.result import Result
from turncheck.plain import counted
from turncheck.sheet.approval import APPROVAL_FILE, HISTORY_FILE
from turncheck.wording.findings import VERDICTS


def why_not(checked: Result, *, strict: bool) -> list[str]:
    """Return why a sheet may not be approved, a clause each; nothing where it may.

    Parameters
    ----------
    strict
        Whether what is too close to call, or a warning, stands in the way too.
    """
    found = [row.verdict for row in checked.rows]
    reasons = []
    off, unsure = found.count(Verdict.OFF_MODEL), found.count(Verdict.UNDECIDED)
    if off:
        reasons.append(f"it is {VERDICTS[Verdict.OFF_MODEL]}, {checked.how_much}")
    elif checked.verdict is Verdict.NOT_MEASURED or not any(
        one in (Verdict.ON_MODEL, Verdict.WAIVED) for one in found
    ):
        reasons.append("nothing in it could be measured")
    if any(warning.is_of_files for warning in checked.warnings):
        reasons.append("its drawings are not the ones that its points were placed on")
    if strict and unsure:
        reasons.append(f"{counted(unsure, 'comparison')} {VERDICTS[Verdict.UNDECIDED]}")
    if strict and checked.warnings:
        reasons.append(f"{counted(len(checked.warnings), 'warning')} to look at first")
    return reasons


def approve(checked: Result, by: str, note: str) -> dict[str, Any]:
    """Write the approval of a sheet as it was checked, and add it to the sheet's history.

    Parameters
    ----------
    by, note
        The role that approves; what it says of it.

    Raises
    ------
    TurncheckError
        If it can't be written.
    """
    sheet = checked.sheet
    record = {
        "character": sheet.character,
        "revision": sheet.revision,
        "by": by,
        "note": note,
        "at": datetime.now(UTC).isoformat(timespec="seconds"),
        **checked.sums.as_json(),
        "verdict": checked.verdict.value,
        "waived": [
            {"check": row.check, "view": row.view, "subject": row.subject.name}
            for row in checked.rows
            if row.verdict is Verdict.WAIVED
        ],
        "warnings": [slip.code for slip in checked.warnings],
    }
    history = sheet.folder / HISTORY_FILE
    try:
        _append(history, json.dumps(record, ensure_ascii=False))
        put_in_place({sheet.folder / APPROVAL_FILE: json_text(record)}, lasting=True)
    except OSError as error:
        raise not_written(error) from error
    return record


def _append(history: os.PathLike[str], line: str) -> None:
    """Add a line to a file at once: of two who do so neither's is lost.

    A line that a power cut left half is ended first.
    """
    handle = os.open(history, os.O_RDWR | os.O_APPEND | os.O_CREAT, 0o666)
    try:
        size = os.fstat(handle).st_size
        whole = size == 0 or os.pread(handle, 1, size - 1) == b"\n"
        os.write(handle, f"{'' if whole else chr(10)}{line}\n".encode())
        os.fsync(handle)
    except OSError as error:
        raise TurncheckError(
            Fault(f"can't be written ({error.strerror})", shown(str(history)))
        ) from error
    finally:
        os.close(handle)

"""Reads a sheet's approval: by whom, and of which drawings, points and settings."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from turncheck.errors import FileFaults, TurncheckError
from turncheck.files.user_files import is_file, read_text
from turncheck.files.version import VERSION
from turncheck.plain import spoken
from turncheck.sheet.model import LANDMARKS_FILE, SHEET_FILE, Sheet

APPROVAL_FILE = "approval.json"
HISTORY_FILE = "approvals.jsonl"


@dataclass(frozen=True)
class Sums:
    """SHA-256 of all that a verdict rests on (FIPS 180-4), in hexadecimal, and the version.

    Attributes
    ----------
    drawings
        By view.
    landmarks, settings
        Of the table of points; of `sheet.toml` with its own vocabulary and masks.
    """

    drawings: Mapping[str, str]
    landmarks: str
    settings: str
    version: str = VERSION

    def as_json(self) -> dict[str, Any]:
        """Return them as an approval holds them."""
        return {
            "drawings": dict(self.drawings),
            "landmarks_sha256": self.landmarks,
            "sheet_sha256": self.settings,
            "turncheck_version": self.version,
        }


@dataclass(frozen=True)
class ApprovalState:
    """Whether a sheet is approved as it is.

    Attributes
    ----------
    changed
        What is no longer as it was approved, for people.
    by, at
        Who approved, and when (ISO 8601); '' where nobody did.
    """

    state: Literal["none", "valid", "stale"] = "none"
    changed: tuple[str, ...] = ()
    by: str = ""
    at: str = ""


NOT_APPROVED = ApprovalState()
NO_SUMS = Sums({}, "", "")


def sums_of(sheet: Sheet, drawings: Mapping[str, str], landmarks: str) -> Sums:
    """Return the sums of a sheet whose drawings' and table's are known.

    Raises
    ------
    TurncheckError
        If a mask or the vocabulary can't be read.
    """
    settings = hashlib.sha256(sheet.settings.encode("utf-8"))
    further = [view.figure.path for view in sheet.views.values() if view.figure]
    if sheet.vocabulary_file:
        further.append(sheet.folder / sheet.vocabulary_file)
    for path in further:
        try:
            settings.update(path.read_bytes())
        except OSError as error:
            raise TurncheckError(f"{path}: can't be read ({error.strerror})") from error
    return Sums(dict(drawings), landmarks, settings.hexdigest())


def approval_state(sheet: Sheet, sums: Sums) -> ApprovalState:
    """Return whether a sheet is approved, and as what it was; a file of no use approves nothing."""
    file = sheet.folder / APPROVAL_FILE
    if not is_file(file):
        return NOT_APPROVED
    try:
        known = json.loads(read_text(file, FileFaults(str(file))))
        by, at = str(known["by"]), str(known["at"])
        then = Sums(
            {str(view): str(one) for view, one in known["drawings"].items()},
            str(known["landmarks_sha256"]),
            str(known["sheet_sha256"]),
            str(known["turncheck_version"]),
        )
    except (TurncheckError, ValueError, KeyError, TypeError, AttributeError):
        return ApprovalState("stale", (f"{APPROVAL_FILE} can't be read",))
    changed = tuple(_changes(then, sums))
    return ApprovalState("stale" if changed else "valid", changed, by, at)


def _changes(then: Sums, now: Sums) -> list[str]:
    names = dict.fromkeys((*now.drawings, *then.drawings))
    differing = [n for n in names if now.drawings.get(n) != then.drawings.get(n)]
    changed = [f"the {spoken(name)} drawing" for name in differing]
    changed += [LANDMARKS_FILE] if now.landmarks != then.landmarks else []
    changed += [SHEET_FILE] if now.settings != then.settings else []
    if now.version != then.version:
        changed.append(f"turncheck, {then.version} then and {now.version} now")
    return changed

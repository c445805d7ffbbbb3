"""Which points a person said are not to be seen on a drawing: a small file beside the sheet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from turncheck.errors import Fault, FileFaults, TurncheckError
from turncheck.files.atomic import alone_in, put_in_place
from turncheck.files.own import json_text
from turncheck.files.user_files import fingerprint, read_text

NOT_SEEN_FILE = "not_seen.json"
_BY_VIEW = TypeAdapter(dict[str, list[str]])


@dataclass(frozen=True)
class NotSeen:
    """The points by (view, landmark), and the hash of the file, '' where there is none."""

    points: frozenset[tuple[str, str]] = frozenset()
    hash: str = ""


def read_not_seen(file: Path) -> NotSeen:
    """Return what the file says; names that the sheet has no more are kept and mean nothing.

    Raises
    ------
    TurncheckError
        If it can't be read.
    """
    if not file.exists():
        return NotSeen()
    faults = FileFaults(str(file))
    text = read_text(file, faults)
    try:
        by_view = _BY_VIEW.validate_json(text)
    except ValidationError as error:
        says = "is not what turncheck writes there: lists of points by drawing; mend or delete it"
        raise TurncheckError(Fault(says, str(file))) from error
    points = frozenset((view, name) for view, names in by_view.items() for name in names)
    return NotSeen(points, fingerprint(text.encode("utf-8")))


def say_not_seen(file: Path, said: Mapping[tuple[str, str], bool]) -> NotSeen:
    """Write of some points that they are not seen, or are; what is said of others stays.

    Raises
    ------
    TurncheckError
        If the file can't be read or written; nothing is written then.
    """
    target = file.resolve()
    try:
        with alone_in(target.parent):
            points = {*read_not_seen(file).points, *said} - {one for one in said if not said[one]}
            by_view: dict[str, list[str]] = {}
            for view, name in sorted(points):
                by_view.setdefault(view, []).append(name)
            text = json_text(by_view)
            put_in_place({target: text}, lasting=True)
    except OSError as error:
        says = f"can't be written ({error.strerror}); see to that, then do it again"
        raise TurncheckError(Fault(says, str(file))) from error
    return NotSeen(frozenset(points), fingerprint(text.encode("utf-8")))

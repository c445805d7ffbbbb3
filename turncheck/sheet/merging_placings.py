"""Takes placings that were found or brought from elsewhere into a sheet's `landmarks.csv`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from turncheck.errors import Fault, TurncheckError
from turncheck.files.atomic import refuse_existing, save_new
from turncheck.sheet.landmark_edit import ChangedError, edited, save_table
from turncheck.sheet.landmark_table import Key, Placing, read_table
from turncheck.sheet.model import LANDMARKS_FILE, Sheet


@dataclass(frozen=True)
class Merged:
    """What became of the placings: written, or left because the landmark is placed already."""

    written: tuple[Placing, ...]
    left: tuple[Placing, ...]


def merge_placings(
    sheet: Sheet,
    placings: Iterable[Placing],
    *,
    replace: bool,
    beside: Mapping[Path, bytes] = MappingProxyType({}),
) -> Merged:
    """Write placings into the sheet's landmark table; the rest of the file stays as it is.

    Parameters
    ----------
    placings
        No landmark twice on one view.
    replace
        Delete what is placed of these landmarks already, by whomever; else it is left alone.
    beside
        Files that are new with the placings: all are written or nothing is.

    Raises
    ------
    TurncheckError
        If the table can't be read or written, or somebody changed it meanwhile.
    """
    refuse_existing(beside)
    path = sheet.folder / LANDMARKS_FILE
    table = read_table(path, sheet)
    there: dict[tuple[str, str], list[Key]] = {}
    for key in table.placings:
        there.setdefault(key[:2], []).append(key)
    changes: dict[Key, Placing | None] = {}
    written: list[Placing] = []
    left: list[Placing] = []
    for placing in placings:
        placed = there.get((placing.view, placing.landmark), [])
        if placed and not replace:
            left.append(placing)
            continue
        changes |= dict.fromkeys(placed)
        changes[placing.key] = placing
        written.append(placing)
    if written:
        try:
            save_table(path, edited(table, changes, sheet, str(path), repr), table.hash, beside)
        except ChangedError as error:
            says = "was changed while this was being written; run the command again"
            raise TurncheckError(Fault(says, str(path))) from error
    else:
        save_new(beside)
    return Merged(tuple(written), tuple(left))

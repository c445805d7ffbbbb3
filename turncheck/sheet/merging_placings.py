"""Takes placings that were found or brought from elsewhere into a sheet's `landmarks.csv`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from turncheck.errors import TurncheckError
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import LANDMARKS_FILE, Sheet
from turncheck.sheet.placing_file import (
    ChangedError,
    load_placings,
    save_placings,
    with_placing,
    without_placing,
)


@dataclass(frozen=True)
class Merged:
    """What became of the placings: written, or left because the landmark is placed already.

    `passed_over` has a sentence for each picture whose placings are no view's.
    """

    written: tuple[Placing, ...]
    left: tuple[Placing, ...]
    passed_over: tuple[str, ...] = ()


def merge_placings(sheet: Sheet, placings: Iterable[Placing], *, replace: bool) -> Merged:
    """Write placings into the sheet's landmark table; the rest of the file stays as it is.

    Parameters
    ----------
    replace
        Delete what is placed of these landmarks already, by whomever; else it is left alone.

    Raises
    ------
    TurncheckError
        If the table can't be read or written, or somebody changed it meanwhile.
    """
    path = sheet.folder / LANDMARKS_FILE
    before = file = load_placings(path, sheet)
    written: list[Placing] = []
    left: list[Placing] = []
    for placing in placings:
        there = [key for key in file.placings if key[:2] == (placing.view, placing.landmark)]
        if there and not replace:
            left.append(placing)
            continue
        for key in there:
            file = without_placing(file, key, sheet, str(path))
        file = with_placing(file, placing, sheet, str(path), repr)
        written.append(placing)
    if written:
        try:
            save_placings(path, file, before.hash)
        except ChangedError as error:
            raise TurncheckError(
                f"{path}: was changed while this was being written; run the command again"
            ) from error
    return Merged(tuple(written), tuple(left))

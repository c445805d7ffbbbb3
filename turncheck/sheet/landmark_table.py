"""The landmark table: `landmarks.csv` read once, with all that its owner wrote around the rows."""

from __future__ import annotations

import math
import re
import shlex
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from os.path import lexists
from pathlib import Path

from turncheck.errors import (
    UNSHOWN,
    Fault,
    FileFaults,
    TurncheckError,
    quoted,
    unknown,
)
from turncheck.files.user_files import fingerprint, is_file, is_special, read_encoded
from turncheck.images.picture_file import Picture
from turncheck.sheet.landmark_text import COLUMNS, NUMBER, NUMBERS, Cells, Dialect, read_rows
from turncheck.sheet.model import LANDMARKS_FILE, Sheet

Key = tuple[str, str, str]

VISIBILITIES = ("visible", "hidden")
#: Half a pixel: the outer edge of the outermost pixel, whose centre is a whole number.
PIXEL_EDGE = 0.5
#: No hand places more finely, px; common practice, no source.
SD_LEAST = 0.001
_PLACED_BY_LONGEST = 120
_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+\Z")


@dataclass(frozen=True)
class Placing:
    """One placing of one landmark on one view.

    Attributes
    ----------
    x, y
        px of the view's drawing, y down.
    hidden
        Whether the landmark lies behind another part, so that its place is estimated.
    sd
        Standard uncertainty, px; NaN where the sheet's default holds.
    """

    view: str
    landmark: str
    x: float
    y: float
    hidden: bool
    sd: float
    placed_by: str

    @property
    def key(self) -> Key:
        """What a table may hold once: the view, the landmark and who placed it."""
        return self.view, self.landmark, self.placed_by


@dataclass(frozen=True)
class LandmarkTable:
    """A landmark table as it stands in its file, complete or not.

    Attributes
    ----------
    lines
        Every line with its own line end, comments and blank ones too.
    encoding
        How its text is kept in the file.
    header
        The line that names the columns, counted from 0; None where there is none yet.
    dialect
        How its cells and numbers are written.
    placings
        By key, in the file's order.
    at
        The line of each placing, counted from 0.
    named
        The landmarks on views that its rows name, usable or not.
    """

    lines: tuple[str, ...]
    encoding: str
    header: int | None
    dialect: Dialect
    placings: Mapping[Key, Placing]
    at: Mapping[Key, int]
    named: Collection[tuple[str, str]]

    @property
    def data(self) -> bytes:
        """The file's bytes."""
        return "".join(self.lines).encode(self.encoding)

    @property
    def hash(self) -> str:
        """SHA-256 of the file's bytes, '' where there is nothing in it."""
        return fingerprint(self.data) if self.lines else ""


def read_complete(path: Path, sheet: Sheet) -> LandmarkTable:
    """Read the landmark table of a sheet, which must hold what every sheet needs.

    Parameters
    ----------
    path
        A CSV file as spreadsheets save it: UTF-8 with or without byte-order mark, or UTF-16 with
        it; separated by commas, semicolons or tabs; with a decimal point, or where commas
        separate nothing with a decimal comma. The columns of `COLUMNS` stand in any order and
        the last three may be missing. Upper and lower case are the same in names but in
        `placed_by`. Lines that start with # are comments; a cell holds no line break.

    Returns
    -------
    LandmarkTable
        Its placings in the file's order, repeats not averaged.

    Raises
    ------
    TurncheckError
        Naming every row that can't be used and how to mend it.
    """
    faults = FileFaults(str(path))
    table = _parsed(*read_encoded(path, faults), sheet, faults)
    if table.header is None:
        faults.add("", f"is empty; its first row must be {','.join(COLUMNS)}")
    else:
        _check_complete(table.named, sheet, faults)
    faults.raise_any()
    return table


def read_table(path: Path, sheet: Sheet) -> LandmarkTable:
    """Read a landmark table that may still be incomplete, or not be there.

    Raises
    ------
    TurncheckError
        Naming every row that can't be used.
    """
    faults = FileFaults(str(path))
    text, encoding = read_encoded(path, faults) if lexists(path) else ("", "utf-8")
    return parse_table(text, sheet, str(path), encoding)


def refuse_incomplete(path: Path, placings: Iterable[Placing], sheet: Sheet) -> None:
    """Refuse placings, from wherever, that lack what every sheet needs.

    Raises
    ------
    TurncheckError
        Naming what is missing from the table at `path`.
    """
    faults = FileFaults(str(path))
    _check_complete({(one.view, one.landmark) for one in placings}, sheet, faults)
    faults.raise_any()


def parse_table(text: str, sheet: Sheet, name: str, encoding: str = "utf-8") -> LandmarkTable:
    """Return the landmark table of a text, complete or not.

    Parameters
    ----------
    name
        The file's, for its faults.
    encoding
        How the text is kept in its file.

    Raises
    ------
    TurncheckError
        Naming every row that can't be used.
    """
    faults = FileFaults(name)
    table = _parsed(text, encoding, sheet, faults)
    faults.raise_any()
    return table


def landmarks_path(sheet: Sheet) -> Path:
    """Return where a sheet's landmark table lies.

    Raises
    ------
    TurncheckError
        If it is not there.
    """
    path = sheet.folder / LANDMARKS_FILE
    if not is_file(path) and not is_special(path):  # of which the reader says what it is
        says = (
            f"has no {LANDMARKS_FILE} beside it; place the points "
            f'with "turncheck mark {shlex.quote(str(sheet.folder))}", or write one with the '
            f"columns {','.join(COLUMNS)}"
        )
        raise TurncheckError(Fault(says, str(sheet.path)))
    return path


def refuse_outside(
    landmark: str, x: float, y: float, picture: Picture, place: str | int, faults: FileFaults
) -> bool:
    """Note a fault where a landmark lies outside its picture; return whether it does."""
    if _inside(x, picture.width) and _inside(y, picture.height):
        return False
    faults.add(
        place,
        f"{landmark} at ({x:g}, {y:g}) lies outside {picture.file} "
        f"({picture.width} × {picture.height} px); place it again",
    )
    return True


def _parsed(text: str, encoding: str, sheet: Sheet, faults: FileFaults) -> LandmarkTable:
    """Return the table of a text; rows that can't be used are noted as faults and left out."""
    lines = tuple(_LINE.findall(text))
    header, dialect, rows = read_rows(lines, faults)
    placings: dict[Key, Placing] = {}
    at: dict[Key, int] = {}
    for row, cells in rows:
        _spell(cells, sheet)
        placing = _placing(cells, sheet, row, faults)
        if placing is None:
            continue
        key = placing.key
        if key in at:
            who = f" by {quoted(placing.placed_by)}" if placing.placed_by else ""
            faults.add(
                row,
                f"{placing.landmark} on {placing.view}{who} stands in row {at[key] + 1} "
                'already; delete one, or mark a repeat in placed_by ("ana#2")',
            )
        placings.setdefault(key, placing)
        at.setdefault(key, row - 1)
    named = {(cells["view"], cells["landmark"]) for _, cells in rows}
    return LandmarkTable(lines, encoding, header, dialect, placings, at, named)


def _spell(cells: Cells, sheet: Sheet) -> None:
    """Give a row's names the spelling that the sheet knows, and its numbers a decimal point."""
    cells["view"] = _as_known(cells["view"], sheet.views)
    cells["landmark"] = _as_known(cells["landmark"], sheet.vocabulary.landmarks)
    if "visibility" in cells:
        cells["visibility"] = _as_known(cells["visibility"], VISIBILITIES)
    for name in NUMBERS:
        plain = cells.get(name, "").replace(",", ".")
        if NUMBER.fullmatch(plain):
            cells[name] = plain


def _as_known(name: str, known: Collection[str]) -> str:
    """Return the one known name that differs from a name in case alone, else the name itself."""
    if name in known:
        return name
    same = [other for other in known if other.casefold() == name.casefold()]
    return same[0] if len(same) == 1 else name


def _placing(cells: Cells, sheet: Sheet, row: int, faults: FileFaults) -> Placing | None:
    """Return the placing of a row, None where it can't be used; its faults are noted."""
    view, landmark = cells["view"], cells["landmark"]
    known = True
    if view not in sheet.views:
        faults.add(row, unknown(view, sheet.views, "a view of this sheet"))
        known = False
    if landmark not in sheet.vocabulary.landmarks:
        faults.add(row, unknown(landmark, sheet.vocabulary.landmarks, "a landmark"))
        known = False
    visibility = cells.get("visibility") or "visible"
    if visibility not in VISIBILITIES:
        faults.add(row, f"visibility = {unknown(visibility, VISIBILITIES, 'known')}")
    placed_by = cells.get("placed_by", "")
    if UNSHOWN.search(placed_by) or len(placed_by) > _PLACED_BY_LONGEST:
        faults.add(
            row,
            f"placed_by is longer than {_PLACED_BY_LONGEST} characters or holds one that can't be "
            "shown; write a short name",
        )
    x = 0.0 if landmark == "ground" and not cells["x"] else _number(cells["x"], "x", row, faults)
    y = _number(cells["y"], "y", row, faults)
    sd = _number(cells["sd"], "sd", row, faults) if cells.get("sd") else math.nan
    if sd < SD_LEAST:
        faults.add(row, f"sd = {sd:g} must be at least {SD_LEAST:g}, or empty for the sheet's own")
    if not known or math.isnan(x) or math.isnan(y):
        return None
    picture = sheet.views[view].picture
    if sd > max(picture.width, picture.height):
        faults.add(row, f"sd = {sd:g} is more than the whole of {picture.file}; write it in px")
    if landmark == "ground" and not _inside(x, picture.width):
        x = 0.0  # the ground is a line: its x means nothing
    refuse_outside(landmark, x, y, picture, row, faults)
    return Placing(view, landmark, x, y, visibility == "hidden", sd, placed_by)


def _inside(value: float, size: int) -> bool:
    return -PIXEL_EDGE <= value <= size - 1 + PIXEL_EDGE


def _number(text: str, name: str, row: int, faults: FileFaults) -> float:
    value = float(text) if NUMBER.fullmatch(text) else math.nan
    if math.isfinite(value):
        return value
    said = f"= {quoted(text)} is no number" if text else "is missing"
    faults.add(row, f"{name} {said}; write it as 123.4, or delete the row")
    return math.nan


def _check_complete(placed: Collection[tuple[str, str]], sheet: Sheet, faults: FileFaults) -> None:
    for view in sheet.views:
        if (view, "ground") not in placed:
            faults.add("", f"ground is not placed on {view}; place the line the soles stand on")
    if (sheet.base, "crown") not in placed:
        faults.add("", f"crown is not placed on {sheet.base}; the figure height needs it")

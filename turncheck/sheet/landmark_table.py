"""The landmark table: `landmarks.csv` read once, with all that its owner wrote around the rows."""

from __future__ import annotations

import csv
import math
import re
import shlex
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, fields, replace
from os.path import lexists
from pathlib import Path
from typing import TYPE_CHECKING

from turncheck.errors import (
    UNSHOWN,
    Fault,
    FileFaults,
    TurncheckError,
    did_you_mean,
    quoted,
    unknown,
)
from turncheck.files.user_files import BOM, is_file, read_encoded
from turncheck.images.picture_file import Picture, fingerprint
from turncheck.sheet.model import LANDMARKS_FILE, SHEET_FILE, Sheet

if TYPE_CHECKING:
    import pandas as pd

Key = tuple[str, str, str]
Cells = dict[str, str]

COLUMNS = ("view", "landmark", "x", "y", "visibility", "sd", "placed_by")
NEEDED = ("view", "landmark", "x", "y")
VISIBILITIES = ("visible", "hidden")
#: Half a pixel: the outer edge of the outermost pixel, whose centre is a whole number.
PIXEL_EDGE = 0.5
#: No hand places more finely, px; common practice, no source.
SD_LEAST = 0.001
_PLACED_BY_LONGEST = 120
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
_NUMBERS = ("x", "y", "sd")
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
class Dialect:
    """How a table is written: what parts its cells, and what parts a number's decimals."""

    separator: str = ","
    decimal: str = "."

    def cells(self, line: str) -> list[str]:
        """Return the cells of a line.

        Raises
        ------
        csv.Error
            If its quotes do not match or a cell is too long.
        """
        return next(csv.reader([line], delimiter=self.separator, strict=True), [])


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

    lines: tuple[str, ...] = ()
    encoding: str = "utf-8"
    header: int | None = None
    dialect: Dialect = Dialect()
    placings: Mapping[Key, Placing] = field(default_factory=dict)
    at: Mapping[Key, int] = field(default_factory=dict)
    named: Collection[tuple[str, str]] = frozenset()

    @property
    def data(self) -> bytes:
        """The file's bytes."""
        return "".join(self.lines).encode(self.encoding)

    @property
    def hash(self) -> str:
        """SHA-256 of the file's bytes, '' where there is nothing in it."""
        return fingerprint(self.data) if self.lines else ""


def read_placings(path: Path, sheet: Sheet) -> tuple[Placing, ...]:
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
    tuple
        In the file's order, repeats not averaged.

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
    return tuple(table.placings.values())


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


def as_frame(placings: Iterable[Placing]) -> pd.DataFrame:
    """Return placings as a frame with a column for each of their fields, in the same order."""
    import pandas as pd

    rows = [asdict(placing) for placing in placings]
    return pd.DataFrame(rows, columns=[column.name for column in fields(Placing)])


def read_landmarks(path: Path, sheet: Sheet) -> pd.DataFrame:
    """Return the placings of `read_placings` as a frame."""
    return as_frame(read_placings(path, sheet))


def landmarks_path(sheet: Sheet) -> Path:
    """Return where a sheet's landmark table lies.

    Raises
    ------
    TurncheckError
        If it is not there.
    """
    path = sheet.folder / LANDMARKS_FILE
    if not is_file(path):
        says = (
            f"has no {LANDMARKS_FILE} beside it; place the landmarks "
            f'with "turncheck mark {shlex.quote(str(sheet.folder))}", or write one with the '
            f"columns {','.join(COLUMNS)}"
        )
        raise TurncheckError(Fault(says, str(sheet.folder / SHEET_FILE)))
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
    """Return the table of a text; rows that can't be used are noted as faults and left out.

    Raises
    ------
    TurncheckError
        If its header can't be used, or most of its rows have too many cells.
    """
    lines = tuple(_LINE.findall(text))
    bare = [line.rstrip("\r\n") for line in lines]
    if bare:
        bare[0] = bare[0].removeprefix(BOM)
    table = LandmarkTable(lines, encoding)
    header = next((i for i, line in enumerate(bare) if _is_told(line)), None)
    if header is None:
        return table
    dialect = Dialect(max(",;\t", key=bare[header].count))
    rows = _rows(bare, header, dialect, faults)
    dialect = replace(dialect, decimal=_decimal_mark(rows, dialect, faults))
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


def _is_told(line: str) -> bool:
    """Return whether a line is neither blank nor a comment, which may stand in quotes."""
    return bool(line.strip()) and not line.lstrip(' \t"').startswith("#")


def _rows(
    lines: Sequence[str], header: int, dialect: Dialect, faults: FileFaults
) -> list[tuple[int, Cells]]:
    """Return the rows below a header: the number of each, from 1, and its cells by column."""
    columns = [cell.strip().lower() for cell in _cells(lines[header], dialect, header + 1, faults)]
    faults.raise_any()
    width = len(columns)
    while columns and not columns[-1]:  # a spreadsheet's empty columns
        columns.pop()
    for name in dict.fromkeys(columns):
        if name not in COLUMNS:
            faults.add(header + 1, f"{quoted(name)} is no column; {did_you_mean(name, COLUMNS)}")
        elif columns.count(name) > 1:
            faults.add(header + 1, f"column {name} stands twice; delete one")
    for name in NEEDED:
        if name not in columns:
            faults.add(header + 1, f"column {name} is missing; add it")
    faults.raise_any()
    rows: list[tuple[int, Cells]] = []
    too_long: list[tuple[int, int]] = []
    for number, line in enumerate(lines[header + 1 :], start=header + 2):
        if not _is_told(line):
            continue
        cells = [cell.strip() for cell in _cells(line, dialect, number, faults)]
        if not cells:
            continue
        if len(cells) > width or any(cells[len(columns) :]):
            too_long.append((number, len(cells)))
        elif not any(cells):
            faults.add(number, "is empty; delete it")
        else:
            cells += [""] * (len(columns) - len(cells))
            rows.append((number, dict(zip(columns, cells, strict=False))))
    if too_long:
        faults.add(too_long[0][0], _too_many(too_long, len(columns), dialect))
    if len(too_long) > len(rows):  # what is left tells nothing
        faults.raise_any()
    return rows


_SEMICOLONS = "save the table with semicolons between its cells, or write numbers as 123.4"


def _too_many(rows: list[tuple[int, int]], columns: int, dialect: Dialect) -> str:
    """Return the one sentence for all rows with too many cells: (row, cells) of each."""
    more = f" (and so in {len(rows) - 1} more rows)" if len(rows) > 1 else ""
    mend = "delete what is too much"
    if dialect.separator == ",":
        mend = f"numbers with a decimal comma do that: {_SEMICOLONS}; or {mend}"
    return f"has {rows[0][1]} cells for {columns} columns{more}; {mend}"


def _decimal_mark(rows: Iterable[tuple[int, Cells]], dialect: Dialect, faults: FileFaults) -> str:
    """Return what parts the decimals of a table's numbers; a comma is a fault where it can't be.

    It can't beside points, nor in quotes between commas, where it may group thousands.
    """
    first: dict[str, tuple[int, str]] = {}
    for number, cells in rows:
        for name in _NUMBERS:
            text = cells.get(name, "")
            for mark in ",.":
                if mark in text and _NUMBER.fullmatch(text.replace(mark, ".")):
                    first.setdefault(mark, (number, f"{name} = {quoted(text)}"))
    if "," not in first:
        return "."
    row, said = first[","]
    if "." in first:
        other = f"row {first['.'][0]} has a decimal point"
        faults.add(row, f"{said} has a decimal comma, {other}; write all as 123.4, or all as 123,4")
    elif dialect.separator == ",":
        faults.add(row, f"{said} has a comma in it; {_SEMICOLONS}")
    return ","


def _spell(cells: Cells, sheet: Sheet) -> None:
    """Give a row's names the spelling that the sheet knows, and its numbers a decimal point."""
    cells["view"] = _as_known(cells["view"], sheet.views)
    cells["landmark"] = _as_known(cells["landmark"], sheet.vocabulary.landmarks)
    if "visibility" in cells:
        cells["visibility"] = _as_known(cells["visibility"], VISIBILITIES)
    for name in _NUMBERS:
        plain = cells.get(name, "").replace(",", ".")
        if _NUMBER.fullmatch(plain):
            cells[name] = plain


def _as_known(name: str, known: Collection[str]) -> str:
    """Return the one known name that differs from a name in case alone, else the name itself."""
    if name in known:
        return name
    same = [other for other in known if other.casefold() == name.casefold()]
    return same[0] if len(same) == 1 else name


def _cells(line: str, dialect: Dialect, row: int, faults: FileFaults) -> list[str]:
    try:
        return dialect.cells(line)
    except csv.Error as error:
        faults.add(row, f"can't be read ({error}); check its quotes, a cell holds no line break")
        return []


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
    value = float(text) if _NUMBER.fullmatch(text) else math.nan
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

"""The landmark table: reads and checks `landmarks.csv`."""

from __future__ import annotations

import csv
import math
import re
import shlex
from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from turncheck.errors import UNSHOWN, FileFaults, TurncheckError, did_you_mean, quoted
from turncheck.files.user_files import BOM, is_file, read_encoded
from turncheck.images.picture_file import Picture
from turncheck.sheet.model import LANDMARKS_FILE, SHEET_FILE, Sheet

COLUMNS = ("view", "landmark", "x", "y", "visibility", "sd", "placed_by")
NEEDED = ("view", "landmark", "x", "y")
VISIBILITIES = ("visible", "hidden")
#: Half a pixel: the outer edge of the outermost pixel, whose centre is a whole number.
EDGE = 0.5
#: No hand places more finely, px; common practice, no source.
LEAST_SD = 0.001
_LONGEST_NAME = 120
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
_NUMBERS = ("x", "y", "sd")
_LINE_END = re.compile(r"\r\n|\r|\n")


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
class Table:
    """The rows of a landmark table: the number of each and its cells by column.

    The first line is row 1. Names that the sheet knows are spelt as they are there, and numbers
    have a decimal point.
    """

    dialect: Dialect = Dialect()
    rows: list[tuple[int, dict[str, str]]] = field(default_factory=list)


@dataclass(frozen=True)
class Placing:
    """One placing of one landmark on one view; `x`, `y`, `sd` in px of its drawing."""

    view: str
    landmark: str
    x: float
    y: float
    hidden: bool
    sd: float
    placed_by: str


def read_landmarks(path: Path, sheet: Sheet) -> pd.DataFrame:
    """Interim."""
    return pd.DataFrame(read_placings(path, sheet), columns=list(Placing.__dataclass_fields__))


def read_placings(path: Path, sheet: Sheet) -> tuple[Placing, ...]:
    """Read the landmark table of a sheet.

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
    DataFrame
        view, landmark (str), x, y (float, px of the drawing, y down), hidden (bool),
        sd (float px, NaN where the sheet's default holds), placed_by (str).

    Raises
    ------
    TurncheckError
        Naming every row that can't be used and how to mend it.
    """
    faults = FileFaults(str(path))
    placings: list[Placing] = []
    first_rows: dict[tuple[str, str, str], int] = {}
    named: set[tuple[str, str]] = set()
    for row, cells in read_table(read_encoded(path, faults)[0], sheet, faults).rows:
        named.add((cells["view"], cells["landmark"]))
        placing = read_placing(cells, sheet, f"row {row}", faults)
        if placing is None:
            continue
        key = (placing.view, placing.landmark, placing.placed_by)
        if key in first_rows:
            who = f" by {quoted(placing.placed_by)}" if placing.placed_by else ""
            faults.add(
                f"row {row}",
                f"{placing.landmark} on {placing.view}{who} stands in row {first_rows[key]} "
                'already; delete one, or mark a repeat in placed_by ("ana#2")',
            )
        first_rows.setdefault(key, row)
        placings.append(placing)
    _check_complete(named, sheet, faults)
    faults.raise_any()
    return tuple(placings)


def landmarks_path(sheet: Sheet) -> Path:
    """Return where a sheet's landmark table lies.

    Raises
    ------
    TurncheckError
        If it is not there.
    """
    path = sheet.folder / LANDMARKS_FILE
    if not is_file(path):
        raise TurncheckError(
            f"{sheet.folder / SHEET_FILE}: has no {LANDMARKS_FILE} beside it; place the landmarks "
            f'with "turncheck mark {shlex.quote(str(sheet.folder))}", or write one with the '
            f"columns {','.join(COLUMNS)}"
        )
    return path


def read_table(text: str, sheet: Sheet, faults: FileFaults) -> Table:
    """Return the rows of a landmark table's text; those that are no rows are noted as faults.

    Raises
    ------
    TurncheckError
        If its header can't be used.
    """
    lines = _LINE_END.split(text.removeprefix(BOM))
    start = next((i for i, line in enumerate(lines) if line.strip() and not is_comment(line)), None)
    if start is None:
        faults.add("", f"is empty; its first row must be {','.join(COLUMNS)}")
        faults.raise_any()
        return Table()
    dialect = Dialect(max(",;\t", key=lines[start].count))
    place = f"row {start + 1}"
    header = [cell.strip().lower() for cell in _cells(lines[start], dialect, place, faults)]
    faults.raise_any()
    width = len(header)
    while header and not header[-1]:  # a spreadsheet's empty columns
        header.pop()
    for name in dict.fromkeys(header):
        if name not in COLUMNS:
            faults.add(place, f"{quoted(name)} is no column; {did_you_mean(name, COLUMNS)}")
        elif header.count(name) > 1:
            faults.add(place, f"column {name} stands twice; delete one")
    for name in NEEDED:
        if name not in header:
            faults.add(place, f"column {name} is missing; add it")
    faults.raise_any()
    rows: list[tuple[int, dict[str, str]]] = []
    too_long: list[tuple[int, int]] = []
    for number, line in enumerate(lines[start + 1 :], start=start + 2):
        if not line.strip() or is_comment(line):
            continue
        cells = _cells(line, dialect, f"row {number}", faults)
        if not cells:
            continue
        if len(cells) > width or any(cell.strip() for cell in cells[len(header) :]):
            too_long.append((number, len(cells)))
        elif not any(cell.strip() for cell in cells):
            faults.add(f"row {number}", "is empty; delete it")
        else:
            padded = cells[: len(header)] + [""] * (len(header) - len(cells))
            rows.append((number, {k: v.strip() for k, v in zip(header, padded, strict=True)}))
    if too_long:
        faults.add(f"row {too_long[0][0]}", _too_many(too_long, len(header), dialect))
    if len(too_long) > len(rows):  # what is left tells nothing
        faults.raise_any()
    decimal = _decimal_mark(rows, dialect, faults)
    for _, cells_by_name in rows:
        _spell(cells_by_name, sheet)
    return Table(Dialect(dialect.separator, decimal), rows)


_SEMICOLONS = "save the table with semicolons between its cells, or write numbers as 123.4"


def _too_many(rows: list[tuple[int, int]], columns: int, dialect: Dialect) -> str:
    """Return the one sentence for all rows with too many cells: (row, cells) of each."""
    more = f" (and so in {len(rows) - 1} more rows)" if len(rows) > 1 else ""
    mend = "delete what is too much"
    if dialect.separator == ",":
        mend = f"numbers with a decimal comma do that: {_SEMICOLONS}; or {mend}"
    return f"has {rows[0][1]} cells for {columns} columns{more}; {mend}"


def _decimal_mark(
    rows: list[tuple[int, dict[str, str]]], dialect: Dialect, faults: FileFaults
) -> str:
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
        faults.add(
            f"row {row}",
            f"{said} has a decimal comma, {other}; write all as 123.4, or all as 123,4",
        )
    elif dialect.separator == ",":
        faults.add(f"row {row}", f"{said} has a comma in it; {_SEMICOLONS}")
    return ","


def _spell(cells: dict[str, str], sheet: Sheet) -> None:
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


def _cells(line: str, dialect: Dialect, place: str, faults: FileFaults) -> list[str]:
    try:
        return dialect.cells(line)
    except csv.Error as error:
        faults.add(place, f"can't be read ({error}); check its quotes, a cell holds no line break")
        return []


def is_comment(line: str) -> bool:
    """Return whether a line of the file is a comment; a spreadsheet may have put it in quotes."""
    return line.lstrip(' \t"').startswith("#")


def read_placing(
    cells: dict[str, str], sheet: Sheet, place: str, faults: FileFaults
) -> Placing | None:
    """Return the placing of a row, None where it has faults; they are noted."""
    view, landmark = cells["view"], cells["landmark"]
    known = True
    if view not in sheet.views:
        hint = did_you_mean(view, sheet.views)
        faults.add(place, f"{quoted(view)} is not a view of this sheet; {hint}")
        known = False
    if landmark not in sheet.vocabulary.landmarks:
        hint = did_you_mean(landmark, sheet.vocabulary.landmarks)
        faults.add(place, f"{quoted(landmark)} is not a landmark; {hint}")
        known = False
    visibility = cells.get("visibility") or "visible"
    if visibility not in VISIBILITIES:
        hint = did_you_mean(visibility, VISIBILITIES)
        faults.add(place, f"visibility = {quoted(visibility)} is not known; {hint}")
    placed_by = cells.get("placed_by", "")
    if UNSHOWN.search(placed_by) or len(placed_by) > _LONGEST_NAME:
        faults.add(
            place,
            f"placed_by is longer than {_LONGEST_NAME} characters or holds one that can't be "
            "shown; write a short name",
        )
    x = 0.0 if landmark == "ground" and not cells["x"] else _number(cells["x"], "x", place, faults)
    y = _number(cells["y"], "y", place, faults)
    sd = _number(cells["sd"], "sd", place, faults) if cells.get("sd") else math.nan
    if sd < LEAST_SD:
        faults.add(
            place, f"sd = {sd:g} must be at least {LEAST_SD:g}, or empty for the sheet's own"
        )
    if not known or math.isnan(x) or math.isnan(y):
        return None
    picture = sheet.views[view].picture
    if sd > max(picture.width, picture.height):
        faults.add(place, f"sd = {sd:g} is more than the whole of {picture.file}; write it in px")
    if landmark == "ground" and not _inside(x, picture.width):
        x = 0.0  # the ground is a line: its x means nothing
    refuse_outside(landmark, x, y, picture, place, faults)
    return Placing(view, landmark, x, y, visibility == "hidden", sd, placed_by)


def refuse_outside(
    landmark: str, x: float, y: float, picture: Picture, place: str, faults: FileFaults
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


def _inside(value: float, size: int) -> bool:
    return -EDGE <= value <= size - 1 + EDGE


def _number(text: str, name: str, place: str, faults: FileFaults) -> float:
    value = float(text) if _NUMBER.fullmatch(text) else math.nan
    if math.isfinite(value):
        return value
    said = f"= {quoted(text)} is no number" if text else "is missing"
    faults.add(place, f"{name} {said}; write it as 123.4, or delete the row")
    return math.nan


def _check_complete(placed: set[tuple[str, str]], sheet: Sheet, faults: FileFaults) -> None:
    for view in sheet.views:
        if (view, "ground") not in placed:
            faults.add("", f"ground is not placed on {view}; place the line the soles stand on")
    if (sheet.base, "crown") not in placed:
        faults.add("", f"crown is not placed on {sheet.base}; the figure height needs it")

"""The landmark table: reads and checks `landmarks.csv`."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from turncheck.errors import UNSHOWN, FileFaults, did_you_mean, quoted
from turncheck.files import is_file, read_text
from turncheck.sheet import LANDMARKS_FILE, Sheet

COLUMNS = ("view", "landmark", "x", "y", "visibility", "sd", "placed_by")
NEEDED = ("view", "landmark", "x", "y")
VISIBILITIES = ("visible", "hidden")
#: Half a pixel: the outer edge of the outermost pixel, whose centre is a whole number.
EDGE = 0.5
#: No hand places more finely, px; common practice, no source.
LEAST_SD = 0.001
_LONGEST_NAME = 120
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)


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
    """Read the landmark table of a sheet.

    Parameters
    ----------
    path
        A CSV file, UTF-8 with or without byte-order mark, comma or semicolon separated,
        decimal point, with the columns of `COLUMNS` in any order; the last three may be
        missing. Lines that start with # are comments; a cell holds no line break.

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
    for row, cells in each_row(read_text(path, faults), faults):
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
    return pd.DataFrame(placings, columns=list(Placing.__dataclass_fields__))


def landmarks_path(sheet: Sheet) -> Path:
    """Return where a sheet's landmark table lies.

    Raises
    ------
    TurncheckError
        If it is not there.
    """
    path = sheet.folder / LANDMARKS_FILE
    if not is_file(path):
        faults = FileFaults(str(sheet.folder))
        header = ",".join(COLUMNS)
        faults.add("", f"has no {LANDMARKS_FILE}; place the landmarks in one, columns {header}")
        faults.raise_any()
    return path


def each_row(text: str, faults: FileFaults) -> Iterator[tuple[int, dict[str, str]]]:
    """Yield the number and the cells by column of each row; the first line is row 1."""
    lines = text.split("\n")
    start = next((i for i, line in enumerate(lines) if line.strip() and not is_comment(line)), None)
    if start is None:
        faults.add("", f"is empty; its first row must be {','.join(COLUMNS)}")
        faults.raise_any()
        return
    separator = ";" if lines[start].count(";") > lines[start].count(",") else ","
    place = f"row {start + 1}"
    header = [cell.strip().lower() for cell in _cells(lines[start], separator, place, faults)]
    faults.raise_any()
    for name in dict.fromkeys(header):
        if name not in COLUMNS:
            faults.add(place, f"{quoted(name)} is no column; {did_you_mean(name, COLUMNS)}")
        elif header.count(name) > 1:
            faults.add(place, f"column {name} stands twice; delete one")
    for name in NEEDED:
        if name not in header:
            faults.add(place, f"column {name} is missing; add it")
    faults.raise_any()
    for number, line in enumerate(lines[start + 1 :], start=start + 2):
        if not line.strip() or is_comment(line):
            continue
        cells = _cells(line, separator, f"row {number}", faults)
        if not cells:
            continue
        if len(cells) > len(header):
            faults.add(
                f"row {number}",
                f"has {len(cells)} cells for {len(header)} columns; "
                "use a decimal point and delete what is too much",
            )
        elif not any(cell.strip() for cell in cells):
            faults.add(f"row {number}", "is empty; delete it")
        else:
            padded = cells + [""] * (len(header) - len(cells))
            yield number, {k: v.strip() for k, v in zip(header, padded, strict=True)}


def _cells(line: str, separator: str, place: str, faults: FileFaults) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=separator, strict=True))
    except csv.Error as error:
        faults.add(place, f"can't be read ({error}); check its quotes, a cell holds no line break")
        return []


def is_comment(line: str) -> bool:
    """Return whether a line of the file is a comment."""
    return line.lstrip().startswith("#")


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
    if not (_inside(x, picture.width) and _inside(y, picture.height)):
        faults.add(
            place,
            f"{landmark} at ({x:g}, {y:g}) lies outside {picture.file} "
            f"({picture.width} × {picture.height} px); place it again",
        )
    return Placing(view, landmark, x, y, visibility == "hidden", sd, placed_by)


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

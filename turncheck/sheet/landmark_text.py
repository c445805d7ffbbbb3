"""The text of a landmark table: its lines, what parts their cells, and the rows of cells."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable
from dataclasses import dataclass

from turncheck.errors import FileFaults, did_you_mean, quoted
from turncheck.files.user_files import BOM

Cells = dict[str, str]

COLUMNS = ("view", "landmark", "x", "y", "visibility", "sd", "placed_by")
NEEDED = ("view", "landmark", "x", "y")
NUMBERS = ("x", "y", "sd")
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?", re.ASCII | re.IGNORECASE)
_SEMICOLONS = "save the table with semicolons between its cells, or write numbers as 123.4"


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


def read_rows(
    lines: Iterable[str], faults: FileFaults
) -> tuple[int | None, Dialect, list[tuple[int, Cells]]]:
    """Read the rows in a table's lines; those that can't be used are noted as faults.

    Returns
    -------
    tuple
        The line of the header, counted from 0, or None where there is none; how the rows are
        written; and the number of each row, counted from 1, with its cells by column.

    Raises
    ------
    TurncheckError
        If the header can't be used, or most of the rows have too many cells.
    """
    bare = [line.removeprefix(BOM).rstrip("\r\n") for line in lines]
    header = next((i for i, line in enumerate(bare) if _is_told(line)), None)
    if header is None:
        return None, Dialect(), []
    dialect = Dialect(max(",;\t", key=bare[header].count))
    columns, width = _columns(bare[header], header + 1, dialect, faults)
    rows: list[tuple[int, Cells]] = []
    too_long: list[tuple[int, int]] = []
    for number, line in enumerate(bare[header + 1 :], start=header + 2):
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
    decimal = _decimal_mark(rows, dialect, faults)
    return header, Dialect(dialect.separator, decimal), rows


def _columns(line: str, row: int, dialect: Dialect, faults: FileFaults) -> tuple[list[str], int]:
    """Return the columns that a header names, and how many cells it has with its empty last ones.

    Raises
    ------
    TurncheckError
        If one is unknown, missing or named twice.
    """
    columns = [cell.strip().lower() for cell in _cells(line, dialect, row, faults)]
    faults.raise_any()
    width = len(columns)
    while columns and not columns[-1]:  # a spreadsheet's empty columns
        columns.pop()
    for name in dict.fromkeys(columns):
        if name not in COLUMNS:
            faults.add(row, f"{quoted(name)} is no column; {did_you_mean(name, COLUMNS)}")
        elif columns.count(name) > 1:
            faults.add(row, f"column {name} stands twice; delete one")
    for name in NEEDED:
        if name not in columns:
            faults.add(row, f"column {name} is missing; add it")
    faults.raise_any()
    return columns, width


def _is_told(line: str) -> bool:
    """Return whether a line is neither blank nor a comment, which may stand in quotes."""
    return bool(line.strip()) and not line.lstrip(' \t"').startswith("#")


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
        for name in NUMBERS:
            text = cells.get(name, "")
            for mark in ",.":
                if mark in text and NUMBER.fullmatch(text.replace(mark, ".")):
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


def _cells(line: str, dialect: Dialect, row: int, faults: FileFaults) -> list[str]:
    try:
        return dialect.cells(line)
    except csv.Error as error:
        faults.add(row, f"can't be read ({error}); check its quotes, a cell holds no line break")
        return []

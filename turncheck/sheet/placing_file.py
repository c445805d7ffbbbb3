"""Edits `landmarks.csv` placing by placing; the rest stays as its owner wrote it."""

from __future__ import annotations

import csv
import io
import os
import re
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from turncheck.errors import FileFaults, TurncheckError
from turncheck.files.atomic import put_in_place
from turncheck.files.user_files import BOM, read_encoded
from turncheck.images.picture_file import fingerprint
from turncheck.sheet.landmark_table import (
    COLUMNS,
    Dialect,
    Placing,
    Table,
    is_comment,
    read_placing,
    read_table,
)
from turncheck.sheet.model import Sheet

Key = tuple[str, str, str]
_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+\Z")
#: A placing is written to a hundredth of a pixel; no hand places more finely.
_DECIMALS = 2


class ChangedError(Exception):
    """The file is no longer the one that a change was made to; nothing was written."""


@dataclass(frozen=True)
class PlacingFile:
    """A landmark table as it stands in its file.

    Attributes
    ----------
    lines
        Every line with its own line end, comments and blank ones too.
    placings
        By view, landmark and who placed it, in the file's order; px of each drawing.
    at
        The line of each placing, counted from 0.
    dialect
        How its cells and numbers are written.
    encoding
        How its text is.
    """

    lines: tuple[str, ...]
    placings: Mapping[Key, Placing]
    at: Mapping[Key, int]
    dialect: Dialect
    encoding: str

    @property
    def text(self) -> str:
        """The file's text."""
        return "".join(self.lines)

    @property
    def data(self) -> bytes:
        """The file's bytes."""
        return self.text.encode(self.encoding)

    @property
    def hash(self) -> str:
        """SHA-256 of the file's bytes, '' where there is nothing in it."""
        return fingerprint(self.data) if self.lines else ""

    @property
    def table(self) -> pd.DataFrame:
        """The placings as `read_landmarks` gives them."""
        columns = list(Placing.__dataclass_fields__)
        return pd.DataFrame(list(self.placings.values()), columns=columns)


def load_placings(path: Path, sheet: Sheet) -> PlacingFile:
    """Read a landmark table that may still be incomplete, or not be there.

    Raises
    ------
    TurncheckError
        Naming every row that can't be used.
    """
    text, encoding = "", "utf-8"
    if os.path.lexists(path):
        text, encoding = read_encoded(path, FileFaults(str(path)))
    return parse_placings(text, sheet, str(path), encoding)


def parse_placings(text: str, sheet: Sheet, name: str, encoding: str = "utf-8") -> PlacingFile:
    """Return the placings of a landmark table's text, complete or not.

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
    lines = tuple(_LINE.findall(text))
    placings: dict[Key, Placing] = {}
    at: dict[Key, int] = {}
    blank = not text.removeprefix(BOM).strip()
    table = Table() if blank else read_table(text, sheet, faults)
    for row, cells in table.rows:
        placing = read_placing(cells, sheet, f"row {row}", faults)
        if placing is None:
            continue
        key = (placing.view, placing.landmark, placing.placed_by)
        if key in at:
            faults.add(f"row {row}", f"says again what row {at[key] + 1} says; delete one")
        placings[key], at[key] = placing, row - 1
    faults.raise_any()
    return PlacingFile(lines, placings, at, table.dialect, encoding)


def hundredths(value: float) -> str:
    """Return px as a hand's placing is written."""
    return f"{value:.{_DECIMALS}f}"


def with_placing(
    file: PlacingFile,
    placing: Placing,
    sheet: Sheet,
    name: str,
    written: Callable[[float], str] = hundredths,
) -> PlacingFile:
    """Return the file with a placing changed in its row, or put after its view's last row.

    Parameters
    ----------
    written
        How px are written.

    Raises
    ------
    TurncheckError
        If the placing can't be used (outside its drawing, an unknown name).
    """
    lines = list(file.lines)
    if lines and not lines[-1].endswith(("\r", "\n")):
        lines[-1] += _line_end(lines)
    header = next((i for i, line in enumerate(lines) if _tells(line)), None)
    if header is None:
        lines.append(",".join(COLUMNS) + _line_end(lines))
        header = len(lines) - 1
    dialect = file.dialect

    def number(value: str) -> str:
        return value.replace(".", dialect.decimal)

    wanted = {
        "view": placing.view,
        "landmark": placing.landmark,
        "x": number(written(placing.x)),
        "y": number(written(placing.y)),
        "visibility": "hidden" if placing.hidden else "visible",
        "sd": number(f"{placing.sd:g}") if placing.sd == placing.sd else "",
        "placed_by": placing.placed_by,
    }
    columns = _cells(lines[header].removeprefix(BOM), dialect)
    for column in COLUMNS[4:]:
        said = wanted[column] not in ("", "visible")
        if said and column not in [cell.strip().lower() for cell in columns]:
            lines[header] = _with_column(lines[header], column, dialect)
            columns = _cells(lines[header].removeprefix(BOM), dialect)
    key = (placing.view, placing.landmark, placing.placed_by)
    old: list[str] = []
    end = _line_end(lines)
    if key in file.at:
        where = file.at[key]
        end = _ending(lines[where]) or end
        old = _cells(lines[where], dialect)
        del lines[where]
    else:
        same = [i for (view, _, _), i in file.at.items() if view == placing.view]
        where = max(same) + 1 if same else len(lines)
    old += [""] * (len(columns) - len(old))
    cells = [
        _kept_or(kept, wanted.get(column.strip().lower(), kept))
        for column, kept in zip(columns, old, strict=True)
    ]
    buffer = io.StringIO()
    csv.writer(buffer, delimiter=dialect.separator, lineterminator="").writerow(cells)
    lines.insert(where, buffer.getvalue() + end)
    return parse_placings("".join(lines), sheet, name, file.encoding)


def without_placing(file: PlacingFile, key: Key, sheet: Sheet, name: str) -> PlacingFile:
    """Return the file without a placing's row; one that is not there changes nothing."""
    if key not in file.at:
        return file
    lines = list(file.lines)
    del lines[file.at[key]]
    return parse_placings("".join(lines), sheet, name, file.encoding)


def save_placings(path: Path, file: PlacingFile, expected: str) -> None:
    """Put the whole file in its place at once, and only where nobody else has changed it.

    Parameters
    ----------
    expected
        The hash of the file that the change was made to, '' for none.

    Raises
    ------
    ChangedError
        If another hash is on disk; nothing is written.
    TurncheckError
        If the folder can't be written.
    """
    target = path.resolve()
    temporary = ""
    try:
        with _alone(target.parent):
            now = target.read_bytes() if target.exists() else b""
            if (fingerprint(now) if now else "") != expected:
                raise ChangedError
            handle, temporary = tempfile.mkstemp(prefix=".turncheck-", dir=target.parent)
            with os.fdopen(handle, "wb") as out:
                out.write(file.data)
                out.flush()
                os.fsync(out.fileno())
            os.chmod(temporary, target.stat().st_mode & 0o777 if target.exists() else 0o644)
            put_in_place(temporary, target)
            temporary = ""
    except OSError as error:
        raise TurncheckError(f"{path}: can't be written ({error.strerror})") from error
    finally:
        if temporary:
            with suppress(FileNotFoundError):
                os.unlink(temporary)


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Keep a second turncheck from writing between the look at the hash and the replacing."""
    try:
        import fcntl
    except ImportError:  # not a Unix: the window of a millisecond stays open
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
        with suppress(OSError):  # the new name outlives a power cut, where the disk can do that
            os.fsync(handle)
    finally:
        os.close(handle)


def _tells(line: str) -> bool:
    bare = line.removeprefix(BOM)
    return bool(bare.strip()) and not is_comment(bare)


def _cells(line: str, dialect: Dialect) -> list[str]:
    return dialect.cells(line.rstrip("\r\n"))


def _with_column(line: str, column: str, dialect: Dialect) -> str:
    """Return a header with a column more, in the first of its empty last cells if it has any."""
    ending = _ending(line)
    bare = line.removesuffix(ending)
    empty = 0
    while bare.endswith(dialect.separator):
        bare, empty = bare.removesuffix(dialect.separator), empty + 1
    return bare + dialect.separator + column + dialect.separator * (empty - 1) + ending


def _kept_or(old: str, new: str) -> str:
    """Return a cell as its owner wrote it where it says the same, but for case."""
    return old if old.strip().casefold() == new.casefold() else new


def _ending(line: str) -> str:
    return line[len(line.rstrip("\r\n")) :]


def _line_end(lines: list[str]) -> str:
    return next((_ending(line) for line in lines if _ending(line)), "\n")

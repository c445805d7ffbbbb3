"""Edits a landmark table placing by placing; the rest stays as its owner wrote it."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType

from turncheck.errors import Fault, TurncheckError
from turncheck.files.atomic import Content, alone_in, not_written, put_in_place
from turncheck.files.user_files import BOM, fingerprint
from turncheck.sheet.landmark_table import Key, LandmarkTable, Placing, parse_table
from turncheck.sheet.landmark_text import COLUMNS, NEEDED, Dialect
from turncheck.sheet.model import Sheet

#: What becomes of placings, by their keys: each is put there, or taken out where there is None.
Changes = Mapping[Key, Placing | None]


class ChangedError(Exception):
    """The file is no longer the one that a change was made to; nothing was written."""


def hundredths(value: float) -> str:
    """Return px as a hand's placing is written; no hand places more finely."""
    return f"{value:.2f}"


def edited(
    table: LandmarkTable,
    changes: Changes,
    sheet: Sheet,
    name: str,
    written: Callable[[float], str] = hundredths,
) -> LandmarkTable:
    """Return the table with placings put or taken out.

    A placing that is there is changed in its row, another goes after its view's last row. One to
    be taken out that is not there changes nothing.

    Parameters
    ----------
    name
        The file's, for faults.
    written
        How px are written.

    Raises
    ------
    TurncheckError
        If a placing can't be used (outside its drawing, an unknown name).
    """
    put = {key: _cells_of(p, table.dialect, written) for key, p in changes.items() if p}
    if not put and not changes.keys() & table.at.keys():
        return table
    lines = list(table.lines)
    end = next(filter(None, map(_ending, lines)), "\n")
    if put and lines and not _ending(lines[-1]):
        lines[-1] += end
    header = table.header
    if header is None:
        header = len(lines)
        lines.append(",".join(COLUMNS) + end)
    columns = _columns(lines[header], table.dialect)
    for column in COLUMNS[len(NEEDED) :]:
        said = any(cells[column] not in ("", "visible") for cells in put.values())
        if said and column not in columns:
            lines[header] = _with_column(lines[header], column, table.dialect)
            columns = _columns(lines[header], table.dialect)
    last = {view: line for (view, _, _), line in table.at.items()}
    added: dict[str, list[str]] = {}
    for key in changes:
        there = table.at.get(key)
        if key not in put:
            if there is not None:
                lines[there] = ""
        elif there is None:
            added.setdefault(key[0], []).append(_row(put[key], [], columns, table.dialect) + end)
        else:
            old = table.dialect.cells(table.lines[there].rstrip("\r\n"))
            lines[there] = _row(put[key], old, columns, table.dialect) + _ending(lines[there])
    for view in sorted(added, key=lambda view: view not in last):
        lines[last.get(view, -1)] += "".join(added[view])
    result = parse_table("".join(lines), sheet, name, table.encoding)
    if not put.keys() <= result.placings.keys():
        says = "a name in placed_by has no # at its start and no spaces around it; write another"
        raise TurncheckError(Fault(says, name))
    return result


def save_table(
    path: Path,
    table: LandmarkTable,
    expected: str,
    beside: Mapping[Path, Content] = MappingProxyType({}),
) -> None:
    """Put the whole file in its place at once, and only where nobody else has changed it.

    Parameters
    ----------
    expected
        The hash of the table that the change was made to, '' for none.
    beside
        Files that are new with it: all are written or nothing is.

    Raises
    ------
    ChangedError
        If another hash is on disk; nothing is written.
    TurncheckError
        If the folder or the file can't be written, or something is in the way.
    """
    target = path.resolve()
    try:
        with alone_in(target.parent):
            now = target.read_bytes() if target.exists() else b""
            if (fingerprint(now) if now else "") != expected:
                raise ChangedError
            put_in_place({**beside, target: table.data}, new=beside.keys(), lasting=True)
    except OSError as error:
        if error.filename in map(str, beside):
            raise not_written(error) from error
        says = f"can't be written ({error.strerror}); see to that, then do it again"
        raise TurncheckError(Fault(says, str(path))) from error


def _cells_of(
    placing: Placing, dialect: Dialect, written: Callable[[float], str]
) -> dict[str, str]:
    """Return the cells of a placing by their columns."""
    sd = "" if placing.sd != placing.sd else f"{placing.sd:g}"
    x, y, sd = (
        text.replace(".", dialect.decimal) for text in (written(placing.x), written(placing.y), sd)
    )
    visibility = "hidden" if placing.hidden else "visible"
    cells = (placing.view, placing.landmark, x, y, visibility, sd, placing.placed_by)
    return dict(zip(COLUMNS, cells, strict=True))


def _row(cells: Mapping[str, str], old: Sequence[str], columns: list[str], dialect: Dialect) -> str:
    """Return a row, its cells as their owner wrote them where they say the same, but for case."""
    kept = [*old, *[""] * (len(columns) - len(old))]
    new = [cells.get(column, was) for column, was in zip(columns, kept, strict=True)]
    row = [
        was if was.strip().casefold() == now.casefold() else now
        for was, now in zip(kept, new, strict=True)
    ]
    text = io.StringIO()
    csv.writer(text, delimiter=dialect.separator, lineterminator="").writerow(row)
    return text.getvalue()


def _columns(header: str, dialect: Dialect) -> list[str]:
    cells = dialect.cells(header.removeprefix(BOM).rstrip("\r\n"))
    return [cell.strip().lower() for cell in cells]


def _with_column(header: str, column: str, dialect: Dialect) -> str:
    """Return a header with a column more, in the first of its empty last cells if it has any."""
    ending = _ending(header)
    bare = header.removesuffix(ending)
    filled = bare.rstrip(dialect.separator)
    empty = len(bare) - len(filled)
    return filled + dialect.separator + column + dialect.separator * (empty - 1) + ending


def _ending(line: str) -> str:
    return line[len(line.rstrip("\r\n")) :]

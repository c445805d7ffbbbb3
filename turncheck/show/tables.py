"""The tables of a survey: a row a sheet, and every finding of every sheet."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from sys import intern
from typing import TYPE_CHECKING, Any

from turncheck.checks.table import COLUMNS, TEXT, cells_of, csv_text, plain_cell
from turncheck.files.version import VERSION
from turncheck.show.record import Record

if TYPE_CHECKING:
    import pandas as pd

    from turncheck.instructions.result import Result

#: What says of each finding which sheet it is of, before the columns that a sheet's table has.
SHEET_COLUMNS = ("path", "character", "revision")
#: The columns of `sheets.csv`.
COLUMNS_OF_SHEETS = (
    *SHEET_COLUMNS,
    "verdict",
    "to_redraw",
    "worst",
    "approval",
    "reason",
    "seconds",
    "to_decide",
)
COLUMNS_OF_FINDINGS = (*SHEET_COLUMNS, *COLUMNS)
COLUMNS_OF_DRIFTS = (*SHEET_COLUMNS, "view", "landmark", "drift_pct", "sd_pct", "drawn_by")
_NAMES_OF_DRIFTS = ("view", "landmark")
#: What every table in Parquet has held since the first version.
PARQUET_MARK = b"turncheck_version"
#: Of a table that is made to Parquet, bytes that are held at once; common practice, no source.
_AT_ONCE = 2_000_000


def sheets_csv(records: Iterable[Record]) -> str:
    """Return a row a sheet, as CSV."""
    return csv_text(COLUMNS_OF_SHEETS, map(_cells, records))


def _cells(record: Record) -> list[str]:
    return [plain_cell(str(getattr(record, name))) for name in COLUMNS_OF_SHEETS]


def findings_csv(record: Record, checked: Result) -> str:
    """Return a sheet's rows of the table of all findings, with its heading."""
    sheet = [plain_cell(getattr(record, name)) for name in SHEET_COLUMNS]
    rows = cells_of(checked.rows, checked.follows)
    return csv_text(COLUMNS_OF_FINDINGS, ([*sheet, *row] for row in rows))


def join_findings(tables: Iterable[bytes], file: Path) -> None:
    """Write the findings of all sheets one after the other, each given with its heading."""
    with file.open("wb") as joined:
        joined.write(csv_text(COLUMNS_OF_FINDINGS, ()).encode("utf-8"))
        for table in tables:
            joined.write(table.partition(b"\n")[2])


def make_parquet(table: Path, file: Path) -> None:
    """Write the table of all findings in Parquet as well: text as it is, numbers as doubles.

    It is read piece by piece, so that it may be of any length.
    """
    import pyarrow as pa
    from pyarrow import csv, parquet

    kinds = {
        name: pa.string() if name in {*SHEET_COLUMNS, *TEXT} else pa.float64()
        for name in COLUMNS_OF_FINDINGS
    }
    schema = pa.schema(kinds.items(), {PARQUET_MARK: VERSION})
    pieces = csv.open_csv(
        table,
        csv.ReadOptions(use_threads=False, block_size=_AT_ONCE),
        csv.ParseOptions(newlines_in_values=True),
        csv.ConvertOptions(column_types=kinds, null_values=[""], strings_can_be_null=False),
    )
    with parquet.ParquetWriter(file, schema, compression="zstd") as writer:
        for piece in pieces:
            writer.write_batch(piece.cast(schema))


def drifts_table(sheets: Iterable[tuple[Record, Mapping[str, list[Any]]]]) -> pd.DataFrame:
    """Return the drifts of all sheets: of which sheet, by whom, and as `drift_columns` has them.

    Parameters
    ----------
    sheets
        The record and the drifts of each.
    """
    import pandas as pd

    columns: dict[str, list[Any]] = {name: [] for name in COLUMNS_OF_DRIFTS}
    for record, drifts in sheets:
        count = len(drifts["view"])
        for name in SHEET_COLUMNS:
            columns[name] += [getattr(record, name)] * count
        for name, cells in drifts.items():  # the same few names again and again are kept once
            columns[name] += map(intern, cells) if name in _NAMES_OF_DRIFTS else cells
        columns["drawn_by"] += [record.drawn_by[view] for view in drifts["view"]]
    return pd.DataFrame(columns)

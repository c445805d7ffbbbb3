"""The tables of a survey: a row a sheet, and every finding of every sheet."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from turncheck.checks.table import COLUMNS, TEXT, csv_text, plain_cell
from turncheck.files.version import VERSION
from turncheck.show.record import Record

if TYPE_CHECKING:
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
#: What every table in Parquet has held since the first version.
PARQUET_MARK = b"turncheck_version"
#: Of a table that is made to Parquet, bytes that are held at once; common practice, no source.
_AT_ONCE = 500_000


def sheets_csv(records: Iterable[Record]) -> str:
    """Return a row a sheet, as CSV."""
    return csv_text(COLUMNS_OF_SHEETS, map(_cells, records))


def _cells(record: Record) -> list[str]:
    return [plain_cell(str(getattr(record, name))) for name in COLUMNS_OF_SHEETS]


def findings_csv(record: Record, checked: Result) -> str:
    """Return a sheet's rows of the table of all findings, with its heading."""
    sheet = [plain_cell(getattr(record, name)) for name in SHEET_COLUMNS]
    return csv_text(COLUMNS_OF_FINDINGS, ([*sheet, *row] for row in checked.cells))


class FindingsTable:
    """The findings of all sheets as they come in, written as CSV and in Parquet.

    In Parquet text is as it is, and numbers are doubles.
    """

    def __init__(self, folder: Path) -> None:
        import pyarrow as pa
        from pyarrow import parquet

        pa.set_memory_pool(pa.system_memory_pool())
        self.csv, self.parquet = folder / "findings.csv", folder / "findings.parquet"
        self._heading = csv_text(COLUMNS_OF_FINDINGS, ()).encode("utf-8")
        self._joined = self.csv.open("wb")
        self._joined.write(self._heading)
        self._kinds: dict[str, Any] = {
            name: pa.string() if name in {*SHEET_COLUMNS, *TEXT} else pa.float64()
            for name in COLUMNS_OF_FINDINGS
        }
        self._schema = pa.schema(self._kinds.items(), {PARQUET_MARK: VERSION})
        self._writer = parquet.ParquetWriter(self.parquet, self._schema, compression="zstd")
        self._rows = bytearray(self._heading)

    def add(self, findings: bytes) -> None:
        """Write the rows of a sheet, which are given with their heading."""
        rows = findings.partition(b"\n")[2]
        self._joined.write(rows)
        self._rows += rows
        if len(self._rows) > _AT_ONCE:
            self._to_parquet()

    def close(self) -> None:
        """Write what is left; nothing can be added then."""
        if not self._joined.closed:
            self._joined.close()
            self._to_parquet()
            self._writer.close()

    def _to_parquet(self) -> None:
        import pyarrow as pa
        from pyarrow import csv

        table = csv.read_csv(
            pa.py_buffer(self._rows),
            csv.ReadOptions(use_threads=False),
            csv.ParseOptions(newlines_in_values=True),
            csv.ConvertOptions(
                column_types=self._kinds, null_values=[""], strings_can_be_null=False
            ),
        )
        self._writer.write_table(table.cast(self._schema))
        self._rows = bytearray(self._heading)
        del table
        pa.default_memory_pool().release_unused()  # else each piece leaves some more behind

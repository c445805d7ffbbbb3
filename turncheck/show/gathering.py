"""Puts together what is over all sheets of a survey while workers are still at others."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

from turncheck.files.atomic import Content
from turncheck.show.cache import kept_rest
from turncheck.show.record import Record

if TYPE_CHECKING:
    from turncheck.show.drifts import DriftRows
    from turncheck.show.tables import FindingsTable

#: Called with how many sheets have not changed, how many are checked, and how many there are.
Progress = Callable[[int, int, int], None]


class Gathered:
    """The sheets of a survey, taken in as they end and put in their order.

    What is over all of them is written next to the cache meanwhile, so that little is held, and
    little is left to do at the end.

    Parameters
    ----------
    cache
        The folder of the cache.
    total
        How many sheets there are.
    progress
        Called at the start and with each sheet.
    """

    def __init__(self, cache: Path, total: int, progress: Progress | None) -> None:
        self.records: list[Record] = []
        self.keys: set[str] = set()
        self.checked = 0
        self._cache, self._total, self._progress = cache, total, progress
        self._waiting: dict[int, tuple[str, Record]] = {}
        self._unchanged = 0
        self._held = ExitStack()
        self._over_all: tuple[FindingsTable, DriftRows] | None = None

    def __enter__(self) -> Gathered:
        self._folder = Path(self._held.enter_context(tempfile.TemporaryDirectory(dir=self._cache)))
        self._tell()
        return self

    def __exit__(self, *_: object) -> None:
        self._held.close()

    def _tell(self) -> None:
        if self._progress is not None:
            self._progress(self._unchanged, self.checked, self._total)

    def add(self, number: int, key: str, record: Record, *, checked: bool) -> None:
        """Take in a sheet: its place among them, the key of its entry in the cache, its record."""
        self._waiting[number] = key, record
        self.checked += checked
        self._unchanged += not checked
        self._tell()
        while (ended := self._waiting.pop(len(self.records), None)) is not None:
            self.keys.add(ended[0])
            self.records.append(ended[1])
            if not ended[1].reason:
                drifts, findings = kept_rest(self._cache, ended[0])
                table, rows = self._opened()
                table.add(findings)
                rows.add(ended[1], drifts)

    def _opened(self) -> tuple[FindingsTable, DriftRows]:
        """Return what takes in findings and drifts; all that the end needs is imported with it."""
        if self._over_all is None:
            from turncheck.show import habits_page, index  # noqa: F401
            from turncheck.show.drifts import DriftRows
            from turncheck.show.tables import FindingsTable

            self._over_all = FindingsTable(self._folder), DriftRows()
            self._held.callback(self._over_all[0].close)
        return self._over_all

    def contents(self, title: str, sampled: str) -> tuple[Content, ...]:
        """Return the page, the table of sheets, and that of findings as CSV and in Parquet.

        Parameters
        ----------
        title
            The show's name.
        sampled
            Which sheets were picked, a sentence; '' for a survey of all.
        """
        from turncheck.show.habits import habits_of
        from turncheck.show.habits_page import habits_section
        from turncheck.show.index import render_index
        from turncheck.show.tables import sheets_csv

        table, rows = self._opened()
        table.close()
        habits = None if sampled else habits_section(habits_of(rows.all()))
        page = self._folder / "page.html"
        pieces = render_index(self.records, title=title, habits=habits, sampled=sampled)
        pieces.dump(str(page), "utf-8")
        return page, sheets_csv(self.records), table.csv, table.parquet

"""Findings as people meet them: a table of plain cells, as a frame and as CSV."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from turncheck.checks.finding import NOTHING, Finding

if TYPE_CHECKING:
    import pandas as pd

#: What a spreadsheet takes for the start of a formula (OWASP ASVS 5.0, 1.2.10; line ends and
#: the full-width signs from memory of OWASP's page on CSV injection).
_FORMULA_STARTS = tuple("=+-@＝＋－＠")
_FORMULA_BLANKS = ("\t", "\r", "\n")


def as_record(finding: Finding, follows: int = 0) -> dict[str, str | float]:
    """Return a finding's cells by column; lists of names are parted by spaces.

    Parameters
    ----------
    follows
        Number of the instruction that it follows from, 0 for none.
    """
    blame = finding.blame
    return {
        "check": finding.check,
        "view": finding.view,
        "subject": finding.subject.name,
        "expected": finding.expected,
        "measured": finding.measured,
        "drift_px": finding.drift_px,
        "drift_pct": finding.drift_pct,
        "uncertainty_pct": finding.uncertainty_pct,
        "tolerance_pct": finding.tolerance_pct,
        "verdict": finding.verdict.value,
        "note": str(finding.note),
        "unit": finding.unit,
        "whole_pct": finding.whole_pct,
        "own_pct": finding.own_pct,
        "odd_view": blame.odd_view,
        "odd_pct": blame.amount,
        "landmarks": " ".join(finding.subject.landmarks),
        "blamed": blame.kind.value,
        "blamed_views": " ".join(blame.views),
        "follows": str(follows or ""),
    }


#: What follows where nothing does.
NONE: Mapping[int, int] = {}

_NOTHING = as_record(Finding("", "", NOTHING))
#: The columns, in order; those of `TEXT` hold text, all others numbers.
COLUMNS = tuple(_NOTHING)
TEXT = tuple(name for name, cell in _NOTHING.items() if isinstance(cell, str))


def as_table(findings: Iterable[Finding], follows: Mapping[int, int] = NONE) -> pd.DataFrame:
    """Return findings as a frame with `COLUMNS`, text as str and numbers as float.

    Parameters
    ----------
    follows
        By row, the number of the instruction that it follows from.
    """
    import pandas as pd

    records = [as_record(finding, follows.get(row, 0)) for row, finding in enumerate(findings)]
    table = pd.DataFrame(records, columns=list(COLUMNS))
    numbers = [name for name in COLUMNS if name not in TEXT]
    return table.astype({name: "str" for name in TEXT} | {name: "float64" for name in numbers})


def cells_of(findings: Iterable[Finding], follows: Mapping[int, int] = NONE) -> list[list[str]]:
    """Return the cells of each finding as CSV has them; none starts a formula, NaN is empty.

    Parameters
    ----------
    follows
        By row, the number of the instruction that it follows from.
    """
    return [
        list(map(_cell, as_record(finding, follows.get(row, 0)).values()))
        for row, finding in enumerate(findings)
    ]


def csv_text(columns: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """Return rows of cells, written as they are, as CSV (RFC 4180, lines ended by a newline)."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return text.getvalue()


def _cell(value: str | float) -> str:
    if isinstance(value, str):
        return plain_cell(value)
    return "" if math.isnan(value) else f"{value:.6g}"


def plain_cell(text: str) -> str:
    """Return text that a spreadsheet shows as it is; what can't be seen before a sign is no help.

    >>> plain_cell("=1+1"), plain_cell("knee_l")
    ("'=1+1", 'knee_l')
    """
    if text[:1].isalnum():  # as most do
        return text
    first = next((letter for letter in text if letter.isprintable() and letter != " "), "")
    risky = first in _FORMULA_STARTS or text.startswith(_FORMULA_BLANKS)
    return f"'{text}" if risky else text

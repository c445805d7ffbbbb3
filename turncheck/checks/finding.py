"""The findings table: one row for everything that was compared, and what it adds up to."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from typing import Literal

import pandas as pd

from turncheck.errors import did_you_mean
from turncheck.geometry.guard_bands import Verdict, judge
from turncheck.sheet.model import Waiver

Unit = Literal["pct_height", "pct_ratio", "deg", "delta_e"]


@dataclass(frozen=True)
class Finding:
    """One comparison.

    Attributes
    ----------
    view, subject
        The drawing, and the landmark, ratio or line that was compared.
    expected, measured
        px of the view's own drawing; heights count upwards from its ground line; for `unit`
        pct_ratio the ratios themselves.
    drift_px
        measured - expected, up or to the picture's right positive; NaN where the unit is not px.
    drift_pct, uncertainty_pct, tolerance_pct
        In `unit`: % of the figure height, % of the expected ratio, degrees, or CIEDE2000.
    whole_pct, own_pct
        The shares of the drift that the whole drawing's size and position explain, and its own.
    odd_view, odd_pct
        The view that the majority outvotes for this subject, and how far it lies from them, in
        `unit`; '' and NaN where nobody is blamed.
    landmarks
        The placed landmarks it rests on, separated by spaces.
    """

    check: str
    view: str
    subject: str
    expected: float = math.nan
    measured: float = math.nan
    drift_px: float = math.nan
    drift_pct: float = math.nan
    uncertainty_pct: float = math.nan
    tolerance_pct: float = math.nan
    verdict: str = Verdict.NOT_MEASURED.value
    note: str = ""
    unit: Unit = "pct_height"
    whole_pct: float = math.nan
    own_pct: float = math.nan
    odd_view: str = ""
    odd_pct: float = math.nan
    landmarks: str = ""

    def judged(self) -> Finding:
        """Return the finding with the verdict that its drift and uncertainty give it."""
        verdict = judge(self.drift_pct, self.uncertainty_pct, self.tolerance_pct)
        return replace(self, verdict=verdict.value)


COLUMNS = tuple(field.name for field in fields(Finding))
#: Columns that hold text; all others hold numbers.
TEXT = ("check", "view", "subject", "verdict", "note", "unit", "odd_view", "landmarks")
#: What a spreadsheet takes for the start of a formula (OWASP ASVS 5.0, 1.2.10; line ends and
#: the full-width signs from memory of OWASP's page on CSV injection).
_FORMULA_STARTS = tuple("=+-@＝＋－＠")
_FORMULA_BLANKS = ("\t", "\r", "\n")


def not_measured(
    check: str, view: str, subject: str, reason: str, unit: Unit = "pct_height"
) -> Finding:
    """Return the row that says why something could not be measured."""
    return Finding(check, view, subject, note=reason, unit=unit)


def as_table(findings: Iterable[Finding]) -> pd.DataFrame:
    """Return findings as a frame with `COLUMNS`, text as str and numbers as float."""
    table = pd.DataFrame([vars(finding) for finding in findings], columns=list(COLUMNS))
    numbers = [name for name in COLUMNS if name not in TEXT]
    return table.astype({name: "str" for name in TEXT} | {name: "float64" for name in numbers})


def waive(table: pd.DataFrame, waivers: Sequence[Waiver]) -> pd.DataFrame:
    """Return the table with off-model rows waived where a waiver names them."""
    table = table.copy()
    for waiver in waivers:
        named = (
            (table["check"] == waiver.check)
            & (table["view"] == waiver.view)
            & (table["subject"] == waiver.subject)
            & (table["verdict"] == Verdict.OFF_MODEL.value)
        )
        table.loc[named, "verdict"] = Verdict.WAIVED.value
        table.loc[named, "note"] = f"waived by {waiver.by}: {waiver.reason}"
    return table


def astray(table: pd.DataFrame, waivers: Sequence[Waiver]) -> list[tuple[Waiver, str]]:
    """Return the waivers whose subject is none of their check's on that view, each with a hint."""
    found = []
    for waiver in waivers:
        here = (table["check"] == waiver.check) & (table["view"] == waiver.view)
        known = table.loc[here, "subject"]
        if waiver.subject not in set(known):
            found.append((waiver, did_you_mean(waiver.subject, known)))
    return found


def counts(table: pd.DataFrame) -> dict[str, int]:
    """Return how many rows have each verdict, all five named."""
    found = table["verdict"].value_counts()
    return {verdict.value: int(found.get(verdict.value, 0)) for verdict in Verdict}


def overall(table: pd.DataFrame) -> Verdict:
    """Return the sheet's verdict.

    Off model if any row is; undecided if more rows are undecided than decided, or none could
    be measured; else on model, whatever is still undecided being counted beside it.
    """
    found = counts(table)
    if found[Verdict.OFF_MODEL]:
        return Verdict.OFF_MODEL
    decided = found[Verdict.ON_MODEL] + found[Verdict.WAIVED]
    return (
        Verdict.ON_MODEL if decided and decided >= found[Verdict.UNDECIDED] else Verdict.UNDECIDED
    )


def ranked(table: pd.DataFrame) -> pd.DataFrame:
    """Return the off-model rows, the furthest beyond its tolerance first."""
    off = table[table["verdict"] == Verdict.OFF_MODEL.value]
    excess = off["drift_pct"].abs() / off["tolerance_pct"]
    return off.loc[excess.sort_values(ascending=False, kind="stable").index]


def as_csv(table: pd.DataFrame) -> str:
    """Return the table as CSV whose cells never start a spreadsheet formula."""
    safe = table.copy()
    for name in TEXT:
        safe[name] = safe[name].map(plain_cell)
    text: str = safe.to_csv(index=False, float_format="%.6g", lineterminator="\n")
    return text


def plain_cell(text: str) -> str:
    """Return text that a spreadsheet shows as it is; what can't be seen before a sign is no help.

    >>> plain_cell("=1+1"), plain_cell("knee_l")
    ("'=1+1", 'knee_l')
    """
    first = next((letter for letter in text if letter.isprintable() and letter != " "), "")
    risky = first in _FORMULA_STARTS or text.startswith(_FORMULA_BLANKS)
    return f"'{text}" if risky else text

"""The checks, one module each, found by itself, and what runs them over a sheet."""

from __future__ import annotations

import pkgutil
from functools import cache
from importlib import import_module
from pathlib import Path

import pandas as pd

from turncheck import checks as room
from turncheck.checks.check import Check, Tolerances
from turncheck.checks.finding import Finding, as_table
from turncheck.geometry.measurement import Measurement
from turncheck.sheet.model import Sheet
from turncheck.sheet.sheet_file import read_sheet


@cache
def all_checks() -> tuple[Check, ...]:
    """Return every check, in the report's order."""
    modules = (
        import_module(f"{room.__name__}.{m.name}") for m in pkgutil.iter_modules(room.__path__)
    )
    checks = (module.CHECK for module in modules if hasattr(module, "CHECK"))
    return tuple(sorted(checks, key=lambda check: check.order))


def check_names() -> tuple[str, ...]:
    """Return the names of all checks."""
    return tuple(check.name for check in all_checks())


def further_tolerances() -> tuple[str, ...]:
    """Return the names of tolerances that checks have beside their own."""
    return tuple(name for check in all_checks() for name in check.named)


def tolerances_for(check: Check, measured: Measurement) -> Tolerances:
    """Return a check's tolerances on a sheet.

    A landmark's own comes first, then the sheet's, then the vocabulary's, then the check's.
    """
    sheet = measured.sheet
    general = sheet.tolerances.get(
        check.name, sheet.vocabulary.tolerances.get(check.name, check.tolerance)
    )
    own = {
        mark.name: mark.tolerance
        for mark in sheet.vocabulary.landmarks.values()
        if mark.tolerance is not None and check.unit == "pct_height"
    }
    named = {name: sheet.tolerances.get(name, value) for name, value in check.named.items()}
    return Tolerances(general, own, named)


def run_checks(measured: Measurement) -> pd.DataFrame:
    """Run every check and return the findings table."""
    rows: list[Finding] = []
    for check in all_checks():
        rows.extend(check.run(measured, tolerances_for(check, measured)))
    return as_table(rows)


def open_sheet(path: str | Path) -> Sheet:
    """Read a sheet's folder or file, the names of all checks being known.

    Raises
    ------
    TurncheckError
        Naming every fault of the file and how to mend it.
    """
    return read_sheet(Path(path), check_names(), further_tolerances())

"""The checks, one module each, found by itself, and what runs them over a sheet."""

import pkgutil
from functools import cache
from importlib import import_module
from pathlib import Path

from turncheck import checks as room
from turncheck.checks.check import Check, Tolerances
from turncheck.checks.finding import Finding
from turncheck.checks.verdicts import BESIDE_APPROVED
from turncheck.geometry.measurement import Measurement
from turncheck.sheet.model import Sheet
from turncheck.sheet.sheet_file import read_sheet


@cache
def all_checks() -> tuple[Check, ...]:
    """Return every check, in the report's order."""
    names = (module.name for module in pkgutil.iter_modules(room.__path__))
    modules = (import_module(f"{room.__name__}.{name}") for name in names)
    checks = (module.CHECK for module in modules if hasattr(module, "CHECK"))
    return tuple(sorted(checks, key=lambda check: check.order))


def judge_of(kind: str) -> Check:
    """Return the check that judges where a kind of landmark lies."""
    return next(check for check in all_checks() if kind in check.judges)


def tolerances_for(check: Check, sheet: Sheet) -> Tolerances:
    """Return a check's tolerances on a sheet.

    A landmark's own comes first, then the sheet's, then the vocabulary's, then the check's.
    """
    general = sheet.tolerances.get(
        check.name, sheet.vocabulary.tolerances.get(check.name, check.tolerance)
    )
    own = {
        mark.name: mark.tolerance
        for mark in sheet.vocabulary.landmarks.values()
        if mark.tolerance is not None and check.unit == "pct_height"
    }
    named = {one.name: sheet.tolerances.get(one.name, one.value) for one in check.further}
    return Tolerances(general, own, named)


def tolerance_of(landmark: str, sheet: Sheet) -> float:
    """Return how far a landmark may lie from where the other drawings have it, % of the figure.

    One without a height of its own is held to that of heights.
    """
    mark = sheet.vocabulary.landmarks[landmark]
    return tolerances_for(judge_of(mark.kind if mark.has_height else "height"), sheet).of(landmark)


def run_checks(measured: Measurement) -> list[Finding]:
    """Run every check and return what they found."""
    return [
        finding
        for check in all_checks()
        for finding in check.run(measured, tolerances_for(check, measured.sheet))
    ]


def open_sheet(path: str | Path) -> Sheet:
    """Read a sheet's folder or file, the names of all checks being known.

    Raises
    ------
    TurncheckError
        Naming every fault of the file and how to mend it.
    """
    checks = all_checks()
    further = tuple(one.name for check in checks for one in check.further)
    names = tuple(check.name for check in checks)
    return read_sheet(Path(path), names, further, BESIDE_APPROVED)

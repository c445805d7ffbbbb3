"""The checks: one module each, found by itself.

A check module holds `CHECK`, a `Check` record whose `run` yields findings. Adding a check is
adding such a module and its test; nothing else names it.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module

import pandas as pd

from turncheck.findings import Finding, Unit, as_table
from turncheck.measuring import Measured


@dataclass(frozen=True)
class Tolerances:
    """What one check may let pass, in the check's unit."""

    general: float
    own: dict[str, float]
    named: dict[str, float] = field(default_factory=dict)

    def of(self, *landmarks: str) -> float:
        """Return the tolerance for these landmarks together: the widest of their own."""
        return max((self.own.get(name, self.general) for name in landmarks), default=self.general)


@dataclass(frozen=True)
class Check:
    """A check's record: it feeds the report, the help, the documents and the tests.

    Attributes
    ----------
    order
        Place in the report, small first.
    tolerance
        Default, in `unit`.
    named
        Further tolerances of its own by the name that a sheet gives them, in their own units.
    measures, why, mend
        One sentence each, for the person who draws.
    run
        Yields findings for a measured sheet.
    """

    name: str
    title: str
    order: int
    unit: Unit
    tolerance: float
    measures: str
    why: str
    mend: str
    run: Callable[[Measured, Tolerances], Iterable[Finding]]
    named: Mapping[str, float] = field(default_factory=dict)


@cache
def all_checks() -> tuple[Check, ...]:
    """Return every check, in the report's order."""
    modules = (import_module(f"{__name__}.{m.name}") for m in pkgutil.iter_modules(__path__))
    checks = (module.CHECK for module in modules if hasattr(module, "CHECK"))
    return tuple(sorted(checks, key=lambda check: check.order))


def check_names() -> tuple[str, ...]:
    """Return the names of all checks."""
    return tuple(check.name for check in all_checks())


def further_tolerances() -> tuple[str, ...]:
    """Return the names of tolerances that checks have beside their own."""
    return tuple(name for check in all_checks() for name in check.named)


def tolerances_for(check: Check, measured: Measured) -> Tolerances:
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


def run_checks(measured: Measured) -> pd.DataFrame:
    """Run every check and return the findings table."""
    rows: list[Finding] = []
    for check in all_checks():
        rows.extend(check.run(measured, tolerances_for(check, measured)))
    return as_table(rows)

"""What the checks of pictures say where nobody looked at the drawings."""

from __future__ import annotations

from collections.abc import Iterator

from turncheck.checks.finding import Finding, Unit, not_measured
from turncheck.geometry.measurement import Measurement

NOT_LOOKED_AT = "the drawings were not looked at"


def not_looked_at(measured: Measurement, check: str, subject: str, unit: Unit) -> Iterator[Finding]:
    """Yield the row of each view but the reference that says so."""
    for v, view in enumerate(measured.views):
        if v != measured.reference:
            yield not_measured(check, view, subject, NOT_LOOKED_AT, unit)

"""What a check is: a record of its name, its tolerance and how it finds."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from turncheck.checks.finding import Finding, Unit
from turncheck.geometry.measurement import Measurement


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
    run: Callable[[Measurement, Tolerances], Iterable[Finding]]
    named: Mapping[str, float] = field(default_factory=dict)

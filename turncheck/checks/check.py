"""What a check is: a record of its name, its tolerance and how it finds."""

from collections.abc import Callable, Iterable
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
class FurtherTolerance:
    """A tolerance that a check has beside its own: its name in a sheet, and what it limits."""

    name: str
    title: str
    value: float


Run = Callable[[Measurement, Tolerances], Iterable[Finding]]


@dataclass(frozen=True)
class Check:
    """A check's record: it feeds the report, the help, the documents and the tests.

    Attributes
    ----------
    order
        Place in the report, small first.
    tolerance
        Default, in `unit`.
    further
        Tolerances of its own beside that, each in its own unit.
    judges
        Kinds of landmarks whose placing it judges while they are placed, needing no other
        drawing but the reference and no more points than these.
    measures, why, mend
        One sentence each, for the person who draws; `mend` starts with a verb.
    run, within
        Yields findings for a measured sheet; and those of them alone that rest on how points of a
        drawing lie to each other, where `run` has others too.
    """

    name: str
    title: str
    order: int
    unit: Unit
    tolerance: float
    measures: str
    why: str
    mend: str
    run: Run
    within: Run | None = None
    further: tuple[FurtherTolerance, ...] = ()
    judges: tuple[str, ...] = ()

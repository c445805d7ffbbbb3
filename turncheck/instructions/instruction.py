"""An instruction: one thing to redraw in one drawing, and the rows that it answers."""

import enum
import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, replace

from turncheck.checks.finding import Finding, Kind
from turncheck.geometry.measurement import Measurement
from turncheck.wording.plain import spoken

#: A row's place among the findings, and the finding.
Row = tuple[int, Finding]


class Work(enum.IntEnum):
    """What an instruction is about, in the order of work."""

    WHOLE = 0
    PART = 1
    POINT = 2
    RATIO = 3
    OUTLINE = 4
    INK = 5
    OTHER = 6


@dataclass(frozen=True)
class Instruction:
    """One thing to redraw.

    Attributes
    ----------
    view, kind
        The drawing to change, and what its findings are about.
    says
        One sentence: what is off, by how much, what to do.
    amount_px, amount_pct
        The drift in px of that drawing, and in its finding's unit; NaN where there is none.
    sideways
        Whether the drift is to the picture's right, not up.
    settled
        Whether a majority of the drawings says that this one is wrong.
    landmarks, findings
        The landmarks to move; the rows of the findings table that it answers, by index.
    """

    view: str
    work: Work
    kind: Kind
    says: str
    amount_px: float = math.nan
    amount_pct: float = math.nan
    sideways: bool = False
    settled: bool = True
    landmarks: tuple[str, ...] = ()
    findings: tuple[int, ...] = ()

    @property
    def move_px(self) -> tuple[float, float] | None:
        """How far its landmarks should go, px of the drawing: right and down; None if unsaid."""
        moved = self.kind in (Kind.POINT, Kind.MIDDLE) and self.work in (Work.PART, Work.POINT)
        if not moved or not math.isfinite(self.amount_px):
            return None
        return (-self.amount_px, 0.0) if self.sideways else (0.0, self.amount_px)


@dataclass(frozen=True)
class Target:
    """The drawing that a row says to change, how far it is off, and whether that is settled."""

    view: str
    amount: float
    settled: bool


def target_of(finding: Finding) -> Target:
    """Return which drawing a finding says to change: the outvoted one, else its own."""
    blame = finding.blame
    if blame.odd_view:
        return Target(blame.odd_view, blame.amount, True)
    return Target(finding.view, finding.drift_pct, blame.settled)


def asked(row: Row, work: Work, says: str) -> Instruction:
    """Return the instruction to change the drawing that a row says to change, by its drift."""
    index, finding = row
    target = target_of(finding)
    return Instruction(
        target.view,
        work,
        finding.subject.kind,
        says,
        finding.drift_px,
        target.amount,
        settled=target.settled,
        findings=(index,),
    )


def answer(answers: Iterable[tuple[Hashable, Instruction]]) -> list[Instruction]:
    """Return one instruction for all of one drawing with one key; it answers all their rows."""
    kept: dict[tuple[str, Hashable], Instruction] = {}
    for key, new in answers:
        earlier = kept.get((new.view, key))
        rows = (*(earlier.findings if earlier else ()), *new.findings)
        kept[new.view, key] = replace(new, findings=rows)
    return list(kept.values())


def reference_words(measured: Measurement) -> str:
    """Return the reference as a person says it."""
    reference = measured.sheet.reference
    return "the consensus" if measured.reference is None else f"the {spoken(reference)} drawing"

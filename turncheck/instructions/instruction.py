"""An instruction: one thing to redraw, or to decide, and the rows that it answers."""

import enum
import math
from collections.abc import Hashable, Iterable
from dataclasses import dataclass, replace

from turncheck.checks.finding import Finding, Kind
from turncheck.geometry.measurement import Measurement
from turncheck.plain import spoken
from turncheck.wording.instructions import Telling

#: A row's place among the findings, and the finding.
Row = tuple[int, Finding]


class Work(enum.IntEnum):
    """What an instruction is about, in the order of work."""

    WHOLE = 0
    DECIDE = 1
    PART = 2
    POINT = 3
    RATIO = 4
    OUTLINE = 5
    INK = 6
    OTHER = 7


@dataclass(frozen=True)
class Instruction(Telling):
    """One thing to redraw, or one question to decide first; and what is told of it.

    Attributes
    ----------
    views, kind
        The drawing to change, or those of which one is wrong; and what its findings are about.
    drifts_px, amount_pct
        The drift in each of `views`, px of that drawing, NaN where there is none, up or to the
        right; and the largest in its finding's unit, NaN where there is none.
    sideways
        Whether the drift is to the picture's right, not up.
    stands_px
        How far a drawing that is to be scaled stands above its line besides, px.
    landmarks, findings
        The landmarks to move; the rows of the findings table that it answers, by index.
    follows
        Off-model rows that come from the same cause and need no work of their own, by index.
    """

    views: tuple[str, ...]
    work: Work
    kind: Kind
    drifts_px: tuple[float, ...] = ()
    amount_pct: float = math.nan
    sideways: bool = False
    stands_px: float = 0.0
    landmarks: tuple[str, ...] = ()
    findings: tuple[int, ...] = ()
    follows: tuple[int, ...] = ()

    @property
    def settled(self) -> bool:
        """Whether it is said which drawing is wrong."""
        return len(self.views) == 1

    @property
    def view(self) -> str:
        """The drawing to change, '' where that has to be decided first."""
        return self.views[0] if self.settled else ""

    @property
    def amount_px(self) -> float:
        """The drift in the drawing to change, NaN where there is none or it isn't settled."""
        return self.drifts_px[0] if self.settled and self.drifts_px else math.nan

    @property
    def move_px(self) -> dict[str, tuple[float, float]]:
        """How far its landmarks, or a whole drawing, should go in each view: right and down, px.

        Of several views in one only: in that which is decided to be wrong.
        """
        if self.kind not in (Kind.POINT, Kind.MIDDLE, Kind.GROUND):
            return {}
        return {
            view: (-drift, 0.0) if self.sideways else (0.0, drift)
            for view, drift in zip(self.views, self.drifts_px, strict=False)
            if math.isfinite(drift)
        }


@dataclass(frozen=True)
class Target:
    """The drawing that a row says to change, or those of which one is wrong, and how far off."""

    views: tuple[str, ...]
    amount: float

    @property
    def settled(self) -> bool:
        """Whether it is said which drawing is wrong."""
        return len(self.views) == 1


def target_of(measured: Measurement, finding: Finding) -> Target:
    """Return which drawing a finding says to change: the outvoted one, else its own.

    Where that can't be told: those of which one is wrong, its own and the reference if nothing
    says more.
    """
    blame = finding.blame
    if blame.odd_view:
        return Target((blame.odd_view,), blame.amount)
    if blame.settled:
        return Target((finding.view,), finding.drift_pct)
    reference = measured.sheet.reference
    alone = measured.reference is None or finding.view == reference
    others = measured.views if alone else (reference,)
    return Target(blame.views or tuple(dict.fromkeys((finding.view, *others))), finding.drift_pct)


def asked(measured: Measurement, row: Row, work: Work, told: Telling) -> Instruction:
    """Return the instruction to change the drawing that a row says to change, by its drift."""
    index, finding = row
    target = target_of(measured, finding)
    return Instruction(
        **vars(told),
        views=target.views,
        work=work if target.settled else min(work, Work.DECIDE),
        kind=finding.subject.kind,
        drifts_px=(finding.drift_px,) if target.settled else (),
        amount_pct=target.amount,
        findings=(index,),
    )


def answer(answers: Iterable[tuple[Hashable, Instruction]]) -> list[Instruction]:
    """Return one instruction for all of the same drawings with one key; it answers all rows."""
    kept: dict[tuple[tuple[str, ...], Hashable], Instruction] = {}
    for key, new in answers:
        earlier = kept.get((new.views, key))
        rows = (*(earlier.findings if earlier else ()), *new.findings)
        kept[new.views, key] = replace(new, findings=tuple(dict.fromkeys(rows)))
    return list(kept.values())


def reference_words(measured: Measurement) -> str:
    """Return the reference as a person says it."""
    reference = measured.sheet.reference
    return "the consensus" if measured.reference is None else f"the {spoken(reference)} drawing"

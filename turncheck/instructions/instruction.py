"""An instruction, and the words that all of them are made of."""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass, replace

import pandas as pd

from turncheck.checks.comparing import DISAGREE, ONE_OF_SEVERAL
from turncheck.geometry.measurement import Measurement
from turncheck.wording import spoken


class Cause(enum.IntEnum):
    """What an instruction is about, in the order of work."""

    WHOLE = 0
    PART = 1
    LANDMARK = 2
    RATIO = 3
    OUTLINE = 4
    INK = 5


@dataclass(frozen=True)
class Instruction:
    """One thing to redraw.

    Attributes
    ----------
    view
        The drawing to change.
    says
        One sentence: what is off, by how much, what to do.
    amount_px, amount_pct
        The drift in px of that drawing, and in its finding's unit; NaN where there is none.
    sideways
        Whether the drift is to the picture's right, not up.
    settled
        Whether a majority of the drawings says that this one is wrong.
    landmarks
        The landmarks to move.
    findings
        The rows of the findings table that it answers, by index.
    """

    view: str
    cause: Cause
    says: str
    amount_px: float = math.nan
    amount_pct: float = math.nan
    sideways: bool = False
    settled: bool = True
    landmarks: tuple[str, ...] = ()
    findings: tuple[int, ...] = ()


@dataclass(frozen=True)
class Blame:
    """The drawing that a row says to change, how far it is off, and whether that is settled."""

    view: str
    amount: float
    settled: bool


def blame(row: pd.Series) -> Blame:
    """Return whom a finding blames: the outvoted view, else the row's own."""
    if row["odd_view"]:
        return Blame(str(row["odd_view"]), float(row["odd_pct"]), True)
    unsettled = any(words in str(row["note"]) for words in (DISAGREE, ONE_OF_SEVERAL))
    return Blame(str(row["view"]), float(row["drift_pct"]), not unsettled)


def merged(instructions: list[Instruction]) -> list[Instruction]:
    """Return one instruction for all that say the same of the same drawing."""
    kept: dict[tuple[str, str], Instruction] = {}
    for new in instructions:
        earlier = kept.get((new.view, new.says))
        findings = (*(earlier.findings if earlier else ()), *new.findings)
        kept[new.view, new.says] = replace(new, findings=findings)
    return list(kept.values())


def reference_words(measured: Measurement) -> str:
    """Return the reference as a person says it."""
    reference = measured.sheet.reference
    return "the consensus" if measured.reference is None else f"the {spoken(reference)} drawing"


def nobody(do: str) -> str:
    """Return what to do where the drawings disagree and nobody is blamed."""
    return f"no majority says which drawing is wrong, so {do} the one you trust less"

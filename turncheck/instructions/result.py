"""A checked sheet: what was read, measured, found, and is to be redrawn."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from turncheck.checks.finding import Finding
from turncheck.checks.table import as_table, cells_of
from turncheck.checks.verdicts import overall
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement
from turncheck.images.thumbnail import Thumbnail
from turncheck.instructions.instruction import Instruction
from turncheck.mistakes.slip import Slip
from turncheck.sheet.approval import NO_SUMS, NOT_APPROVED, ApprovalState, Sums
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import Sheet
from turncheck.wording.instructions import how_much

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Result:
    """A checked sheet.

    Attributes
    ----------
    placings
        As the landmark table has them, repeats not averaged.
    rows, instructions
        What the checks found, waivers counted; what to redraw, in the order of work.
    drawings
        By view, as the report embeds them.
    warnings
        What people are likely to have got wrong; told before all else.
    approval
        Whether the sheet is approved as it is.
    sums
        Of all that it rests on.
    """

    sheet: Sheet
    placings: tuple[Placing, ...]
    landmarks_sha256: str
    measured: Measurement
    rows: tuple[Finding, ...]
    instructions: tuple[Instruction, ...]
    drawings: Mapping[str, Thumbnail]
    warnings: tuple[Slip, ...] = ()
    approval: ApprovalState = NOT_APPROVED
    sums: Sums = NO_SUMS

    @property
    def verdict(self) -> Verdict:
        """The sheet's verdict; under a warning none is on model."""
        found = overall(self.rows)
        return Verdict.UNDECIDED if self.warnings and found is Verdict.ON_MODEL else found

    @property
    def how_much(self) -> str:
        """How much there is to redraw and to decide, in words."""
        settled = [task for task in self.instructions if task.settled]
        to_decide = len(self.instructions) - len(settled)
        drawings = {task.view for task in settled}
        return how_much(len(settled), to_decide, len(drawings), len(self.sheet.views))

    def is_warned_of(self, view: str) -> bool:
        """Whether a warning is about a drawing."""
        return any(view in warning.views for warning in self.warnings)

    @cached_property
    def findings(self) -> pd.DataFrame:
        """The findings table, with the columns of `turncheck.checks.table.COLUMNS`."""
        return as_table(self.rows, self.follows)

    @cached_property
    def cells(self) -> list[list[str]]:
        """The same as CSV has it."""
        return cells_of(self.rows, self.follows)

    @cached_property
    def follows(self) -> dict[int, int]:
        """By row of the findings, the number of the instruction that it follows from."""
        return {
            row: number
            for number, instruction in enumerate(self.instructions, start=1)
            for row in instruction.follows
        }

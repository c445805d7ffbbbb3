"""Compares two revisions finding by finding: what was mended, what became worse, what is new."""

from __future__ import annotations

import enum
import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from turncheck.checks.finding import Finding, Kind
from turncheck.checks.verdicts import key_of
from turncheck.geometry.guard_bands import Verdict, coverage
from turncheck.instructions.instruction import Instruction
from turncheck.instructions.result import Result
from turncheck.revisions.carrying import Carried

#: Rows of an outline that overlap by this share of the shorter stretch are about one place, and
#: fills that differ by no more than so much CIEDE2000 are one; common practice, no source.
_SAME_ROWS, _SAME_FILL = 0.5, 10.0


class Change(enum.StrEnum):
    """What became of a finding, from the worst to the best."""

    WORSE = "worse"  # further out than before, by more than the uncertainties of both
    NEW = "new"  # off model, and it was not before
    SAME = "same"
    GONE = "gone"  # compared before and not now, so that nothing can be said
    FIXED = "fixed"  # off model before, on model now


@dataclass(frozen=True)
class Compared:
    """A finding of either revision, or of both, and what became of it."""

    before: Finding | None
    after: Finding | None

    @property
    def key(self) -> tuple[str, str, str]:
        """Check, view and subject, as the new revision names them if it has them."""
        found = self.after or self.before
        return key_of(found) if found else ("", "", "")

    @property
    def verdicts(self) -> tuple[Verdict | None, Verdict | None]:
        """Before and after, None where it was not compared."""
        before, after = self.before, self.after
        return before and before.verdict, after and after.verdict

    @property
    def change(self) -> Change:
        """What became of it."""
        before, after = self.verdicts
        was_measured = before not in (None, Verdict.NOT_MEASURED)
        was_off = before in (Verdict.OFF_MODEL, Verdict.WAIVED)
        if after in (None, Verdict.NOT_MEASURED):
            return Change.GONE if was_measured or after is None else Change.SAME
        if was_off and after is Verdict.ON_MODEL:
            return Change.FIXED
        if after in (Verdict.OFF_MODEL, Verdict.UNDECIDED) and was_measured and self._is_further:
            return Change.NEW if before is Verdict.ON_MODEL and self._is_off else Change.WORSE
        if self._is_off and not was_off and before is not Verdict.UNDECIDED:
            return Change.NEW
        return Change.SAME

    @property
    def is_undecided(self) -> bool:
        """Whether it was off model and nobody could say whether it still is."""
        return self.verdicts == (Verdict.OFF_MODEL, Verdict.UNDECIDED)

    @property
    def _is_off(self) -> bool:
        return self.after is not None and self.after.is_off_model

    @property
    def _is_further(self) -> bool:
        """Whether the drift grew by more than the uncertainties of both allow, one-sided 95 %."""
        if self.before is None or self.after is None:
            return False
        grown = abs(self.after.drift_pct) - abs(self.before.drift_pct)
        dof = min(self.before.dof, self.after.dof)
        u = math.hypot(self.before.uncertainty_pct, self.after.uncertainty_pct)
        return grown > coverage(dof) * u


@dataclass(frozen=True)
class Difference:
    """One thing that was to be redrawn, or is now; one fault shows in several findings.

    Attributes
    ----------
    change
        What became of it; of one that was off model and is too close to call `same`.
    undecided
        Whether nobody could say whether it is off model still.
    before, after
        What was told of the old revision, and what is told of the new one.
    """

    change: Change
    before: Instruction | None
    after: Instruction | None
    undecided: bool = False

    @property
    def views(self) -> tuple[str, ...]:
        """The drawings that it is about, now if it is still told."""
        told = self.after or self.before
        return told.views if told else ()


@dataclass(frozen=True)
class Comparison:
    """Two revisions side by side.

    Attributes
    ----------
    old, new
        Both as they were checked; of the new one what is carried counts where it has no placing
        of its own.
    carried
        The placings that were carried over, and those that are proposed.
    written
        Whether they were written into the new revision's table.
    """

    old: Result
    new: Result
    carried: Carried
    written: bool = False

    @cached_property
    def rows(self) -> tuple[Compared, ...]:
        """Every finding of the new revision in its order, then what only the old one had."""
        return tuple(match(self.old.rows, self.new.rows))

    @cached_property
    def counts(self) -> dict[Change, int]:
        """How many findings became what."""
        found = Counter(row.change for row in self.rows)
        return {change: found[change] for change in Change}

    @property
    def is_worse(self) -> bool:
        """Whether anything became worse, or is new."""
        return bool(self.counts[Change.WORSE] or self.counts[Change.NEW])

    @cached_property
    def differences(self) -> tuple[Difference, ...]:
        """What was told and what is told, the worst first."""
        return tuple(_differences(self))


def match(old: Sequence[Finding], new: Sequence[Finding]) -> list[Compared]:
    """Return the findings of two revisions in pairs.

    By check, view and subject; outlines and fills, whose names say where they were seen, by what
    overlaps or looks alike.
    """
    left = {key_of(row): row for row in old}
    pairs: list[tuple[Finding | None, Finding]] = [(left.pop(key_of(row), None), row) for row in new]
    found = []
    for before, after in pairs:
        if before is None:
            key = next((key for key, row in left.items() if _is_alike(row, after)), None)
            before = left.pop(key) if key else None
        found.append(Compared(before, after))
    return found + [Compared(row, None) for row in left.values()]


def _is_alike(one: Finding, other: Finding) -> bool:
    if (one.check, one.view) != (other.check, other.view):
        return False
    rows, others = one.subject.rows, other.subject.rows
    if rows and others:
        common = min(rows[1], others[1]) - max(rows[0], others[0])
        return common >= _SAME_ROWS * min(rows[1] - rows[0], others[1] - others[0])
    fill, another = one.subject.fill, other.subject.fill
    if one.subject.kind is Kind.FILL and fill and another:
        return fill.nearest((another.first,))[1] <= _SAME_FILL
    return False


def _differences(comparison: Comparison) -> Iterable[Difference]:
    rows = comparison.rows
    of_old = _answers(comparison.old.instructions, comparison.old.rows, [r.before for r in rows])
    of_new = _answers(comparison.new.instructions, comparison.new.rows, [r.after for r in rows])
    left = {*range(len(comparison.old.instructions))}
    found = []
    for number, task in enumerate(comparison.new.instructions):
        mine = {row for row, answered in of_new.items() if answered == number}
        same = [of_old[row] for row in sorted(mine) if of_old.get(row) in left]
        before = max(same, key=same.count) if same else None
        left.discard(before)  # type: ignore[arg-type]
        found.append((mine, before, task))
    for number in sorted(left):
        yield_rows = {row for row, answered in of_old.items() if answered == number}
        found.append((yield_rows, number, None))
    told = [
        _difference(comparison, [rows[row] for row in sorted(mine)], before, after)
        for mine, before, after in found
    ]
    order = list(Change)
    return sorted(told, key=lambda one: (order.index(one.change), one.undecided))

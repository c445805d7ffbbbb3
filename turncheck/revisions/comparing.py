"""Compares two revisions finding by finding: what was mended, what became worse, what is new."""

from __future__ import annotations

import enum
import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from turncheck.checks.finding import Cause, Finding, Kind
from turncheck.checks.verdicts import key_of
from turncheck.errors import Fault, TurncheckError, quoted
from turncheck.geometry.guard_bands import Verdict
from turncheck.instructions.instruction import Instruction
from turncheck.instructions.result import Result
from turncheck.revisions.approved import held_to_approved, tasks_of
from turncheck.revisions.carrying import Carried
from turncheck.sheet.model import Sheet

#: Rows of an outline that overlap by this share of the shorter stretch are about one place, and
#: fills that differ by no more than so much CIEDE2000 are one; common practice, no source.
_SAME_ROWS, _SAME_FILL = 0.5, 10.0
#: A drift is worse where it grew by more than so many standard uncertainties of both together
#: (normal distribution: noise does that once in 740 rows), and by this share of its tolerance, for
#: what is known to a hair; common practice, no source.
GROWN_BEYOND, GROWN_LEAST = 3.0, 0.25


#: Revisions of one body name this share of the points of the smaller vocabulary alike, at least;
#: the two that come with turncheck share .44. Common practice, no source.
SHARED_LEAST = 0.5


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
        return before.verdict if before else None, after.verdict if after else None

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
        if not self.is_off or was_off or before is Verdict.UNDECIDED:
            return Change.WORSE if self.is_off and self._is_further else Change.SAME
        return Change.NEW

    @property
    def is_undecided(self) -> bool:
        """Whether it was off model and nobody could say whether it still is."""
        before, after = self.before, self.after
        if before is None or after is None or not before.is_off_model:
            return False
        return after.verdict is Verdict.UNDECIDED or after.cause is Cause.UNSURE

    @property
    def is_off(self) -> bool:
        """Whether it is off model now, and nobody accepts that."""
        return self.after is not None and self.after.is_off_model

    @property
    def _is_further(self) -> bool:
        """Whether the drift grew by more than the uncertainties of both allow."""
        if self.before is None or self.after is None:
            return False
        grown = abs(self.after.drift_pct) - abs(self.before.drift_pct)
        u = math.hypot(self.before.uncertainty_pct, self.after.uncertainty_pct)
        return grown > max(GROWN_BEYOND * u, GROWN_LEAST * self.after.tolerance_pct)


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
        """Every finding of the new revision in its order, then what only the old one had.

        Last, where the old one is approved, how the points of the new one lie beside it.
        """
        beside = (Compared(None, one) for one in self.held)
        return (*match(self.old.rows, self.new.rows), *beside)

    @cached_property
    def held(self) -> list[Finding]:
        """How the points of the new one lie beside the old one, where that is approved."""
        return held_to_approved(self.old, self.new)

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
        """What was told and what is told, drawing by drawing, the worst first."""
        order = list(Change)
        beside = (Difference(Change.NEW, None, one) for one in tasks_of(self.new, self.held))
        found = [*_differences(self), *beside]
        found.sort(key=lambda one: (order.index(one.change), one.undecided))
        homes = list(dict.fromkeys(map(self.home, found)))
        return tuple(sorted(found, key=lambda one: homes.index(self.home(one))))

    def home(self, difference: Difference) -> str:
        """Return the drawing beside which a difference is told: the first that was drawn anew.

        '' where neither of its drawings is in both.
        """
        old, new = self.old.drawings, self.new.drawings
        both = [view for view in difference.views if view in old and view in new]
        anew = [view for view in both if old[view].sha256 != new[view].sha256]
        return next(iter((*anew, *both)), "")


def refuse_incomparable(old: Sheet, new: Sheet) -> None:
    """Refuse a sheet that has no drawing of another's, or whose body has other points.

    Raises
    ------
    TurncheckError
        With the mend.
    """
    says = ""
    marks, others = new.vocabulary.landmarks.keys(), old.vocabulary.landmarks.keys()
    shared = len(marks & others)
    if not new.views.keys() & old.views.keys():
        says = f"has none of the drawings of {old.folder}; give them the same names"
    elif shared < SHARED_LEAST * min(len(marks), len(others)):
        says = (
            f"vocabulary {quoted(new.vocabulary.name)} has only {shared} of the {len(others)} "
            f"points of {old.folder}, {quoted(old.vocabulary.name)}; compare two sheets of one "
            "character, or name the same vocabulary in both"
        )
    if says:
        raise TurncheckError(Fault(says, str(new.path)))


def match(old: Sequence[Finding], new: Sequence[Finding]) -> list[Compared]:
    """Return the findings of two revisions in pairs.

    By check, view and subject; outlines and fills, whose names say where they were seen, by what
    overlaps or looks alike.
    """
    left = {key_of(row): row for row in old}
    found = []
    for before, after in [(left.pop(key_of(row), None), row) for row in new]:
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


def _differences(comparison: Comparison) -> Iterator[Difference]:
    """Return what was told beside what is told of the same."""
    rows, old, new = comparison.rows, comparison.old, comparison.new
    before = _answers(old, [row.before for row in rows])
    after = _answers(new, [row.after for row in rows])
    left = dict.fromkeys(range(len(old.instructions)))
    found: list[tuple[set[int], int | None, int | None]] = []
    for number in range(len(new.instructions)):
        mine = {row for row, answer in after.items() if answer == number}
        told = [before[row] for row in sorted(mine) if before.get(row) in left]
        earlier = max(told, key=told.count) if told else None
        if earlier is not None:
            del left[earlier]
        found.append((mine, earlier, number))
    for number in left:
        found.append(({row for row, answer in before.items() if answer == number}, number, None))
    for mine, one, other in found:
        yield _difference(
            [rows[row] for row in sorted(mine)],
            None if one is None else old.instructions[one],
            None if other is None else new.instructions[other],
        )


def _answers(result: Result, findings: Iterable[Finding | None]) -> dict[int, int]:
    """Return by row of a comparison the instruction that answers its finding in one revision."""
    number = {
        id(result.rows[row]): n
        for n, task in enumerate(result.instructions)
        for row in (*task.findings, *task.follows)
    }
    return {row: number[id(one)] for row, one in enumerate(findings) if id(one) in number}


def _difference(
    rows: Sequence[Compared], before: Instruction | None, after: Instruction | None
) -> Difference:
    became = {row.change for row in rows}
    if after is not None:
        worse = became & {Change.WORSE, Change.NEW}
        change = Change.SAME if not worse else Change.WORSE if before else Change.NEW
        return Difference(change, before, after)
    undecided = any(row.is_undecided for row in rows)
    if any(row.is_off for row in rows):
        return Difference(Change.SAME, before, None)
    if Change.FIXED in became and not any(row.verdicts[1] is Verdict.UNDECIDED for row in rows):
        return Difference(Change.FIXED, before, None)
    return Difference(Change.SAME if undecided else Change.GONE, before, None, undecided)

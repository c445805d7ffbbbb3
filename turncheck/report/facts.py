"""What every section of the report draws on, gathered once."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from turncheck.checks.finding import Finding, Kind
from turncheck.checks.verdicts import key_of
from turncheck.geometry.guard_bands import Verdict
from turncheck.handover.turning import KeptTurn
from turncheck.instructions import Instruction, Work, explained_by_whole
from turncheck.instructions.result import Result
from turncheck.plain import together
from turncheck.wording.findings import RANK, drift_phrase, note_of, subject_title, titles_of

#: Verdicts of what is to be looked at.
OPEN = (Verdict.OFF_MODEL, Verdict.UNDECIDED, Verdict.WAIVED)
_NOT_PLAIN = re.compile(r"[^0-9A-Za-z_]+")


@dataclass(frozen=True, kw_only=True)
class Row(Finding):
    """A finding as the report shows it.

    Attributes
    ----------
    index, id
        Its place among the findings, and in the page.
    title, says, aside
        Its subject, its drift and its note in words.
    placed
        The landmarks that it rests on and that are placed on its view.
    waits
        Whether it is of an outline that waits for a warning, so that no amount of it is told.
    """

    index: int
    id: str
    title: str
    says: str
    aside: str
    placed: tuple[str, ...]
    waits: bool

    @property
    def excess(self) -> float:
        """The drift in tolerances, 0 where nothing was measured."""
        known = math.isfinite(self.drift_pct) and self.tolerance_pct > 0
        return abs(self.drift_pct) / self.tolerance_pct if known else 0.0

    @property
    def order(self) -> tuple[int, float]:
        """Sorts the worst first."""
        return RANK[self.verdict], -self.excess


@dataclass(frozen=True)
class Move:
    """Where a landmark should go, px of its own drawing: x right, y down."""

    dx: float
    dy: float
    settled: bool

    @property
    def turn(self) -> float:
        """Which way its arrow points, degrees clockwise from down."""
        return math.degrees(math.atan2(-self.dx, self.dy))

    def applied(self, x: float, y: float, scale: float = 1.0) -> tuple[float, float]:
        """Return where it leads from a spot, in a frame that is so much larger."""
        return x + self.dx * scale, y + self.dy * scale

    def joined(self, other: Move) -> Move:
        """Return this move with another's way added where this one does not go."""
        return Move(self.dx or other.dx, self.dy or other.dy, self.settled and other.settled)


@dataclass(frozen=True)
class Facts:
    """The checked sheet, its findings as rows, and the names of things in the page.

    Attributes
    ----------
    views
        Names, the reference first, then as the figure turns away from the front.
    mark_ids
        By (view, landmark), for every landmark placed.
    titles
        What the names of views, landmarks and lines are called.
    turn
        The whole turn that is drawn beside the report, if any is.
    """

    checked: Result
    summary: Mapping[str, Any]
    views: tuple[str, ...]
    rows: tuple[Row, ...]
    picture_ids: Mapping[str, str]
    mark_ids: Mapping[tuple[str, str], str]
    titles: Mapping[str, str]
    turn: KeptTurn | None = None

    @property
    def numbered(self) -> list[tuple[int, Instruction]]:
        """The instructions with their numbers, in the order of work."""
        return list(enumerate(self.checked.instructions, start=1))

    @cached_property
    def moves(self) -> dict[tuple[str, str], Move]:
        """Where landmarks should go, by (view, landmark), as the instructions say."""
        found: dict[tuple[str, str], Move] = {}
        for instruction in self.checked.instructions:
            for view, way in instruction.move_px.items():
                move = Move(*way, instruction.settled)
                for name in instruction.landmarks:
                    at = view, name
                    found[at] = found[at].joined(move) if at in found else move
        return found

    def row_about(self, kind: Kind, view: str) -> Row | None:
        """Return a view's first finding about subjects of a kind, None if there is none."""
        about = (row for row in self.rows if row.subject.kind is kind and row.view == view)
        return next(about, None)

    @cached_property
    def explained(self) -> set[int]:
        """Rows, by index, that putting whole drawings right puts right as well."""
        checked = self.checked
        return explained_by_whole(checked.measured, checked.rows, checked.instructions)

    @cached_property
    def numbers(self) -> dict[int, int]:
        """By row, the number of the instruction that answers it or that it follows from."""
        answered = {row: number for number, task in self.numbered for row in task.findings}
        return {**self.checked.follows, **answered}

    @cached_property
    def _resized(self) -> dict[str, Instruction]:
        """The instructions on the size or position of whole drawings, by drawing."""
        whole = [task for task in self.checked.instructions if task.work is Work.WHOLE]
        return {task.view: task for task in whole if task.settled and task.kind is not Kind.YAW}

    def turned_to(self, row: Row) -> str:
        """Return which other drawing a row speaks against, '' where it is the row's own.

        The one that the majority outvotes, or the reference where its own size or position
        explains the row.
        """
        reference = self.checked.sheet.reference
        odd = row.blame.odd_view
        if row.is_off_model and odd:
            return odd if odd != row.view else ""
        by_reference = reference in self._resized and row.view not in self._resized
        return reference if by_reference and row.index in self.explained else ""

    @cached_property
    def _mends(self) -> dict[int, str]:
        mends: dict[int, str] = {}
        for number, task in reversed(self.numbered):
            says = together(task.says)
            mends |= dict.fromkeys(task.follows, f"Follows from {number}: {says}")
            mends |= dict.fromkeys(task.findings, says)
        return mends

    def mend(self, row: Row) -> str:
        """Return the instruction that answers a row, '' where none does."""
        if row.index in self._mends:
            return self._mends[row.index]
        turned = self.turned_to(row)
        return together(self._resized[turned].says) if turned in self._resized else ""

    def placed(self, view: str, landmark: str) -> tuple[float, float] | None:
        """Return a landmark's (x, y) on a view, px of its drawing, None if it isn't placed."""
        measured = self.checked.measured
        if landmark not in measured.landmarks:
            return None
        at = measured.views.index(view), measured.landmarks.index(landmark)
        x, y = float(measured.x[at]), float(measured.y[at])
        return None if math.isnan(x) or math.isnan(y) else (x, y)

    def marks_of(self, row: Row) -> list[str]:
        """Return the ids of the marks that a row rests on."""
        return [self.mark_ids[row.view, name] for name in row.placed]


def gather(checked: Result, summary: Mapping[str, Any], turn: KeptTurn | None = None) -> Facts:
    """Return the facts of a checked sheet, and the whole turn that lies beside its report."""
    sheet, measured = checked.sheet, checked.measured
    views = sorted(
        sheet.views.values(),
        key=lambda view: (view.name != sheet.base, abs(view.yaw), view.yaw),
    )
    names = tuple(view.name for view in views)
    titles = titles_of(sheet)
    placed = {
        (view, landmark)
        for v, view in enumerate(measured.views)
        for n, landmark in enumerate(measured.landmarks)
        if math.isfinite(measured.x[v, n]) and math.isfinite(measured.y[v, n])
    }
    ordered = [(view, name) for view in names for name in measured.landmarks]
    marks = slugs("mark", [f"{view} {name}" for view, name in ordered])
    mark_ids = {pair: marks[" ".join(pair)] for pair in ordered if pair in placed}
    keys = [" ".join(key_of(finding)) for finding in checked.rows]
    row_ids = slugs("row", keys)

    def row(index: int, key: str, finding: Finding) -> Row:
        names = finding.subject.landmarks
        waits = _waits(checked, finding)
        said = "" if waits else together(drift_phrase(finding, sheet.vocabulary.landmarks))
        return Row(
            **vars(finding),
            index=index,
            id=row_ids[key],
            title=subject_title(finding.subject, sheet.vocabulary.landmarks),
            says=said,
            aside=note_of(finding, titles),
            placed=tuple(name for name in names if (finding.view, name) in placed),
            waits=waits,
        )

    return Facts(
        checked=checked,
        summary=summary,
        views=names,
        rows=tuple(
            row(index, key, finding)
            for index, (key, finding) in enumerate(zip(keys, checked.rows, strict=True))
        ),
        picture_ids=slugs("drawing", names),
        mark_ids=mark_ids,
        titles=titles,
        turn=turn,
    )


def _waits(checked: Result, finding: Finding) -> bool:
    """Whether a conflict of outlines is of drawings that are not the ones that were placed on."""
    found = finding.subject.contradiction
    if found is None or finding.verdict is not Verdict.UNDECIDED:
        return False
    views = {checked.measured.views[v] for v in found.views}
    return any(slip.is_of_files and views & {*slip.views} for slip in checked.warnings)


def slugs(prefix: str, names: Iterable[str]) -> dict[str, str]:
    """Return an id for each name, fit for an address, unique and the same every time.

    >>> slugs("at", ["knee_l", "a b", "a.b"])
    {'knee_l': 'at-knee_l', 'a b': 'at-a-b', 'a.b': 'at-a-b-2'}
    """
    found: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        if name in found:
            continue
        plain = f"{prefix}-{_NOT_PLAIN.sub('-', name).strip('-')}"
        slug, count = plain, 1
        while slug in taken:
            count += 1
            slug = f"{plain}-{count}"
        taken.add(slug)
        found[name] = slug
    return found

"""What every section of the report draws on, gathered once."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from turncheck.geometry.guard_bands import COVERAGE, Verdict
from turncheck.images.thumbnail import Thumbnail
from turncheck.instructions import Cause, Instruction, explained_by_whole
from turncheck.report.words import (
    RANK,
    drift_phrase,
    has_direction,
    plain_notes,
    slugs,
    subject_title,
)
from turncheck.wording import spoken, together

if TYPE_CHECKING:
    from turncheck.checking import Checked

OFF = Verdict.OFF_MODEL.value
NOT_MEASURED = Verdict.NOT_MEASURED.value
_PHRASE = ("check", "subject", "unit", "drift_px", "drift_pct", "verdict")


@dataclass(frozen=True)
class Row:
    """A finding as the report shows it.

    Attributes
    ----------
    id
        The row's place in the page.
    title, says
        The subject and its drift in words.
    guard_pct
        The guard band, COVERAGE times the standard uncertainty, in `unit`.
    landmarks
        The landmarks that it rests on and that are placed on its view.
    """

    index: int
    id: str
    check: str
    view: str
    subject: str
    title: str
    verdict: str
    says: str
    expected: float
    measured: float
    drift_px: float
    drift_pct: float
    guard_pct: float
    tolerance_pct: float
    unit: str
    note: str
    odd_view: str
    landmarks: tuple[str, ...]

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
    """

    checked: Checked
    summary: Mapping[str, Any]
    drawings: Mapping[str, Thumbnail]
    views: tuple[str, ...]
    rows: tuple[Row, ...]
    picture_ids: Mapping[str, str]
    mark_ids: Mapping[tuple[str, str], str]
    plain: Callable[[str], str]

    @cached_property
    def moves(self) -> dict[tuple[str, str], Move]:
        """Where landmarks should go, by (view, landmark), as the instructions say."""
        found: dict[tuple[str, str], Move] = {}
        for instruction in self.checked.instructions:
            move = self.move(instruction)
            if move is not None:
                for name in instruction.landmarks:
                    at = instruction.view, name
                    found[at] = found[at].joined(move) if at in found else move
        return found

    def move(self, instruction: Instruction) -> Move | None:
        """Return where an instruction's landmarks should go, None if it doesn't say."""
        rows = [self.rows[index] for index in instruction.findings]
        moved = instruction.cause in (Cause.PART, Cause.LANDMARK)
        if not moved or not rows or not math.isfinite(instruction.amount_px):
            return None
        if not all(has_direction(row.subject) for row in rows):
            return None
        if instruction.sideways:
            return Move(-instruction.amount_px, 0.0, instruction.settled)
        return Move(0.0, instruction.amount_px, instruction.settled)

    @cached_property
    def _by_key(self) -> dict[tuple[str, str, str], Row]:
        return {(row.check, row.view, row.subject): row for row in self.rows}

    def row_of(self, check: str, view: str, subject: str) -> Row | None:
        """Return the finding of a check on a view, None if there is none."""
        return self._by_key.get((check, view, subject))

    @cached_property
    def explained(self) -> set[int]:
        """Rows, by index, that putting whole drawings right puts right as well."""
        checked = self.checked
        return explained_by_whole(checked.measured, checked.findings, checked.instructions)

    @cached_property
    def _resized(self) -> dict[str, Instruction]:
        """The instructions on the size or position of whole drawings, by drawing."""
        whole = [task for task in self.checked.instructions if task.cause is Cause.WHOLE]
        return {
            task.view: task
            for task in whole
            if task.settled and any(self.rows[index].check == "size" for index in task.findings)
        }

    def turned_to(self, row: Row) -> str:
        """Return which other drawing a row speaks against, '' where it is the row's own.

        The one that the majority outvotes, or the reference where its own size or position
        explains the row.
        """
        reference = self.checked.sheet.reference
        if row.verdict == OFF and row.odd_view:
            return row.odd_view if row.odd_view != row.view else ""
        by_reference = reference in self._resized and row.view not in self._resized
        return reference if by_reference and row.index in self.explained else ""

    def mend(self, row: Row) -> str:
        """Return the instruction that answers a row, '' where none does."""
        for instruction in self.checked.instructions:
            if row.index in instruction.findings:
                return self.plain(instruction.says)
        turned = self.turned_to(row)
        return self.plain(self._resized[turned].says) if turned in self._resized else ""

    def placed(self, view: str, landmark: str) -> tuple[float, float] | None:
        """Return a landmark's (x, y) on a view, px of its drawing, None if it isn't placed."""
        measured = self.checked.measured
        if landmark not in measured.landmarks:
            return None
        at = measured.views.index(view), measured.landmarks.index(landmark)
        x, y = float(measured.x[at]), float(measured.y[at])
        return None if math.isnan(x) or math.isnan(y) else (x, y)

    def title(self, landmark: str) -> str:
        """Return a landmark's name as a person says it."""
        return self.checked.sheet.vocabulary.landmarks[landmark].title


def gather(
    checked: Checked, summary: Mapping[str, Any], drawings: Mapping[str, Thumbnail]
) -> Facts:
    """Return the facts of a checked sheet."""
    sheet, measured = checked.sheet, checked.measured
    views = sorted(
        sheet.views.values(),
        key=lambda view: (view.name != sheet.base, abs(view.yaw), view.yaw),
    )
    names = tuple(view.name for view in views)
    landmarks = sheet.vocabulary.landmarks
    plain = plain_notes(landmarks, names)
    placed = {
        (view, landmark)
        for v, view in enumerate(measured.views)
        for n, landmark in enumerate(measured.landmarks)
        if math.isfinite(measured.x[v, n]) and math.isfinite(measured.y[v, n])
    }
    ordered = [(view, name) for view in names for name in measured.landmarks]
    marks = slugs("mark", [f"{view} {name}" for view, name in ordered])
    mark_ids = {pair: marks[" ".join(pair)] for pair in ordered if pair in placed}

    records = checked.findings.to_dict("records")
    keys = [f"{r['check']} {r['view']} {r['subject']}" for r in records]
    row_ids = slugs("row", keys)
    rows = []
    for index, (r, key) in enumerate(zip(records, keys, strict=True)):
        rows.append(
            Row(
                index=index,
                id=row_ids[key],
                check=r["check"],
                view=r["view"],
                subject=r["subject"],
                title=subject_title(r["check"], r["subject"], landmarks),
                verdict=r["verdict"],
                says=together(
                    drift_phrase(*(r[key] for key in _PHRASE)),
                ),
                expected=r["expected"],
                measured=r["measured"],
                drift_px=r["drift_px"],
                drift_pct=r["drift_pct"],
                guard_pct=COVERAGE * r["uncertainty_pct"],
                tolerance_pct=r["tolerance_pct"],
                unit=r["unit"],
                note=plain(r["note"]),
                odd_view=r["odd_view"],
                landmarks=tuple(n for n in r["landmarks"].split() if (r["view"], n) in placed),
            )
        )
    return Facts(
        checked=checked,
        summary=summary,
        drawings=drawings,
        views=names,
        rows=tuple(rows),
        picture_ids=slugs("drawing", names),
        mark_ids=mark_ids,
        plain=plain,
    )


def view_title(view: str) -> str:
    """Return a view's name as a heading says it: 'Three quarter'."""
    words = spoken(view)
    return words[:1].upper() + words[1:]

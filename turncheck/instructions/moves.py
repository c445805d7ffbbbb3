"""Points that are off, up or sideways; parts that drift as one; what no such move explains."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from turncheck.checks.finding import Finding, Kind
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import (
    Instruction,
    Row,
    Work,
    answer,
    asked,
    reference_words,
    target_of,
)
from turncheck.instructions.whole import own_drift
from turncheck.sheet.vocabulary import Vocabulary
from turncheck.wording import instructions as words
from turncheck.wording.findings import subject_title


@dataclass
class Move:
    """One point or line that is off in one view, up or sideways."""

    view: str
    landmarks: tuple[str, ...]
    title: str
    part: str
    sideways: bool
    amount_pct: float
    tolerance_pct: float
    settled: bool
    findings: list[int] = field(default_factory=list)

    def belongs_with(self, other: Move) -> bool:
        """Whether both are of one part of one view and drift alike."""
        return (
            bool(self.part)
            and (self.view, self.part, self.sideways, self.settled)
            == (other.view, other.part, other.sideways, other.settled)
            and self.amount_pct * other.amount_pct > 0
            and abs(self.amount_pct - other.amount_pct)
            <= max(self.tolerance_pct, other.tolerance_pct)
        )


def is_movable(finding: Finding, vocabulary: Vocabulary) -> bool:
    """Return whether a finding says where landmarks of a drawing should go."""
    subject = finding.subject
    known = bool(subject.landmarks) and {*subject.landmarks} <= vocabulary.landmarks.keys()
    return subject.kind is Kind.POINT and known and finding.unit == "pct_height"


def find_moves(measured: Measurement, rows: Sequence[Row], resized: Collection[str]) -> list[Move]:
    """Return the moves that rows of single landmarks or lines ask for, one for each.

    Parameters
    ----------
    resized
        Views with a whole-drawing cause, whose share is taken out of heights.
    """
    marks = measured.sheet.vocabulary.landmarks
    moves: dict[tuple[str, str, bool], Move] = {}
    for row, finding in rows:
        subject, target = finding.subject, target_of(finding)
        amount = target.amount
        own = own_drift(measured, finding, resized)
        if math.isfinite(own):
            amount = own
            if abs(amount) <= finding.tolerance_pct:
                continue  # the whole drawing's size or position explains it
        one = len(subject.landmarks) == 1
        first = marks[subject.landmarks[0]]
        move = moves.setdefault(
            (target.view, subject.name, subject.sideways),
            Move(
                view=target.view,
                landmarks=subject.landmarks,
                title=first.title if one else subject_title(subject, marks),
                part=first.part,
                sideways=subject.sideways,
                amount_pct=amount,
                tolerance_pct=finding.tolerance_pct,
                settled=target.settled,
            ),
        )
        move.findings.append(row)
    return list(moves.values())


def as_instructions(measured: Measurement, moves: Sequence[Move]) -> list[Instruction]:
    """Return one instruction for each part that drifts as one, and for what is left."""
    groups: list[list[Move]] = []
    for move in sorted(moves, key=lambda m: (m.view, m.part, m.sideways, m.settled, m.amount_pct)):
        if groups and move.belongs_with(groups[-1][0]):
            groups[-1].append(move)
        else:
            groups.append([move])
    in_order = [sorted(g, key=lambda m: measured.columns(*m.landmarks)) for g in groups]
    return [_instruction(measured, group) for group in in_order]


def _instruction(measured: Measurement, group: list[Move]) -> Instruction:
    first = group[0]
    at = measured.views.index(first.view)
    names = tuple(dict.fromkeys(name for move in group for name in move.landmarks))
    amount = sum(move.amount_pct for move in group) / len(group)
    px = amount / 100.0 * measured.figure_height * measured.size(at)
    says = words.move(
        [move.title for move in group],
        measured.sheet.vocabulary.part_title(first.part),
        {*names} >= _of_part(measured, first),
        px,
        amount,
        first.sideways,
        reference_words(measured),
        first.settled,
    )
    return Instruction(
        view=first.view,
        work=Work.PART if len(group) > 1 else Work.POINT,
        kind=Kind.POINT,
        says=says,
        amount_px=px,
        amount_pct=amount,
        sideways=first.sideways,
        settled=first.settled,
        landmarks=names,
        findings=tuple(row for move in group for row in move.findings),
    )


def _of_part(measured: Measurement, move: Move) -> set[str]:
    """Return the landmarks of a move's part that its view has and that could move likewise."""
    at = measured.views.index(move.view)
    return {
        mark.name
        for mark in measured.sheet.vocabulary.landmarks.values()
        if mark.part == move.part
        and mark.name in measured.landmarks
        and (not mark.slides if move.sideways else mark.has_height)
        and np.isfinite(measured.y[at, measured.landmarks.index(mark.name)])
    }


def uneven_pairs(
    measured: Measurement, rows: Sequence[Row], moves: Sequence[Move]
) -> list[Instruction]:
    """Return what is uneven within one drawing, where no move named already explains it."""
    marks = measured.sheet.vocabulary.landmarks
    found = []
    for row in rows:
        finding, subject = row[1], row[1].subject
        mine = [
            m for m in moves if m.view == finding.view and {*m.landmarks} & {*subject.landmarks}
        ]
        if any(subject.kind is Kind.SEAT or m.sideways == subject.sideways for m in mine):
            continue
        says = _uneven(finding, [marks[name].title for name in subject.landmarks])
        one = asked(row, Work.POINT, says)
        found.append(replace(one, sideways=subject.sideways, landmarks=subject.landmarks))
    return found


def _uneven(finding: Finding, titles: Sequence[str]) -> str:
    px, pct = finding.drift_px, finding.drift_pct
    if finding.subject.kind is Kind.MIDDLE:
        return words.centre(titles, px, pct)
    say = words.level if finding.subject.kind is Kind.LEVEL else words.seat
    return say(titles[0], titles[1], px, pct)


def ratios(measured: Measurement, rows: Sequence[Row], moves: Sequence[Move]) -> list[Instruction]:
    """Return ratios that are off, where no move named already explains them."""
    named = {(move.view, name) for move in moves for name in move.landmarks}
    found = []
    for row in rows:
        finding, subject, target = row[1], row[1].subject, target_of(row[1])
        held = {target.view}
        if not finding.blame.odd_view:
            held.add(measured.sheet.reference)
        if any((view, name) in named for view in held for name in subject.landmarks):
            continue
        says = words.ratio(subject.name, target.amount, target.settled)
        one = replace(asked(row, Work.RATIO, says), landmarks=subject.landmarks)
        found.append(((finding.check, subject.name), one))
    return answer(found)

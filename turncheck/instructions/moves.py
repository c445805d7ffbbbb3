"""Points that are off, up or sideways, and parts that drift as one; pairs and ratios."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from turncheck.checks.finding import Blamed, Finding, Kind
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import (
    Instruction,
    Row,
    Work,
    answer,
    asked,
    target_of,
)
from turncheck.instructions.whole import own_drift
from turncheck.sheet.vocabulary import Vocabulary
from turncheck.wording import instructions as words
from turncheck.wording.findings import subject_title, titles_of

#: Groups of drawings that agree, one of which is wrong; one drawing alone where it is settled.
Sides = tuple[tuple[str, ...], ...]


@dataclass
class Move:
    """One point or line that is off, up or sideways, in one view or in one of several.

    Attributes
    ----------
    amounts_pct
        By view how far it is off if it is wrong.
    clause
        What would settle which is wrong, in words; '' where nothing is known to.
    """

    sides: Sides
    landmarks: tuple[str, ...]
    title: str
    part: str
    sideways: bool
    amounts_pct: dict[str, float]
    tolerance_pct: float
    clause: str = ""
    findings: list[int] = field(default_factory=list)

    @property
    def views(self) -> tuple[str, ...]:
        """Every drawing that may be wrong."""
        return tuple(view for side in self.sides for view in side)

    @property
    def amount_pct(self) -> float:
        """The drift in the first drawing that has one."""
        return next(iter(self.amounts_pct.values()))

    def belongs_with(self, other: Move) -> bool:
        """Whether both are of one part of the same views and drift alike in each."""
        near = max(self.tolerance_pct, other.tolerance_pct)
        return (
            bool(self.part)
            and (self.sides, self.part, self.sideways) == (other.sides, other.part, other.sideways)
            and self.amounts_pct.keys() == other.amounts_pct.keys()
            and all(
                mine * theirs >= 0 and abs(mine - theirs) <= near
                for mine, theirs in zip(
                    self.amounts_pct.values(), other.amounts_pct.values(), strict=True
                )
            )
        )


def is_movable(finding: Finding, vocabulary: Vocabulary) -> bool:
    """Return whether a finding says where landmarks of a drawing should go."""
    subject = finding.subject
    known = bool(subject.landmarks) and {*subject.landmarks} <= vocabulary.landmarks.keys()
    return subject.kind is Kind.POINT and known and finding.unit == "pct_height"


def find_moves(
    measured: Measurement,
    rows: Sequence[Row],
    findings: Sequence[Finding],
    resized: Collection[str],
) -> list[Move]:
    """Return the moves that rows of single landmarks or lines ask for, one for each.

    Parameters
    ----------
    rows
        Those that no whole drawing explains.
    findings
        All that was found: rows of one question go together, whatever their verdict.
    resized
        Views with a whole-drawing cause, whose share is taken out of heights.
    """
    marks = measured.sheet.vocabulary.landmarks
    titles = titles_of(measured.sheet)
    moves: dict[tuple[Sides, str, bool], Move] = {}
    for row, finding in rows:
        subject, target = finding.subject, target_of(measured, finding)
        if target.settled:
            own = own_drift(measured, finding, resized)
            amount = own if math.isfinite(own) and not finding.blame.odd_view else target.amount
            sides: Sides = (target.views,)
            amounts, same = {target.views[0]: amount}, [row]
        else:
            sides, amounts, same = _question(measured, finding, findings, resized)
        one = len(subject.landmarks) == 1
        first = marks[subject.landmarks[0]]
        said = finding.note.spoken(titles)
        move = moves.setdefault(
            (sides, subject.name, subject.sideways),
            Move(
                sides=sides,
                landmarks=subject.landmarks,
                title=first.title if one else subject_title(subject, marks),
                part=first.part,
                sideways=subject.sideways,
                amounts_pct=amounts,
                tolerance_pct=finding.tolerance_pct,
                clause=said.rpartition("; ")[2] if subject.sideways and "; " in said else "",
            ),
        )
        move.findings += [index for index in same if index not in move.findings]
    return list(moves.values())


def _question(
    measured: Measurement,
    finding: Finding,
    findings: Sequence[Finding],
    resized: Collection[str],
) -> tuple[Sides, dict[str, float], list[int]]:
    """Return the sides of a question, each view's drift by it, and the rows that ask it."""
    blame = finding.blame
    about = {
        row: other
        for row, other in enumerate(findings)
        if (other.check, other.subject) == (finding.check, finding.subject) and other.is_measured
    }
    asking = [
        row
        for row, other in about.items()
        if (other.blame.kind, other.blame.views) == (blame.kind, blame.views)
    ]
    drifts = {}
    for other in about.values():
        own = own_drift(measured, other, resized)
        drifts[other.view] = own if math.isfinite(own) else other.drift_pct
    if blame.kind is Blamed.SET:
        drifts = {findings[row].view: drifts[findings[row].view] for row in asking}
        sides = blame.sides or tuple((view,) for view in blame.views)
        if len(sides) == 2 and not finding.subject.sideways:
            drifts = _against_each_other(sides, drifts)
    else:
        if measured.reference is not None:
            drifts = {measured.sheet.reference: 0.0} | drifts
        sides = _alike(drifts, finding.tolerance_pct)
        if len(sides) == 1:  # all that have a row agree, and are held against the others
            drifts = dict.fromkeys(_placed_on(measured, finding), 0.0) | drifts
            sides = _alike(drifts, finding.tolerance_pct)
        if len(sides) == 1:
            sides = tuple((view,) for view in drifts)
        if len(sides) == 2:
            middles = [sum(drifts[view] for view in side) / len(side) for side in sides]
            for side, against in zip(sides, middles[::-1], strict=True):
                drifts |= {view: drifts[view] - against for view in side}
    return sides, {v: drifts[v] for side in sides for v in side if v in drifts}, asking


def _placed_on(measured: Measurement, finding: Finding) -> list[str]:
    """Return the views on which a finding's landmarks are placed."""
    columns = measured.columns(*finding.subject.landmarks)
    heights = zip(measured.views, measured.y[:, columns], strict=True)
    return [view for view, row in heights if np.isfinite(row).any()]


def _against_each_other(sides: Sides, drifts: Mapping[str, float]) -> dict[str, float]:
    """Return drifts of two sides; what one lacks is the other's the other way round, or its own.

    >>> _against_each_other((("front", "side"), ("back",)), {"side": -4.0})
    {'side': -4.0, 'front': -4.0, 'back': 4.0}
    """
    found = dict(drifts)
    for side, other in (sides, sides[::-1]):
        own, others = ([drifts[v] for v in views if v in drifts] for views in (side, other))
        told = [-drift for drift in others] or own
        if told:
            found |= {v: sum(told) / len(told) for v in side if v not in drifts}
    return found


def _alike(drifts: Mapping[str, float], tolerance: float) -> Sides:
    """Return views in groups whose drifts are alike, in the order that the views come in.

    >>> _alike({"front": 0.0, "side": 0.1, "back": 3.0}, 1.0)
    (('front', 'side'), ('back',))
    """
    groups: list[list[str]] = []
    for view in sorted(drifts, key=lambda view: drifts[view]):
        if groups and drifts[view] - drifts[groups[-1][0]] <= tolerance:
            groups[-1].append(view)
        else:
            groups.append([view])
    order = list(drifts)
    inside = (tuple(sorted(group, key=order.index)) for group in groups)
    return tuple(sorted(inside, key=lambda side: order.index(side[0])))


def as_instructions(measured: Measurement, moves: Sequence[Move]) -> list[Instruction]:
    """Return one instruction for each part that drifts as one, and for what is left."""
    groups: list[list[Move]] = []
    for move in sorted(moves, key=lambda m: (m.sides, m.part, m.sideways, m.amount_pct)):
        if groups and move.belongs_with(groups[-1][0]):
            groups[-1].append(move)
        else:
            groups.append([move])
    in_order = [sorted(g, key=lambda m: measured.columns(*m.landmarks)) for g in groups]
    return [_instruction(measured, group) for group in in_order]


def _instruction(measured: Measurement, group: list[Move]) -> Instruction:
    first = group[0]
    names = tuple(dict.fromkeys(name for move in group for name in move.landmarks))
    pct = {v: sum(m.amounts_pct[v] for m in group) / len(group) for v in first.amounts_pct}
    px = {view: _in_px(measured, view, amount) for view, amount in pct.items()}
    largest = max(pct.values(), key=abs)
    subject = words.subject(
        [move.title for move in group],
        measured.sheet.vocabulary.part_title(first.part),
        {*names} >= _of_part(measured, first),
    )
    settled = len(first.views) == 1
    if settled:
        told = words.move(subject, px[first.views[0]], largest, first.sideways)
    elif first.sideways:
        told = words.contradict(subject, first.sides, px, first.clause)
    else:
        told = words.disagree(subject, first.sides, px, pct)
    work = Work.PART if len(group) > 1 else Work.POINT
    return Instruction(
        **vars(told),
        views=first.views,
        work=work if settled else Work.DECIDE,
        kind=Kind.POINT,
        drifts_px=tuple(px.get(view, math.nan) for view in first.views),
        amount_pct=largest,
        sideways=first.sideways,
        landmarks=names,
        findings=tuple(row for move in group for row in move.findings),
    )


def _in_px(measured: Measurement, view: str, pct: float) -> float:
    """Return a share of the figure height in px of a view's drawing."""
    return pct / 100.0 * measured.figure_height * measured.size(measured.views.index(view))


def _of_part(measured: Measurement, move: Move) -> set[str]:
    """Return the landmarks of a move's part that its views have and that could move likewise."""
    at = [measured.views.index(view) for view in move.views]
    return {
        mark.name
        for mark in measured.sheet.vocabulary.landmarks.values()
        if mark.part == move.part
        and mark.name in measured.landmarks
        and (not mark.slides if move.sideways else mark.has_height)
        and np.isfinite(measured.y[at, measured.landmarks.index(mark.name)]).any()
    }


def uneven_pairs(measured: Measurement, rows: Sequence[Row]) -> list[Instruction]:
    """Return what is uneven within one drawing."""
    marks = measured.sheet.vocabulary.landmarks
    found = []
    for row in rows:
        finding, subject = row[1], row[1].subject
        told = _uneven(finding, [marks[name].title for name in subject.landmarks])
        one = asked(measured, row, Work.POINT, told)
        found.append(replace(one, sideways=subject.sideways, landmarks=subject.landmarks))
    return found


def _uneven(finding: Finding, titles: Sequence[str]) -> words.Telling:
    px, pct = finding.drift_px, finding.drift_pct
    if finding.subject.kind is Kind.MIDDLE:
        return words.centre(titles, px, pct)
    say = words.level if finding.subject.kind is Kind.LEVEL else words.seat
    return say(titles[0], titles[1], px, pct)


def ratios(measured: Measurement, rows: Sequence[Row]) -> list[Instruction]:
    """Return the ratios that are off."""
    found = []
    for row in rows:
        finding, subject = row[1], row[1].subject
        target = target_of(measured, finding)
        told = words.ratio(subject.name, finding.view, target.amount, target.settled)
        one = replace(asked(measured, row, Work.RATIO, told), landmarks=subject.landmarks)
        found.append(((finding.check, subject.name), one))
    return answer(found)

"""What no move explains: pairs that are uneven within a drawing, and ratios."""

from collections.abc import Sequence
from dataclasses import replace

from turncheck.checks.finding import Finding, Kind
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import Instruction, Row, Work, answer, asked, target_of
from turncheck.instructions.moves import Move
from turncheck.wording import instructions as words


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

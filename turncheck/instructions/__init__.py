"""What to redraw: findings turned into instructions that name a drawing and a move.

Whole-drawing causes come first and are taken out of the rest; then parts that drift as one;
then single points; then pairs and ratios that nothing before explains; then outlines, ink and
colours; last what a check alone knows how to mend.
"""

import math
from collections.abc import Callable, Sequence

from turncheck.checks.finding import Finding, Kind
from turncheck.checks.register import all_checks
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import Instruction, Row, Work, answer, asked
from turncheck.instructions.moves import (
    as_instructions,
    find_moves,
    is_movable,
    ratios,
    uneven_pairs,
)
from turncheck.instructions.outlines_and_ink import redraw_outlines, reink
from turncheck.instructions.refills import refills
from turncheck.instructions.whole import explained_by_whole, resized_views, whole_drawings
from turncheck.wording import instructions as words
from turncheck.wording.findings import drift_phrase, subject_title

__all__ = ["Instruction", "Work", "explained_by_whole", "what_to_redraw"]


def what_to_redraw(measured: Measurement, findings: Sequence[Finding]) -> list[Instruction]:
    """Return the instructions that the off-model findings add up to, in the order of work."""
    off = [(row, finding) for row, finding in enumerate(findings) if finding.is_off_model]
    vocabulary = measured.sheet.vocabulary
    whole, points, within, spans, outlines, lines, fills, rest = _sorted_out(
        off,
        lambda f: f.subject.kind.is_of_whole_drawing,
        lambda f: is_movable(f, vocabulary),
        lambda f: f.subject.kind.is_within_a_drawing,
        lambda f: f.subject.kind is Kind.RATIO,
        lambda f: f.subject.contradiction is not None,
        lambda f: f.subject.kind is Kind.LINE_WEIGHT,
        lambda f: f.subject.fill is not None,
    )
    first = whole_drawings(measured, whole)
    moves = find_moves(measured, points, resized_views(whole, first))
    found = [
        *first,
        *as_instructions(measured, moves),
        *uneven_pairs(measured, within, moves),
        *ratios(measured, spans, moves),
        *redraw_outlines(measured, outlines, moves),
        *reink(measured, lines),
        *refills(measured, fills),
        *_as_checks_say(measured, rest),
    ]
    return sorted(found, key=lambda one: (one.work, -_size(one)))


def _sorted_out(rows: list[Row], *tests: Callable[[Finding], bool]) -> list[list[Row]]:
    """Return the rows that pass each test and none before it, and last those that pass none."""
    groups: list[list[Row]] = [[] for _ in range(len(tests) + 1)]
    for row in rows:
        first = next((n for n, test in enumerate(tests) if test(row[1])), len(tests))
        groups[first].append(row)
    return groups


def _as_checks_say(measured: Measurement, rows: list[Row]) -> list[Instruction]:
    """Return what only a check knows how to mend, in its own words."""
    mends = {check.name: check.mend for check in all_checks()}
    marks = measured.sheet.vocabulary.landmarks
    found = []
    for row in rows:
        finding = row[1]
        title = subject_title(finding.subject, marks)
        says = words.other(title, drift_phrase(finding), mends[finding.check])
        found.append(((finding.check, finding.subject.name), asked(row, Work.OTHER, says)))
    return answer(found)


def _size(instruction: Instruction) -> float:
    amount = abs(instruction.amount_pct)
    return math.inf if math.isnan(amount) else amount

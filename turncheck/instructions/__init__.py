"""What to redraw: findings turned into instructions that name a drawing and a move.

Whole-drawing causes come first and are taken out of the rest; then what has to be decided; then
parts that drift as one; then single points; then what none of these explains: pairs, ratios,
outlines, ink and colours, and last what a check alone knows how to mend.
"""

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace

from turncheck.checks.finding import Finding, Kind
from turncheck.checks.note import LandmarkName, noted
from turncheck.checks.register import all_checks
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.follows import followers
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
from turncheck.instructions.whole import (
    explained_by_whole,
    hanging_drawings,
    is_explained,
    resized_views,
    whole_drawings,
)
from turncheck.wording import instructions as words
from turncheck.wording.findings import drift_phrase, subject_title

__all__ = [
    "Instruction",
    "Work",
    "explained_by_whole",
    "waive_what_follows",
    "what_to_redraw",
]


def what_to_redraw(
    measured: Measurement, findings: Sequence[Finding], told_first: Collection[int] = ()
) -> list[Instruction]:
    """Return the instructions that the off-model findings add up to, in the order of work.

    `told_first` are rows that a warning answers.
    """
    off = [row for row in _with_verdict(findings, Verdict.OFF_MODEL) if row[0] not in told_first]
    causes = _causes(measured, off, findings)
    answered = {row for cause in causes for row in cause.findings}
    left = [row for row in off if row[0] not in answered]
    from_cause = followers(measured, left, causes)
    for row, n in from_cause.items():
        causes[n] = replace(causes[n], follows=(*causes[n].follows, row))
    within, spans, outlines, lines, fills, rest = _sorted_out(
        [row for row in left if row[0] not in from_cause],
        lambda f: f.subject.kind.is_within_a_drawing,
        lambda f: f.subject.kind is Kind.RATIO,
        lambda f: f.subject.contradiction is not None,
        lambda f: f.subject.kind is Kind.LINE_WEIGHT,
        lambda f: f.subject.fill is not None,
    )
    found = [
        *causes,
        *uneven_pairs(measured, within),
        *ratios(measured, spans),
        *redraw_outlines(measured, outlines),
        *reink(measured, lines),
        *refills(measured, fills),
        *_as_checks_say(measured, rest),
    ]
    return sorted(found, key=lambda one: (one.work, -_size(one)))


def waive_what_follows(measured: Measurement, findings: Sequence[Finding]) -> list[Finding]:
    """Return the findings with those off-model rows waived that follow from waived ones alone."""
    accepted = _with_verdict(findings, Verdict.WAIVED)
    found = list(findings)
    if accepted:
        causes = _causes(measured, accepted, findings)
        off = _with_verdict(findings, Verdict.OFF_MODEL)
        for row, n in followers(measured, off, causes).items():
            first = findings[causes[n].findings[0]]
            note = noted("follows from {}, {}", LandmarkName(first.subject.name), first.note)
            found[row] = replace(findings[row], verdict=Verdict.WAIVED, note=note)
    return found


def _causes(
    measured: Measurement, rows: Sequence[Row], findings: Sequence[Finding]
) -> list[Instruction]:
    """Return what rows say of whole drawings, and of points that no whole drawing explains."""
    whole = whole_drawings(measured, rows)
    accepted = whole_drawings(measured, _with_verdict(findings, Verdict.WAIVED))
    whole += hanging_drawings(measured, rows, findings, resized_views([*whole, *accepted]))
    resized = resized_views([*whole, *accepted])
    points = [
        (row, finding)
        for row, finding in rows
        if is_movable(finding, measured.sheet.vocabulary)
        and not is_explained(measured, finding, resized)
    ]
    return [*whole, *as_instructions(measured, find_moves(measured, points, findings, resized))]


def _with_verdict(findings: Sequence[Finding], verdict: Verdict) -> list[Row]:
    return [(row, finding) for row, finding in enumerate(findings) if finding.verdict is verdict]


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
        told = words.other(title, drift_phrase(finding), mends[finding.check])
        found.append(
            ((finding.check, finding.subject.name), asked(measured, row, Work.OTHER, told))
        )
    return answer(found)


def _size(instruction: Instruction) -> float:
    amount = abs(instruction.amount_pct)
    return math.inf if math.isnan(amount) else amount

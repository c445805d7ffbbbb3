"""Outlines that no body has, and outlines that are inked too heavily or too lightly."""

from collections.abc import Sequence

from turncheck.checks.finding import Finding
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import Instruction, Row, Work, answer, asked, target_of
from turncheck.plain import spoken
from turncheck.wording import instructions as words
from turncheck.wording.findings import outline_place, titles_of


def redraw_outlines(measured: Measurement, rows: Sequence[Row]) -> list[Instruction]:
    """Return what outlines ask for."""
    titles = titles_of(measured.sheet)
    found = []
    for row in rows:
        finding, subject = row[1], row[1].subject
        broken = subject.contradiction
        if broken is None or subject.rows is None:
            continue
        place, opposite = outline_place(subject.rows), broken.kind == "mirror"
        if len(target_of(measured, finding).views) > 1:
            place += f" in the {spoken(finding.view)} drawing"
        note = finding.note.spoken(titles)
        if finding.blame.settled:  # stands under its drawing's name
            note = note.removeprefix(f"{spoken(finding.view)}: ")
        told = words.outline(place, opposite, note)
        found.append(asked(measured, row, Work.OUTLINE, told))
    return found


def reink(measured: Measurement, rows: Sequence[Row]) -> list[Instruction]:
    """Return what drawings with an outline of another weight ask for."""
    return answer(
        (row[1].subject.name, asked(measured, row, Work.INK, _line_weight(measured, row[1])))
        for row in rows
    )


def _line_weight(measured: Measurement, finding: Finding) -> words.Telling:
    target = target_of(measured, finding)
    view = target.views[0]
    size, own = (measured.size(measured.views.index(v)) for v in (view, finding.view))
    at_fault = view == finding.view
    now = (finding.measured if at_fault else finding.expected) * size / own
    right = now / (1.0 + target.amount / 100.0)
    return words.line_weight(view, now, right, target.amount, target.settled)

"""Outlines that no body has, and outlines that are inked too heavily or too lightly."""

from collections.abc import Sequence

import numpy as np

from turncheck.checks.finding import Finding
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import Instruction, Row, Work, answer, asked, target_of
from turncheck.instructions.moves import Move
from turncheck.numerics.arrays import Floats
from turncheck.wording import instructions as words
from turncheck.wording.findings import outline_place, titles_of

#: How far the drawing around a landmark goes along with it, % of the figure height; common
#: practice, no source.
PART_REACH = 4.0


def redraw_outlines(
    measured: Measurement, rows: Sequence[Row], moves: Sequence[Move]
) -> list[Instruction]:
    """Return what outlines ask for, but for those that break where a part is to be moved."""
    titles = titles_of(measured.sheet)
    found = []
    for row in rows:
        finding, subject = row[1], row[1].subject
        broken = subject.contradiction
        if broken is None or subject.rows is None:
            continue
        suspects = [measured.views.index(view) for view in finding.blame.views]
        if any(_reaches(measured, move, v, broken.rows[v]) for v in suspects for move in moves):
            continue
        place, opposite = outline_place(subject.rows), broken.kind == "mirror"
        says = words.outline(place, opposite, finding.note.spoken(titles))
        found.append(asked(row, Work.OUTLINE, says))
    return found


def reink(measured: Measurement, rows: Sequence[Row]) -> list[Instruction]:
    """Return what drawings with an outline of another weight ask for."""
    return answer(
        (row[1].subject.name, asked(row, Work.INK, _line_weight(measured, row[1]))) for row in rows
    )


def _reaches(measured: Measurement, move: Move, v: int, rows: Floats) -> bool:
    """Return whether a move in a view touches some of its picture rows."""
    if move.view != measured.views[v]:
        return False
    reach = (abs(move.amount_pct) + PART_REACH) / 100.0 * measured.figure_height * measured.size(v)
    y = measured.y[v, measured.columns(*move.landmarks)]
    return bool(np.nanmin(y) - reach <= rows.max() and np.nanmax(y) + reach >= rows.min())


def _line_weight(measured: Measurement, finding: Finding) -> str:
    target = target_of(finding)
    size, own = (measured.size(measured.views.index(v)) for v in (target.view, finding.view))
    at_fault = target.view == finding.view
    now = (finding.measured if at_fault else finding.expected) * size / own
    right = now / (1.0 + target.amount / 100.0)
    return words.line_weight(now, right, target.amount, target.settled)

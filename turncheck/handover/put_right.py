"""What it takes to put a drawing right, as an instruction has it.

Frame: px of the drawing, x to the right, y down.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from turncheck.checks.finding import Cause, Finding, Kind
from turncheck.geometry.measurement import Measurement
from turncheck.handover.ghost import Points
from turncheck.handover.matrices import Matrix, Spot, applied, mirrored, scaled, shifted
from turncheck.images.flat_colours import Fill
from turncheck.instructions import Instruction, Work
from turncheck.instructions.refills import lacked_for
from turncheck.instructions.result import Result

#: Left, top, right and bottom.
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True)
class Whole:
    """Where all of a drawing goes, and the rows that its ground and its crown then lie on."""

    matrix: Matrix
    ground: float
    crown: float


def is_of_whole(task: Instruction) -> bool:
    """Whether an instruction is about the size or the position of a whole drawing."""
    return task.kind is not Kind.YAW and (task.work is Work.WHOLE or task.kind.is_of_whole_drawing)


def whole_put_right(checked: Result, task: Instruction, view: str, points: Points) -> Whole | None:
    """Return where a drawing goes that is to be larger or smaller, or to stand elsewhere.

    None where that is not told.
    """
    measured = checked.measured
    left, _, right, _ = figure_bounds(checked, view, points)
    ground = measured.height_scales[measured.views.index(view)].ground
    middle = (left + right) / 2.0
    if task.kind is Kind.SCALE and math.isfinite(task.amount_px):
        stands = ground - task.stands_px
        smaller = scaled(1.0 / (1.0 + task.amount_pct / 100.0), (middle, stands))
        matrix = (*smaller[:5], smaller[5] + task.stands_px)
        return Whole(matrix, ground, applied(matrix, (middle, stands - points.height))[1])
    way = way_of(task, view)
    return Whole(shifted(*way), ground, ground - points.height) if way else None


def way_of(task: Instruction, view: str) -> Spot | None:
    """Return how far what an instruction moves goes in a drawing; None where nowhere."""
    way = task.move_px.get(view)
    return way if way != (0.0, 0.0) else None


def flipped_back(checked: Result, task: Instruction, view: str, points: Points) -> Matrix | None:
    """Return what flips a drawing that looks like its own mirror image; None for any other."""
    if not task.settled or turn_cause(checked, task) in (Cause.UNKNOWN, Cause.SWAPPED):
        return None
    left, _, right, _ = figure_bounds(checked, view, points)
    return mirrored((left + right) / 2.0)


def turn_cause(checked: Result, task: Instruction) -> Cause:
    """Return why a drawing faces another way than asked, as far as is known."""
    return checked.rows[task.findings[0]].cause if task.findings else Cause.UNKNOWN


def figure_bounds(checked: Result, view: str, points: Points) -> Bounds:
    """Return left, top, right and bottom of a figure, its points within."""
    seen = checked.measured.features[checked.measured.views.index(view)]
    spots = [spot for name, spot in points.spots.items() if name != "ground"]
    if seen.box:
        spots += [seen.box[:2], seen.box[2:]]
    if not spots:
        picture = checked.sheet.views[view].picture
        spots = [(0.0, 0.0), (picture.width - 1.0, picture.height - 1.0)]
    across, down = zip(*spots, strict=True)
    return min(across), min(down), max(across), max(down)


def edges_put_right(
    measured: Measurement, view: str, finding: Finding
) -> Iterator[tuple[Spot, ...]]:
    """Yield where an outline should run where one change of it alone mends a contradiction."""
    found = finding.subject.contradiction
    v = measured.views.index(view)
    remedies = [remedy for remedy in found.remedies if remedy.view == v] if found else []
    if found is None or len(remedies) != 1 or remedies[0].side == "height":
        return
    (remedy,) = remedies
    seen = measured.features[v]
    first, last = (round(float(y)) for y in found.rows[v])
    for side in ("left", "right") if remedy.side == "both" else (remedy.side,):
        edge, out = (seen.left, -remedy.px) if side == "left" else (seen.right, remedy.px)
        rows = [y for y in range(max(first, 0), last + 1) if math.isfinite(edge[y])]
        if len(rows) > 1:
            yield tuple((float(edge[y]) + out, float(y)) for y in rows)


def right_stroke(task: Instruction, width: float) -> float:
    """Return how heavy an outline should be that is so many px wide and too heavy or too light."""
    return width / (1.0 + task.amount_pct / 100.0)


def place_of(measured: Measurement, finding: Finding, view: str) -> Spot | None:
    """Return where a drawing has the fill that a finding is about."""
    paint = finding.subject.fill
    found = paint.fills[measured.views.index(view)] if paint else None
    return found.at if found is not None else None


def right_fill(measured: Measurement, finding: Finding, view: str) -> Fill | None:
    """Return the fill of another drawing that a drawing's own should look like, if any is known."""
    paint, v = finding.subject.fill, measured.views.index(view)
    own = paint.fills[v] if paint is not None else None
    if paint is None or own is None:
        return None
    there = paint.fills[measured.views.index(finding.view)]
    others = [fill for w, fill in enumerate(paint.fills) if fill is not None and w != v]
    if others:
        return there if there in others else others[0]
    lacked = lacked_for(measured.paints, v, own)
    return lacked.first if lacked is not None else None

"""The guide of a drawing with work to do: a layer to lay over it while it is put right.

Frame: px of the drawing, x to the right, y down.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from turncheck.checks.finding import Cause, Kind
from turncheck.handover.drawn_outline import outline_for
from turncheck.handover.ghost import Piece, Points, most_turned, moved_pieces, points_of, turned
from turncheck.handover.guides_shapes import (
    BEST,
    FINE,
    LETTERS,
    NEAR,
    PAPER,
    RING,
    Shape,
    ruled,
)
from turncheck.handover.matrices import NOWHERE, Matrix, Spot, applied, one_after_other, shifted
from turncheck.handover.put_right import (
    edges_put_right,
    figure_bounds,
    flipped_back,
    is_of_whole,
    place_of,
    right_fill,
    right_stroke,
    turn_cause,
    way_of,
    whole_put_right,
)
from turncheck.images.colour import hexadecimal
from turncheck.instructions import Instruction
from turncheck.instructions.result import Result
from turncheck.numerics.arrays import Floats
from turncheck.plain import number, sentence_px

#: An arrow's head, a ring, a patch of colour and a stroke, shares of the figure height; chosen by
#: eye.
_HEAD, _RING, _PATCH, _STROKE = 0.008, 0.006, 0.015, 0.08
#: Width of a letter, shares of its height; chosen by eye.
_WIDE = 0.5


@dataclass(frozen=True)
class DrawnGuide:
    """What is to be done to a drawing.

    Attributes
    ----------
    numbers, tasks
        The instructions that it shows, and their numbers in the report.
    whole, pieces
        Where all of the drawing goes, and before that pieces of it.
    points
        By name, where points that are off lie and where they should.
    shapes
        What lies over the drawing and its ghost.
    """

    view: str
    width: int
    height: int
    numbers: tuple[int, ...]
    tasks: tuple[Instruction, ...]
    whole: Matrix
    pieces: tuple[Piece, ...]
    points: Mapping[str, tuple[Spot, Spot]]
    shapes: tuple[Shape, ...]

    @property
    def has_ghost(self) -> bool:
        """Whether any of the drawing is to lie elsewhere."""
        return self.whole != NOWHERE or bool(self.pieces)


def drawn_guides(checked: Result) -> tuple[DrawnGuide, ...]:
    """Return the guides of the drawings that are certainly to be redrawn."""
    settled: dict[str, list[tuple[int, Instruction]]] = {}
    for n, task in enumerate(checked.instructions, start=1):
        settled.setdefault(task.view, []).append((n, task))
    views = (view for view in checked.measured.views if view in settled)
    return tuple(_guide(checked, view, settled[view]) for view in views)


def _guide(checked: Result, view: str, numbered: Sequence[tuple[int, Instruction]]) -> DrawnGuide:
    measured, picture = checked.measured, checked.sheet.views[view].picture
    numbers, tasks = zip(*numbered, strict=True)
    points = points_of(measured, view)
    whole = _whole(checked, view, tasks, points)
    ways = _ways(view, tasks, points)
    groups: dict[Spot, list[str]] = {}
    for name, way in ways.items():
        groups.setdefault(way, []).append(name)
    to = {name: applied(shifted(*way), points.spots[name]) for name, way in ways.items()}
    lines: list[tuple[str, str]] = []
    turns = next((task for task in tasks if task.kind is Kind.YAW), None)
    told = [*to]
    if turns and turn_cause(checked, turns) is Cause.UNKNOWN:
        right, lines = turned(measured, points, view, checked.sheet.views[view].yaw)
        told += [name for name in most_turned(points, right) if name not in to]
        to |= {name: (x, to[name][1] if name in to else y) for name, (x, y) in right.items()}
    moved = {name: (points.spots[name], applied(whole, spot)) for name, spot in to.items()}
    tall = points.height * abs(whole[3])
    rows = {  # as the drawing has them once it is put right, and as the others expect them
        name: applied(whole, (x, y + ways.get(name, (0.0, 0.0))[1]))[1]
        for name, (x, y) in points.spots.items()
    } | _expected_rows(checked, view, whole)
    return DrawnGuide(
        view=view,
        width=picture.width,
        height=picture.height,
        numbers=numbers,
        tasks=tasks,
        whole=whole,
        pieces=tuple(
            piece for way, names in groups.items() for piece in moved_pieces(points, names, way)
        ),
        points=moved,
        shapes=(
            *outline_for(checked, view, whole),
            *ruled(rows, checked.sheet.vocabulary, picture.width, tall),
            *_edges(checked, view, tasks, whole, tall),
            *_joined(moved, lines, tall),
            *_arrows(checked, moved, told, tall),
            *_inks(checked, view, tasks, whole, points),
        ),
    )


def _whole(checked: Result, view: str, tasks: Sequence[Instruction], points: Points) -> Matrix:
    """Return where all of a drawing goes: larger or smaller, elsewhere, or flipped."""
    found = NOWHERE
    for task in tasks:
        if is_of_whole(task) and (whole := whole_put_right(checked, task, view, points)):
            found = one_after_other(found, whole.matrix)
        elif task.kind is Kind.YAW and (flips := flipped_back(checked, task, view, points)):
            found = one_after_other(flips, found)
    return found


def _ways(view: str, tasks: Sequence[Instruction], points: Points) -> dict[str, Spot]:
    """Return how far each point goes, as all instructions together have it."""
    found: dict[str, Spot] = {}
    for task in tasks:
        way = way_of(task, view)
        for name in task.landmarks if way and not is_of_whole(task) else ():
            if way and name in points.spots:
                dx, dy = found.get(name, (0.0, 0.0))
                found[name] = dx + way[0], dy + way[1]
    return found


def _expected_rows(checked: Result, view: str, whole: Matrix) -> dict[str, float]:
    """Return the rows on which the other drawings expect points, by name."""
    measured = checked.measured
    v = measured.views.index(view)
    scale = measured.height_scales[v]
    if whole != NOWHERE:  # on what the drawing is now, which goes there
        scale = measured.trusted_scales[v]
    times = scale.scale / measured.height_scales[v].scale
    return {
        name: applied(whole, (0.0, scale.ground - times * finding.expected))[1]
        for finding in checked.rows
        if finding.view == view
        and finding.subject.kind is Kind.POINT
        and not finding.subject.sideways
        and math.isfinite(finding.expected)
        for name in finding.subject.landmarks
    }


def _joined(
    moved: Mapping[str, tuple[Spot, Spot]], lines: Sequence[tuple[str, str]], tall: float
) -> Iterator[Shape]:
    for pair in lines:
        line = np.array([moved[name][1] for name in pair])
        yield Shape("line", line, NEAR, 0.5, FINE * tall, " to ".join(pair))


def _arrows(
    checked: Result, moved: Mapping[str, tuple[Spot, Spot]], told: Sequence[str], tall: float
) -> Iterator[Shape]:
    """Yield each point that is off as a ring, an arrow to where it should be, and how far, px."""
    marks = checked.sheet.vocabulary.landmarks
    for name, (start, end) in moved.items():
        title, far = marks[name].title, math.dist(start, end)
        there = np.array(end)
        yield Shape("area", there + 2.0 * FINE * tall * RING, NEAR, 1.0, says=f"{title}, right")
        if name not in told:
            continue
        along = (there - start) / max(far, 1e-9)
        head = min(_HEAD * tall, far)
        foot, across = there - head * along, head / 2.0 * np.array([-along[1], along[0]])
        ring, shaft = start + _RING * tall * RING, np.array([start, foot])
        for line in (ring, shaft):
            yield Shape("line", line, PAPER, 0.8, 4.0 * FINE * tall)
        yield Shape("line", ring, NEAR, 1.0, 1.5 * FINE * tall, title)
        yield Shape("line", shaft, NEAR, 1.0, 2.0 * FINE * tall, f"{title}: {sentence_px(far)}")
        yield Shape("area", np.array([end, foot + across, foot - across]), NEAR, 1.0)
        yield from _worded(there + np.array([1.3 * head, 0.4 * LETTERS * tall]), far, tall)


def _worded(at: Floats, far: float, tall: float) -> Iterator[Shape]:
    """Yield how far a point goes, on a strip of paper."""
    says, size = sentence_px(far), LETTERS * tall
    left, top = at - np.array([0.15, 0.95]) * size
    right, bottom = at + np.array([0.3 + _WIDE * len(says), 0.2]) * size
    strip = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    yield Shape("area", strip, PAPER, 0.8)
    yield Shape("words", at[None], NEAR, 1.0, size, says)


def _edges(
    checked: Result, view: str, tasks: Sequence[Instruction], whole: Matrix, tall: float
) -> Iterator[Shape]:
    """Yield where the outline should run."""
    for task in tasks:
        for row in task.findings if task.kind is Kind.OUTLINE else ():
            for edge in edges_put_right(checked.measured, view, checked.rows[row]):
                line = np.array([applied(whole, spot) for spot in edge])
                yield Shape("line", line, NEAR, 0.9, 2.0 * FINE * tall, "the outline, right")


def _inks(
    checked: Result, view: str, tasks: Sequence[Instruction], whole: Matrix, points: Points
) -> Iterator[Shape]:
    """Yield a patch of each colour that is to be filled in, and a stroke as heavy as it should."""
    measured, tall = checked.measured, points.height
    strokes = measured.features[measured.views.index(view)].strokes
    for task in tasks:
        if task.kind is Kind.LINE_WEIGHT and strokes:
            yield from _stroke(checked, view, points, right_stroke(task, strokes.width))
        for row in task.findings if task.kind is Kind.FILL else ():
            finding = checked.rows[row]
            at = place_of(measured, finding, view)
            fill = right_fill(measured, finding, view)
            if at and fill:
                colour = hexadecimal(fill.lab)
                red, green, blue = bytes.fromhex(colour[1:7])
                disc = np.array(applied(whole, at)) + _PATCH * tall * RING
                yield Shape("area", disc, (red, green, blue), 1.0, says=f"fill with {colour}")
                yield Shape("line", disc, NEAR, 1.0, 2.0 * FINE * tall)


def _stroke(checked: Result, view: str, points: Points, width: float) -> Iterator[Shape]:
    _, top, right, _ = figure_bounds(checked, view, points)
    long = _STROKE * points.height
    x = min(right, checked.sheet.views[view].picture.width - 1.0 - long)
    line = np.array([[x, top + long], [x + long, top + long]])
    says = f"{number(width)} px"
    yield Shape("line", line, BEST, 1.0, width, f"an outline of {says}")
    at = line[:1] - [0.0, width + 0.4 * LETTERS * points.height]
    yield Shape("words", at, BEST, 1.0, LETTERS * points.height, says)

"""The cards of the instructions: each drawing as it is, and put right where that can be shown.

Frame of each picture: px of its drawing, x to the right, y down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from turncheck.checks.finding import Cause, Kind
from turncheck.handover.ghost import Piece, Points, most_turned, moved_pieces, points_of, turned
from turncheck.handover.matrices import Matrix, Spot, applied, shifted
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
from turncheck.plain import capital
from turncheck.report.bands import Box, box_about
from turncheck.report.facts import Facts, Move, Row
from turncheck.report.outline import Bracket, brackets_of
from turncheck.wording.instructions import DECIDE

#: Width and height of a picture on the screen, px, before the page gives it more.
PICTURE = (400.0, 310.0)
#: Paper around what a picture shows, the least height of it, and that of the part of an outline
#: whose ink is shown, in shares of the figure height; chosen by eye: a joint is seen with the limb
#: that it belongs to.
AROUND, LEAST, INKED = 0.06, 0.3, 0.22
#: From the wipe to what goes elsewhere, as a share of the picture; chosen by eye.
BESIDE = 0.1
#: So many of the rows that follow from an instruction are named, the others counted; chosen by eye.
FEW = 3


@dataclass(frozen=True)
class Ghost:
    """What is drawn over, or in place of, a drawing to show it put right.

    Attributes
    ----------
    pieces, whole
        Pieces of the picture that go elsewhere, or where all of it goes.
    spots, lines
        Where points would lie, and how they are joined, each line from end to end.
    edges
        Where the outline should run, line by line.
    fill, at
        The colour that a place should have, hexadecimal.
    stroke
        The weight that the outline should have, px.
    """

    pieces: tuple[Piece, ...] = ()
    whole: Matrix | None = None
    spots: tuple[Spot, ...] = ()
    lines: tuple[tuple[Spot, Spot], ...] = ()
    edges: tuple[tuple[Spot, ...], ...] = ()
    fill: str = ""
    at: Spot = (0.0, 0.0)
    stroke: float = 0.0

    @property
    def shows(self) -> bool:
        """Whether there is anything to show."""
        return self != Ghost()


@dataclass(frozen=True)
class Picture:
    """A piece of a drawing as an instruction speaks of it; `unit` of its px are one of the screen.

    Attributes
    ----------
    id
        Unique in the page.
    names
        The points to move.
    points, moves
        Places to look at, and what leads from some to where they should be.
    rules
        y of the ground and crown where the whole drawing should have them.
    lines
        Points as they are joined now, where they are to be joined otherwise.
    brackets
        Rows of the outline that can't fit.
    stroke
        The outline's weight where that is wrong, px; 0 elsewhere.
    """

    id: str
    view: str
    box: Box
    points: tuple[Spot, ...] = ()
    moves: tuple[tuple[Spot, Move], ...] = ()
    names: tuple[str, ...] = ()
    rules: tuple[float, ...] = ()
    lines: tuple[tuple[Spot, Spot], ...] = ()
    brackets: tuple[Bracket, ...] = ()
    stroke: float = 0.0
    ghost: Ghost = Ghost()

    @property
    def unit(self) -> float:
        """Px of the drawing per px of the screen."""
        return self.box[2] / PICTURE[0]

    @property
    def start(self) -> int:
        """Where the wipe stands at first, % of the width: left of what goes elsewhere."""
        ghost = self.ghost
        goes = [way.applied(*spot) for spot, way in self.moves]
        edges = [spot for edge in ghost.edges for spot in edge]
        across = [x for x, _ in (*self.points, *goes, *ghost.spots, *edges)]
        if ghost.whole or ghost.fill or ghost.stroke or not across:
            return 50
        share = (min(across) - self.box[0]) / self.box[2] - BESIDE
        return 2 * round(50.0 * min(max(share, BESIDE), 0.5))


@dataclass(frozen=True)
class Card:
    """An instruction with its number and a picture of each of its drawings."""

    number: int
    task: Instruction
    pictures: tuple[Picture, ...]

    @property
    def mend(self) -> str:
        """What to do, or to decide, as sentences."""
        if self.task.settled:
            return f"{capital(self.task.mend)}."
        ways = self.task.mend.removesuffix(DECIDE).removesuffix("; ")
        return f"Which is right? {capital(ways)}." if ways else "Which is right?"

    @property
    def marks(self) -> list[tuple[str, str]]:
        """The points to move, by view and name."""
        return [(one.view, name) for one in self.pictures for name in one.names]


def card_of(facts: Facts, number: int, task: Instruction) -> Card:
    """Return the card of an instruction."""
    return Card(number, task, tuple(_picture(facts, task, number, view) for view in task.views))


def _picture(facts: Facts, task: Instruction, number: int, view: str) -> Picture:
    points = points_of(facts.checked.measured, view)
    names = tuple(name for name in task.landmarks if name in points.spots)
    unique = f"take-{number}-{task.views.index(view)}"
    bare = Picture(unique, view, box=(0.0, 0.0, 1.0, 1.0), names=names)
    rows = [facts.rows[index] for index in task.findings]
    if task.kind is Kind.YAW:
        return _facing(facts, task, bare, points)
    if is_of_whole(task):
        return _as_a_whole(facts, task, bare, points)
    if task.kind is Kind.OUTLINE:
        return _with_edges(facts, bare, points, rows)
    if task.kind is Kind.FILL:
        return _with_fill(facts, task, bare, points, rows)
    if task.kind is Kind.LINE_WEIGHT:
        return _inked(facts, task, bare, points)
    return _with_moves(facts, task, bare, points)


def _with_moves(facts: Facts, task: Instruction, bare: Picture, points: Points) -> Picture:
    """Return points in their limb, and their pieces moved."""
    spots = tuple(points.spots[name] for name in bare.names)
    if not spots:
        return _whole_figure(facts, bare, points)
    way = way_of(task, bare.view)
    if way is None:
        return replace(bare, points=spots, box=_box(spots, points.height))
    to = [applied(shifted(*way), spot) for spot in spots]
    limbs = {points.marks[name].part for name in bare.names}
    limb = [points.spots[n] for part in limbs if points.is_limb(part) for n in points.of_part(part)]
    return replace(
        bare,
        points=spots,
        moves=tuple((spot, Move(*way, task.settled)) for spot in spots),
        box=_box([*spots, *to, *limb], points.height),
        ghost=Ghost(pieces=tuple(moved_pieces(points, bare.names, way))),
    )


def _as_a_whole(facts: Facts, task: Instruction, bare: Picture, points: Points) -> Picture:
    """Return a drawing to be made larger or smaller, or to stand elsewhere, and its lines."""
    found = whole_put_right(facts.checked, task, bare.view, points)
    if found is None:
        return _whole_figure(facts, bare, points)
    left, top, right, bottom = figure_bounds(facts.checked, bare.view, points)
    corners = [(left, top), (right, bottom)]
    spots = [*corners, *(applied(found.matrix, spot) for spot in corners)]
    box = _box([*spots, ((left + right) / 2.0, found.ground)], points.height)
    rules = found.ground, found.crown
    return replace(bare, rules=rules, box=box, ghost=Ghost(whole=found.matrix))


def _facing(facts: Facts, task: Instruction, bare: Picture, points: Points) -> Picture:
    """Return a drawing that faces another way than asked: its points as they would lie.

    One that looks like its own mirror image is flipped.
    """
    shown = _whole_figure(facts, bare, points)
    if not task.settled or turn_cause(facts.checked, task) is Cause.SWAPPED:
        return shown
    if flips := flipped_back(facts.checked, task, bare.view, points):
        return replace(shown, ghost=Ghost(whole=flips))
    measured = facts.checked.measured
    to, lines = turned(measured, points, bare.view, facts.checked.sheet.views[bare.view].yaw)
    ways = {name: spot[0] - points.spots[name][0] for name, spot in to.items()}
    most = most_turned(points, to)
    return replace(
        shown,
        points=tuple(points.spots[name] for name in to),
        moves=tuple((points.spots[name], Move(ways[name], 0.0, settled=True)) for name in most),
        lines=tuple((points.spots[one], points.spots[other]) for one, other in lines),
        ghost=Ghost(
            spots=tuple(spot for name, spot in to.items() if name not in most),
            lines=tuple((to[one], to[other]) for one, other in lines),
        ),
    )


def _with_edges(facts: Facts, bare: Picture, points: Points, rows: Sequence[Row]) -> Picture:
    """Return rows of an outline that can't fit, and where its edges should run."""
    brackets = tuple(b for row in rows for b in brackets_of(facts, row, bare.view))
    spots = [(b.x, y) for b in brackets for y in (b.top, b.bottom)]
    if not spots:
        return _whole_figure(facts, bare, points)
    measured = facts.checked.measured
    edges = tuple(edge for row in rows for edge in edges_put_right(measured, bare.view, row))
    spots += [spot for edge in edges for spot in (edge[0], edge[-1])]
    return replace(
        bare, brackets=brackets, box=_box(spots, points.height), ghost=Ghost(edges=edges)
    )


def _with_fill(
    facts: Facts, task: Instruction, bare: Picture, points: Points, rows: Sequence[Row]
) -> Picture:
    """Return a fill, and the colour that it should have."""
    measured = facts.checked.measured
    spots = [at for row in rows if (at := place_of(measured, row, bare.view)) is not None]
    paint = rows[0].subject.fill if rows else None
    if not spots and paint is not None and task.settled:  # where another drawing has it
        w = paint.fills.index(paint.first)
        height = measured.figure_height * measured.size(w)
        there, at = measured.views[w], paint.first.at
        return replace(bare, view=there, points=(at,), box=_box([at], height), names=())
    if not spots:
        return _whole_figure(facts, bare, points)
    right = next((fill for row in rows if (fill := right_fill(measured, row, bare.view))), None)
    return replace(
        bare,
        points=tuple(spots),
        box=_box(spots, points.height),
        ghost=Ghost(fill=hexadecimal(right.lab), at=spots[0])
        if right and task.settled
        else Ghost(),
    )


def _inked(facts: Facts, task: Instruction, bare: Picture, points: Points) -> Picture:
    """Return the top of a figure, with a stroke as heavy as its outline, and as it should be."""
    measured = facts.checked.measured
    strokes = measured.features[measured.views.index(bare.view)].strokes
    left, top, right, _ = figure_bounds(facts.checked, bare.view, points)
    middle = (left + right) / 2.0
    now = strokes.width if strokes else 0.0
    box = _box([(middle, top), (middle, top + INKED * points.height)], points.height)
    right_ = right_stroke(task, now) if task.settled else 0.0
    return replace(bare, box=box, stroke=now, ghost=Ghost(stroke=right_))


def _whole_figure(facts: Facts, bare: Picture, points: Points) -> Picture:
    left, top, right, bottom = figure_bounds(facts.checked, bare.view, points)
    return replace(bare, box=_box([(left, top), (right, bottom)], points.height))


def _box(spots: Sequence[Spot], height: float) -> Box:
    """Return x, y, width and height around spots, in the shape of a picture."""
    across, down = zip(*spots, strict=True)
    left, right, top, bottom = min(across), max(across), min(down), max(down)
    paper = 2 * AROUND * height
    size = right - left + paper, max(bottom - top + paper, LEAST * height)
    return box_about((left, top, right, bottom), size, PICTURE)

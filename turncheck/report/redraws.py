"""What to redraw and what to place again: the lists that the work is done from."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from turncheck.geometry.guard_bands import Verdict
from turncheck.instructions import Instruction, Work
from turncheck.report.facts import Facts, Row
from turncheck.report.inks import place_of
from turncheck.report.outline import Bracket, brackets_of
from turncheck.wording.plain import spoken, together

#: Width and height of a crop on the screen, px.
CROP = (216.0, 162.0)
#: Paper around the points of a crop, and the least height of one, in shares of the figure
#: height; chosen by eye: a joint is seen with the limb that it belongs to.
AROUND, LEAST = 0.06, 0.2


@dataclass(frozen=True)
class Point:
    """A landmark in a crop and where it should be, px of the drawing."""

    x: float
    y: float
    to: tuple[float, float] | None
    turn: float


@dataclass(frozen=True)
class Crop:
    """A piece of a drawing; `unit` is px of the drawing per px of the screen.

    Attributes
    ----------
    box
        x, y, width and height, px of the drawing.
    lines
        y of the ground and crown where the whole drawing should have them, or nothing.
    brackets
        Rows of the outline that can't fit.
    """

    picture: str
    box: tuple[float, float, float, float]
    unit: float
    points: tuple[Point, ...]
    settled: bool
    lines: tuple[float, ...] = ()
    brackets: tuple[Bracket, ...] = ()


@dataclass(frozen=True)
class Task:
    """One thing to redraw; `marks` and `rows` are titles and ids."""

    id: str
    number: int
    says: str
    settled: bool
    crop: Crop
    marks: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Undecided:
    """What could not be decided, and what helps.

    Attributes
    ----------
    count
        Of all comparisons that are undecided.
    ratios
        Those of ratios: each rests on points that may all be well placed, but not so well that
        a ratio of short lengths is known to its tolerance.
    explained
        Those that putting a whole drawing right decides.
    looks
        Those of outlines, ink and colours, which no placing changes.
    again
        By view, the points that the rest hangs on, the most wanted first, and how much does.
    """

    count: int
    ratios: int
    explained: int
    looks: int
    again: dict[str, list[tuple[str, int]]]


@dataclass(frozen=True)
class Redraws:
    """The section's lists: what to redraw by view, and the views without anything."""

    tasks: dict[str, list[Task]]
    clean: list[str]
    undecided: Undecided


def build_redraws(facts: Facts) -> Redraws:
    """Return what to redraw, drawing by drawing in the order of work, and what to place again."""
    tasks: dict[str, list[Task]] = {}
    for number, instruction in enumerate(facts.checked.instructions, start=1):
        tasks.setdefault(instruction.view, []).append(_task(facts, number, instruction))
    clean = [view for view in facts.views if view not in tasks]
    return Redraws(tasks, clean, _undecided(facts))


def _undecided(facts: Facts) -> Undecided:
    """Return the undecided rows by what helps them."""
    rows = [row for row in facts.rows if row.verdict == Verdict.UNDECIDED]
    explained = [row for row in rows if row.index in facts.explained]
    looks = [row for row in rows if not row.placed]
    ratios = [row for row in rows if row.placed and row.unit == "pct_ratio"]
    aside = {row.index for row in (*explained, *looks, *ratios)}
    return Undecided(
        count=len(rows),
        ratios=len(ratios),
        explained=len(explained),
        looks=len(looks),
        again=_again(facts.views, [row for row in rows if row.index not in aside]),
    )


def _task(facts: Facts, number: int, instruction: Instruction) -> Task:
    view = instruction.view
    names = [name for name in instruction.landmarks if (view, name) in facts.mark_ids]
    return Task(
        id=f"redraw-{number}",
        number=number,
        says=together(instruction.says),
        settled=instruction.settled,
        crop=_crop(facts, instruction, names),
        marks=tuple((facts.title(name), facts.mark_ids[view, name]) for name in names),
        rows=tuple(_linked(facts.rows[index], view) for index in instruction.findings),
    )


def _linked(row: Row, view: str) -> tuple[str, str]:
    """Return a row's title, with its drawing where that is another one, and its id."""
    return row.title if row.view == view else f"{row.title}, {spoken(row.view)}", row.id


def _crop(facts: Facts, instruction: Instruction, names: list[str]) -> Crop:
    view = instruction.view
    measured = facts.checked.measured
    v = measured.views.index(view)
    height = measured.figure_height * measured.size(v)
    move = facts.move(instruction)
    points: list[Point] = []
    for name in names:
        at = facts.placed(view, name)
        if at is not None:
            to = None if move is None else (at[0] + move.dx, at[1] + move.dy)
            turn = 0.0 if move is None else math.degrees(math.atan2(-move.dx, move.dy))
            points.append(Point(*at, to, turn))
    lines: tuple[float, ...] = ()
    spots = [(point.x, point.y) for point in points]
    spots += [point.to for point in points if point.to is not None]
    rows = [facts.rows[index] for index in instruction.findings]
    brackets: tuple[Bracket, ...] = ()
    if instruction.work is Work.OUTLINE:
        brackets = tuple(b for row in rows for b in brackets_of(facts, row, view))
        spots += [(b.x, y) for b in brackets for y in (b.top, b.bottom)]
    elif instruction.work is Work.INK:
        fills = [at for row in rows if (at := place_of(facts, row, view)) is not None]
        points += [Point(*at, None, 0.0) for at in fills]
        spots += fills
    if instruction.work is Work.WHOLE or not spots:
        ruler = measured.height_scales[v]
        whole = (ruler.ground, float(ruler.y_at(measured.figure_height)))
        moved = instruction.work is Work.WHOLE and math.isfinite(instruction.amount_px)
        lines = whole if moved else ()
        ends = [facts.placed(view, name) for name in ("ground", "crown")]
        points = [Point(*at, None, 0.0) for at in ends if at is not None]
        middle = facts.checked.sheet.views[view].picture.width / 2
        spots = [(middle, y) for y in whole] + [(middle, point.y) for point in points]
    box = _box(spots, height)
    return Crop(
        picture=facts.picture_ids[view],
        box=box,
        unit=box[2] / CROP[0],
        points=tuple(points),
        settled=instruction.settled,
        lines=lines,
        brackets=brackets,
    )


def _box(spots: list[tuple[float, float]], height: float) -> tuple[float, float, float, float]:
    """Return x, y, width and height around spots, in the shape of a crop."""
    left, right = min(x for x, _ in spots), max(x for x, _ in spots)
    top, bottom = min(y for _, y in spots), max(y for _, y in spots)
    tall = max(bottom - top + 2 * AROUND * height, LEAST * height)
    wide = max(right - left + 2 * AROUND * height, tall * CROP[0] / CROP[1])
    tall = wide * CROP[1] / CROP[0]
    return (left + right - wide) / 2, (top + bottom - tall) / 2, wide, tall


def _again(views: Iterable[str], undecided: Iterable[Row]) -> dict[str, list[tuple[str, int]]]:
    """Return, by view, the landmarks that undecided rows rest on, the most wanted first."""
    rest = {view: Counter[str]() for view in views}
    for row in undecided:
        rest[row.view].update(row.placed)
    return {view: counts.most_common() for view, counts in rest.items() if counts}

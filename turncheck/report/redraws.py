"""What to redraw and what to place again: the lists that the work is done from."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from statistics import median
from types import SimpleNamespace

from turncheck.checks.finding import Cause, Kind
from turncheck.checks.register import all_checks
from turncheck.geometry.guard_bands import Verdict, largest_decidable
from turncheck.instructions import Instruction, Work
from turncheck.report.facts import Facts, Move, Row
from turncheck.report.inks import place_of
from turncheck.report.outline import Bracket, brackets_of

#: Width and height of a crop on the screen, px.
CROP = (216.0, 162.0)
#: Paper around the points of a crop, and the least height of one, in shares of the figure
#: height; chosen by eye: a joint is seen with the limb that it belongs to.
AROUND, LEAST = 0.06, 0.2


def build_redraws(facts: Facts) -> SimpleNamespace:
    """Return what to redraw, drawing by drawing in the order of work, and what to place again.

    `tasks` are by view, '' for what is to be decided first, the number of each instruction,
    itself, and a crop of each of its drawings.
    """
    tasks: dict[str, list[tuple[int, Instruction, list[SimpleNamespace]]]] = {"": []}
    for number, instruction in enumerate(facts.checked.instructions, start=1):
        crops = [_crop(facts, instruction, view) for view in instruction.views]
        tasks.setdefault(instruction.view, []).append((number, instruction, crops))
    tasks = {view: some for view, some in tasks.items() if some}
    named = {view for instruction in facts.checked.instructions for view in instruction.views}
    warned = facts.checked.is_warned_of
    clean = [view for view in facts.views if view not in named and not warned(view)]
    return SimpleNamespace(
        tasks=tasks, clean=clean, undecided=_undecided(facts), unsure=_unsure(facts)
    )


def _unsure(facts: Facts) -> list[tuple[str, int, float]]:
    """Return what no placing as sure as these can tell.

    Returns
    -------
    list
        By check its title, how many of its comparisons that are, and how surely points would have
        to be placed for half of these, % of the figure height.
    """
    stated = facts.checked.measured.placing.pct
    found = []
    for check in all_checks():
        enough = [
            stated * largest_decidable(row.tolerance_pct) / row.uncertainty_pct
            for row in facts.rows
            if row.check == check.name and row.cause is Cause.UNSURE
        ]
        if enough:
            found.append((check.title, len(enough), median(enough)))
    return found


def _undecided(facts: Facts) -> SimpleNamespace:
    """Return how many rows are undecided, and those by what helps them.

    `explained` by putting a whole drawing right; `looks` of outlines, ink and colours by no
    placing. `again` has by view the points that the rest hangs
    on, the most wanted first, and how much does.
    """
    rows = [row for row in facts.rows if row.verdict == Verdict.UNDECIDED]
    explained = {row.index for row in rows if row.index in facts.explained}
    looks = {row.index for row in rows if not row.placed}
    aside = explained | looks
    return SimpleNamespace(
        count=len(rows),
        explained=len(explained),
        looks=len(looks),
        again=_again(facts.views, (row for row in rows if row.index not in aside)),
    )


def _crop(facts: Facts, instruction: Instruction, view: str) -> SimpleNamespace:
    """Return a piece of a drawing, in px of the drawing; `unit` of them are a px of the screen.

    `names` are the points to move, `points` places to look at, and `move` where they should go;
    `lines` y of the ground and crown where the whole drawing should have them; `brackets` rows of
    the outline that can't fit.
    """
    names = [name for name in instruction.landmarks if (view, name) in facts.mark_ids]
    measured = facts.checked.measured
    v = measured.views.index(view)
    height = measured.figure_height * measured.size(v)
    way = instruction.move_px.get(view)
    move = None if way is None else Move(*way, instruction.settled)
    points = [spot for name in names if (spot := facts.placed(view, name)) is not None]
    spots = [*points, *(move.applied(x, y) for x, y in points if move is not None)]
    lines: tuple[float, ...] = ()
    rows = [facts.rows[index] for index in instruction.findings]
    brackets: tuple[Bracket, ...] = ()
    if instruction.kind is Kind.OUTLINE:
        brackets = tuple(b for row in rows for b in brackets_of(facts, row, view))
        spots += [(b.x, y) for b in brackets for y in (b.top, b.bottom)]
    elif instruction.kind is Kind.FILL:
        fills = [at for row in rows if (at := place_of(facts, row, view)) is not None]
        points += fills
        spots += fills
    if instruction.work is Work.WHOLE or not spots:
        ruler = measured.height_scales[v]
        whole = (ruler.ground, float(ruler.y_at(measured.figure_height)))
        moved = instruction.work is Work.WHOLE and math.isfinite(instruction.amount_px)
        lines = whole if moved else ()
        ends = [facts.placed(view, name) for name in ("ground", "crown")]
        points, move = [spot for spot in ends if spot is not None], None
        middle = facts.checked.sheet.views[view].picture.width / 2
        spots = [(middle, y) for y in whole] + [(middle, y) for _, y in points]
    box = _box(spots, height)
    return SimpleNamespace(
        view=view,
        names=names,
        picture=facts.picture_ids[view],
        box=box,
        unit=box[2] / CROP[0],
        points=points,
        move=move,
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

"""The line-up: every drawing on one ground line at one scale, with its landmarks marked.

Frame: x to the right, y down, the ground at y = 0; unit: a thousandth of the figure height.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from types import SimpleNamespace

import numpy as np

from turncheck.checks.finding import Kind
from turncheck.checks.register import all_checks
from turncheck.geometry.guard_bands import Verdict
from turncheck.handover.put_right import place_of
from turncheck.instructions import Instruction, Work
from turncheck.plain import degrees, sentence_px, spoken
from turncheck.report.bands import edges_between
from turncheck.report.facts import Facts, Row
from turncheck.report.outline import brackets_of
from turncheck.wording.findings import RANK, VERDICTS

FIGURE = 1000.0
#: Room left and right of a figure, paper above and below it, and what is shown of the drawing
#: beyond its landmarks at most; chosen by eye: bags, hair and tails stay whole.
ROOM, PAPER = 0.11 * FIGURE, 0.03 * FIGURE
SHOWN = 0.38 * FIGURE
#: From a whole drawing's bracket to the figure and to its arrow, and how far down it its balloon
#: sits; rows above and below a point that its balloon keeps clear of; shares of the figure height,
#: chosen by eye.
BRACKET, ASIDE, HIGH, CLEAR = 0.045 * FIGURE, 0.02 * FIGURE, 0.12, 0.05
#: Screen px: the width that the page is laid out for until the script has measured the words,
#: the room below the ground and the space of one name in the margin; from a drawing to its names,
#: what the ruler takes, the width of a letter (wider than in most fonts); from the figure to the
#: middle of a balloon, and what a balloon takes with its px; chosen by eye.
SCREEN, FOOT, LINE, AWAY, RULER, LETTER = 1260.0, 10.0, 14.0, 22.0, 44.0, 6.6
BESIDE, BALLOON = 20.0, 42.0
#: Letters of a name in the margin, at most.
LETTERS = 36
#: Pairs whose heights differ by less share one line in the margin, in % of the figure height;
#: chosen by eye.
SAME_LINE = 0.6


def build_lineup(facts: Facts) -> SimpleNamespace:
    """Return the line-up of a sheet.

    `box` and `view` are x, y, width and height of the drawings, and with the bands of names;
    `unit` is line-up units per px of a screen `SCREEN` px wide. `rules` are heights of the
    reference: a name, y, y of where the name stands, and the side. `open` are the number and the
    instruction of what is to be decided first.
    """
    marks = _verdicts_of_marks(facts)
    drawings: list[SimpleNamespace] = []
    right_edge = 0.0
    for view in facts.views:
        drawings.append(_placed(facts, view, right_edge, marks))
        right_edge = drawings[-1].edge
    top = min(drawing.clip[1] for drawing in drawings)
    bottom = max(drawing.clip[1] + drawing.clip[3] for drawing in drawings)
    bottom = max(bottom, PAPER)
    heights = _heights(facts)
    wide = {
        side: AWAY + 8.0 + LETTER * max((len(title) for title, _ in names), default=0)
        for side, names in heights.items()
    }
    unit = right_edge / (SCREEN - RULER - wide["left"] - wide["right"])
    rules = []
    for side, names in heights.items():
        places = spread([y for _, y in names], LINE * unit, top + LINE * unit, bottom)
        rules += [(*name, place, side) for name, place in zip(names, places, strict=True)]
    _lay_out([balloon for drawing in drawings for balloon in drawing.balloons], unit, top)
    checks = {check for said in marks.values() for check in said}
    verdicts = {mark.verdict for drawing in drawings for mark in drawing.marks}
    left = -(RULER + wide["left"]) * unit
    return SimpleNamespace(
        box=(0.0, top, right_edge, bottom - top),
        view=(left, top, SCREEN * unit, bottom - top + FOOT * unit),
        unit=unit,
        drawings=drawings,
        rules=rules,
        open=[(n, task) for n, task in facts.numbered if not task.settled],
        checks=[check for check in all_checks() if check.name in checks],
        verdicts=[verdict for verdict in VERDICTS if verdict in verdicts],
    )


def _placed(
    facts: Facts, view: str, left: float, said: dict[tuple[str, str], dict[str, Row]]
) -> SimpleNamespace:
    """Return a drawing put in its place, its figure from x = `left` on.

    `x`, `y` are where its pixel (0, 0) falls, `scale` is line-up units per px of it; `clip` is x,
    y, width and height of what is shown; `start` and `edge` are where it and the next may begin.
    `bracket` is x, top and bottom of a whole drawing that is off, else None; `tasks` are the
    number and the instruction of what is to be redrawn in it, `unsettled` how much is to be
    decided.
    """
    measured = facts.checked.measured
    v = measured.views.index(view)
    picture = facts.checked.sheet.views[view].picture
    ruler = measured.height_scales[v]
    scale = FIGURE / measured.figure_height / ruler.scale
    y0 = -ruler.ground * scale
    ground = measured.columns("ground")
    own_x = np.delete(measured.x[v], ground)
    placed_x = own_x[np.isfinite(own_x)]
    placed_y = measured.y[v][np.isfinite(measured.y[v])]
    if not len(placed_x):
        placed_x = np.array([0.0, float(picture.width)])
    first, last = float(placed_x.min()) * scale, float(placed_x.max()) * scale
    clip_left = max(first - SHOWN, -0.5 * scale)
    clip_right = min(last + SHOWN, (picture.width - 0.5) * scale)
    figure = measured.features[v]
    seen_left, seen_right = (x * scale for x in edges_between(figure, 0.0, picture.height))
    highest = float(np.nanmin([figure.top, *placed_y])) * scale
    lowest = float(np.nanmax([figure.bottom, *placed_y])) * scale
    clip_top = max(float(placed_y.min()) * scale - SHOWN, highest - PAPER, -0.5 * scale)
    clip_bottom = min(
        float(placed_y.max()) * scale + SHOWN, lowest + PAPER, (picture.height - 0.5) * scale
    )
    first, last = max(min(first, seen_left), clip_left), min(max(last, seen_right), clip_right)
    x0 = left + ROOM - first
    clip = (x0 + clip_left, y0 + clip_top, clip_right - clip_left, clip_bottom - clip_top)
    marks = []
    for name in measured.landmarks:
        at = facts.placed(view, name)
        if at is not None:
            spot = (x0 + at[0] * scale, y0 + at[1] * scale)
            marks.append(_mark(facts, view, name, spot, scale, said.get((view, name), {})))
    own = [(number, task) for number, task in facts.numbered if view in task.views]
    drawn = measured.trusted_scales[v]
    above = y0 + float(drawn.y_at(measured.figure_height)) * scale
    bracket = (x0 + first - BRACKET, above, y0 + drawn.ground * scale)
    balloons = [_balloon(facts, n, task, view, (x0, y0, scale), bracket) for n, task in own]
    return SimpleNamespace(
        name=view,
        scale=scale,
        x=x0,
        y=y0,
        clip=clip,
        start=left,
        edge=x0 + last + ROOM,
        bracket=bracket if any(balloon.is_whole for balloon in balloons) else None,
        balloons=balloons,
        tasks=[(number, task) for number, task in own if task.settled],
        unsettled=sum(not task.settled for _, task in own),
        # where marks lie close the worst is on top, to be seen and pointed at
        marks=sorted(marks, key=lambda mark: -RANK.get(mark.verdict, len(RANK))),
    )


def _balloon(
    facts: Facts,
    number: int,
    task: Instruction,
    view: str,
    frame: tuple[float, float, float],
    bracket: tuple[float, float, float],
) -> SimpleNamespace:
    """Return an instruction's number beside the place in a drawing that it is about.

    `x`, `y` is the place; `out` from there to the edge of the figure, right positive, 0 on a
    bracket; `gutter` tells the spaces between drawings apart; `size` is the move in words, and `to`
    where it takes the end of a bracket.
    """
    measured = facts.checked.measured
    v = measured.views.index(view)
    x0, y0, scale = frame
    spots = (
        [] if task.work is Work.WHOLE else sorted(_spots(facts, task, view), key=lambda at: at[1])
    )
    gutter = facts.views.index(view)
    to = None
    if spots:
        x, y = spots[len(spots) // 2]
        around = CLEAR * measured.figure_height * measured.size(v)
        left, right = edges_between(measured.features[v], y - around, y + around)
        out = min(left - x, -1.0) if x - left < right - x else max(right - x, 1.0)
        if math.isinf(out):
            out = 1.0
        gutter += out > 0
        at = x0 + x * scale, y0 + y * scale, out * scale
    else:
        x, top, bottom = bracket
        at = x, top + HIGH * (bottom - top), 0.0
        if task.work is Work.WHOLE and math.isfinite(task.amount_px):
            to = (x - ASIDE, top + task.amount_px * scale)
    return SimpleNamespace(
        id=f"balloon-{number}" if view == task.views[0] else f"balloon-{number}-{v}",
        number=number,
        task=task,
        x=at[0],
        y=at[1],
        out=at[2],
        gutter=gutter,
        size=_size(facts, task, view),
        to=to,
        is_whole=not spots,
    )


def _size(facts: Facts, task: Instruction, view: str) -> str:
    """Return how far an instruction moves something in a drawing, '' where nothing moves."""
    if task.kind is Kind.YAW:
        found = [facts.rows[index].measured for index in task.findings]
        return degrees(found[0], 0) if found and math.isfinite(found[0]) else ""
    if view in task.move_px:
        return sentence_px(math.hypot(*task.move_px[view]))
    whole = task.kind is Kind.SCALE and math.isfinite(task.amount_px)
    return sentence_px(task.amount_px) if whole else ""


def _spots(facts: Facts, task: Instruction, view: str) -> list[tuple[float, float]]:
    """Return where in a drawing an instruction is about, px of the drawing."""
    rows = [facts.rows[index] for index in task.findings]
    names = task.landmarks or tuple(name for row in rows for name in row.placed)
    found = [at for name in names if (at := facts.placed(view, name)) is not None]
    if not found and task.kind is Kind.OUTLINE:
        found = [
            (b.x, (b.top + b.bottom) / 2) for row in rows for b in brackets_of(facts, row, view)
        ]
    if not found and task.kind is Kind.FILL:
        places = (place_of(facts.checked.measured, row, view) for row in rows)
        found = [at for at in places if at is not None]
    return found


def _lay_out(balloons: list[SimpleNamespace], unit: float, top: float) -> None:
    """Give the balloons of each gap between drawings heights at which none covers another."""
    for gutter in {balloon.gutter for balloon in balloons}:
        some = sorted((b for b in balloons if b.gutter == gutter), key=lambda b: b.y)
        places = spread([b.y for b in some], BALLOON * unit, top + BALLOON * unit / 2, 0.0)
        for balloon, place in zip(some, places, strict=True):
            balloon.at = balloon.out + np.sign(balloon.out) * BESIDE * unit, place - balloon.y


def _mark(
    facts: Facts,
    view: str,
    name: str,
    at: tuple[float, float],
    scale: float,
    said: dict[str, Row],
) -> SimpleNamespace:
    """Return a landmark on a drawing: where it is, where it should be, what each check says."""
    worst = min(said.values(), key=lambda row: row.order, default=None)
    move = facts.moves.get((view, name))
    return SimpleNamespace(
        id=facts.mark_ids[view, name],
        title=facts.titles[name],
        says=_says(facts, view, name, worst),
        x=at[0],
        y=at[1],
        to=move and move.applied(*at, scale),
        verdict=worst.verdict if worst is not None else "reference",
        said=said,
        row=worst,
        move=move,
    )


def _says(facts: Facts, view: str, name: str, worst: Row | None) -> str:
    start = f"{facts.titles[name]}, {spoken(view)}"
    if worst is None:
        is_reference = view == facts.checked.sheet.reference
        return f"{start}: {'the reference' if is_reference else 'not compared'}"
    what = "" if worst.subject.name == name else f"{worst.title}, "
    says = f"{start}: {VERDICTS[worst.verdict]}; {what}{worst.says}"
    number = facts.checked.follows.get(worst.index)
    if number and worst.is_off_model:
        return f"{says}; follows from {number}"
    return f"{says} ({worst.aside})" if worst.aside else says


def _verdicts_of_marks(facts: Facts) -> dict[tuple[str, str], dict[str, Row]]:
    """Return, by (view, landmark), the worst row of each check that is about that point.

    Ratios are about spans, not points. A row that the majority turns against the other drawing
    counts there, and speaks for the one it was measured on. Where two points are not level and
    one of them is to be moved, the other is not blamed.
    """
    found: dict[tuple[str, str], dict[str, Row]] = {}

    def note(view: str, name: str, row: Row) -> None:
        said = found.setdefault((view, name), {})
        if row.check not in said or row.order < said[row.check].order:
            said[row.check] = row

    for row in facts.rows:
        if row.unit == "pct_ratio" or not row.view:
            continue
        turned = facts.turned_to(row)
        moved = [name for name in row.placed if (row.view, name) in facts.moves]
        one_of_two = moved and row.subject.kind in (Kind.LEVEL, Kind.SEAT)
        for name in moved if one_of_two else row.placed:
            if turned and (turned, name) in facts.mark_ids:
                says = facts.mend(row) or "the other drawings agree against it"
                note(turned, name, replace(row, says=says, aside=""))
                says = "agrees with the other drawings"
                agrees = replace(row, verdict=Verdict.ON_MODEL, says=says, aside="")
                note(row.view, name, agrees)
            else:
                note(row.view, name, row)
    return found


def _heights(facts: Facts) -> dict[str, list[tuple[str, float]]]:
    """Return names and y of the reference's heights by side, pairs as one where they are level."""
    measured, vocabulary = facts.checked.measured, facts.checked.sheet.vocabulary
    base = measured.views.index(facts.checked.sheet.base)
    ruler = measured.height_scales[base]
    heights = {
        name: float(ruler.heights(y)) / measured.figure_height * FIGURE
        for name, y in zip(measured.landmarks, measured.y[base].tolist(), strict=True)
        if math.isfinite(y) and vocabulary.landmarks[name].has_height
    }
    sides: dict[str, list[tuple[str, float]]] = {"left": [], "right": []}
    for name, height in heights.items():
        mark = vocabulary.landmarks[name]
        title, twin = mark.title, heights.get(mark.twin)
        if twin is not None and abs(twin - height) < SAME_LINE / 100.0 * FIGURE:
            if name.endswith("_r"):
                continue
            title, height = title.removeprefix("left "), (height + twin) / 2
        if len(title) > LETTERS:
            title = f"{title[: LETTERS - 1].strip()}…"
        sides["right" if mark.kind == "pivot" else "left"].append((title, -height))
    return {side: sorted(names, key=lambda pair: pair[1]) for side, names in sides.items()}


def spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Return places at least a gap apart, in order, near the wanted ones and within bounds.

    Groups that touch are centred on what they want. Where the bounds are too narrow the gap
    shrinks.

    Examples
    --------
    >>> spread([10.0, 11.0, 50.0], 4.0, 0.0, 100.0)
    [8.5, 12.5, 50.0]
    """
    if not wanted:
        return []
    gap = min(gap, (high - low) / max(len(wanted) - 1, 1))
    groups: list[tuple[float, int]] = []  # mean of (wanted - own offset), how many
    for want in wanted:
        start, count = want, 1
        while groups and groups[-1][0] + groups[-1][1] * gap > start:
            before, members = groups.pop()
            start = (before * members + (start - members * gap) * count) / (members + count)
            count += members
        groups.append((start, count))
    places = [start + gap * i for start, count in groups for i in range(count)]
    for i, place in enumerate(places):
        places[i] = max(place, low + i * gap)
    for i in range(len(places) - 1, -1, -1):
        places[i] = min(places[i], high - (len(places) - 1 - i) * gap)
    return places

"""The line-up: every drawing on one ground line at one scale, with its landmarks marked.

Frame: x to the right, y down, the ground at y = 0; unit: a thousandth of the figure height.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from turncheck.checks.finding import Kind
from turncheck.checks.register import all_checks
from turncheck.geometry.guard_bands import Verdict
from turncheck.report.facts import Facts, Row, view_title
from turncheck.wording.findings import RANK, VERDICTS
from turncheck.wording.plain import degrees, spoken

FIGURE = 1000.0
#: Room left and right of a drawing's landmarks, and what is shown of the drawing beyond them;
#: chosen by eye: bags, hair and tails stay whole, empty paper does not push the views apart.
ROOM = 0.20 * FIGURE
SHOWN = 0.38 * FIGURE
#: Screen px: the width that the page is laid out for until the script has measured the words,
#: the room below for names and the space of one name in the margin; from a drawing to its names,
#: what the ruler takes, the width of a letter (wider than in most fonts); chosen by eye.
SCREEN, FOOT, LINE, AWAY, RULER, LETTER = 1260.0, 42.0, 14.0, 22.0, 44.0, 6.6
#: Letters of a name in the margin, at most.
LETTERS = 36
#: Pairs whose heights differ by less share one line in the margin, in % of the figure height;
#: chosen by eye.
SAME_LINE = 0.6


@dataclass(frozen=True)
class Mark:
    """A landmark on a drawing.

    Attributes
    ----------
    x, y
        Where it is, in the line-up's frame.
    to
        Where it should be, None where nothing says so.
    turn
        Which way the arrow points, degrees clockwise from down.
    verdicts
        What each check says of it, 'check=verdict' separated by spaces.
    row
        Id of the row to look at, or ''.
    """

    id: str
    title: str
    says: str
    x: float
    y: float
    to: tuple[float, float] | None
    turn: float
    settled: bool
    verdict: str
    verdicts: str
    row: str


@dataclass(frozen=True)
class Drawing:
    """A drawing put in its place.

    Attributes
    ----------
    scale
        Line-up units per px of the drawing.
    x, y
        Where the drawing's pixel (0, 0) falls.
    yaw, reads
        What it was asked for, and what it reads as where that is off, else ''.
    clip
        x, y, width and height of what is shown of it.
    middle, edge
        x of its name, and where the next drawing may start.
    """

    name: str
    title: str
    picture: str
    is_reference: bool
    yaw: str
    reads: str
    scale: float
    x: float
    y: float
    clip: tuple[float, float, float, float]
    middle: float
    edge: float
    marks: tuple[Mark, ...]


@dataclass(frozen=True)
class Rule:
    """A height of the reference, ruled across; `label` is where its name stands, y."""

    title: str
    y: float
    label: float
    side: str


@dataclass(frozen=True)
class LineUp:
    """The line-up.

    Attributes
    ----------
    box, view
        x, y, width and height of the drawings, and with the bands of names.
    unit
        Line-up units per px of a screen `SCREEN` px wide.
    left, right
        x of the inner edges of the bands of names.
    """

    box: tuple[float, float, float, float]
    view: tuple[float, float, float, float]
    unit: float
    left: float
    right: float
    drawings: tuple[Drawing, ...]
    rules: tuple[Rule, ...]
    checks: tuple[tuple[str, str], ...]
    verdicts: tuple[tuple[str, str], ...]
    top: float


def build_lineup(facts: Facts) -> LineUp:
    """Return the line-up of a sheet."""
    marks = _verdicts_of_marks(facts)
    drawings: list[Drawing] = []
    right_edge = 0.0
    for view in facts.views:
        drawings.append(_placed(facts, view, right_edge, marks))
        right_edge = drawings[-1].edge
    top = min(drawing.clip[1] for drawing in drawings)
    bottom = max(drawing.clip[1] + drawing.clip[3] for drawing in drawings)
    bottom = max(bottom, 0.0) + 0.02 * FIGURE
    left_band, right_band = _margins(facts)
    foot = FOOT + (LINE if any(drawing.reads for drawing in drawings) else 0.0)
    unit = right_edge / (SCREEN - left_band - right_band)
    box = (0.0, top, right_edge, bottom - top)
    view_box = (-left_band * unit, top, SCREEN * unit, bottom - top + foot * unit)
    return LineUp(
        box=box,
        view=view_box,
        unit=unit,
        left=0.0,
        right=right_edge,
        drawings=tuple(drawings),
        rules=tuple(_rules(facts, LINE * unit, top, bottom)),
        checks=_used_checks(facts, marks),
        verdicts=_used_verdicts(drawings),
        top=top,
    )


def _placed(
    facts: Facts, view: str, left: float, rows: dict[tuple[str, str], dict[str, Row]]
) -> Drawing:
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
    room_left = min(ROOM, max(first + 0.5 * scale, 0.0))
    room_right = min(ROOM, max((picture.width - 0.5) * scale - last, 0.0))
    x0 = left + room_left - first
    clip_left = max(first - SHOWN, -0.5 * scale)
    clip_right = min(last + SHOWN, (picture.width - 0.5) * scale)
    clip_top = max(float(placed_y.min()) * scale - SHOWN, -0.5 * scale)
    clip_bottom = min(float(placed_y.max()) * scale + 0.1 * FIGURE, (picture.height - 0.5) * scale)
    clip = (x0 + clip_left, y0 + clip_top, clip_right - clip_left, clip_bottom - clip_top)
    marks = []
    for name in measured.landmarks:
        at = facts.placed(view, name)
        if at is not None:
            marks.append(_mark(facts, view, name, at, (x0, y0, scale), rows))
    return Drawing(
        name=view,
        title=view_title(view),
        picture=facts.picture_ids[view],
        is_reference=view == facts.checked.sheet.reference,
        yaw=degrees(facts.checked.sheet.views[view].yaw),
        reads=_reads(facts, view),
        scale=scale,
        x=x0,
        y=y0,
        clip=clip,
        middle=x0 + (first + last) / 2,
        edge=x0 + last + room_right,
        # where marks lie close the worst is on top, to be seen and pointed at
        marks=tuple(sorted(marks, key=lambda mark: -RANK.get(mark.verdict, len(RANK)))),
    )


def _reads(facts: Facts, view: str) -> str:
    row = facts.row_about(Kind.YAW, view)
    return degrees(row.measured, 1) if row is not None and row.is_off_model else ""


def _mark(
    facts: Facts,
    view: str,
    name: str,
    at: tuple[float, float],
    place: tuple[float, float, float],
    rows: dict[tuple[str, str], dict[str, Row]],
) -> Mark:
    x0, y0, scale = place
    said = rows.get((view, name), {})
    worst = min(said.values(), key=lambda row: row.order, default=None)
    move = facts.moves.get((view, name))
    x, y = x0 + at[0] * scale, y0 + at[1] * scale
    to = None if move is None else (x + move.dx * scale, y + move.dy * scale)
    verdict = worst.verdict if worst is not None else "reference"
    return Mark(
        id=facts.mark_ids[view, name],
        title=facts.title(name),
        says=_says(facts, view, name, worst),
        x=x,
        y=y,
        to=to,
        turn=0.0 if move is None else math.degrees(math.atan2(-move.dx, move.dy)),
        settled=move is None or move.settled,
        verdict=verdict,
        verdicts=" ".join(f"{check}={row.verdict}" for check, row in said.items()),
        row=worst.id if worst is not None else "",
    )


def _says(facts: Facts, view: str, name: str, worst: Row | None) -> str:
    start = f"{facts.title(name)}, {spoken(view)}"
    if worst is None:
        is_reference = view == facts.checked.sheet.reference
        return f"{start}: {'the reference' if is_reference else 'not compared'}"
    what = "" if worst.subject.name == name else f"{worst.title}, "
    says = f"{start}: {VERDICTS[worst.verdict]}; {what}{worst.says}"
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
                agrees = replace(
                    row, verdict=Verdict.ON_MODEL, says="agrees with the other drawings"
                )
                note(row.view, name, replace(agrees, aside=""))
            else:
                note(row.view, name, row)
    return found


def _rules(facts: Facts, line: float, top: float, bottom: float) -> list[Rule]:
    """Return the reference's heights, as far apart in the margin as their names need."""
    rules = []
    for side, names in _heights(facts).items():
        labels = spread([y for _, y in names], line, top + line, bottom)
        rules += [
            Rule(title, y, label, side) for (title, y), label in zip(names, labels, strict=True)
        ]
    return rules


def _margins(facts: Facts) -> tuple[float, float]:
    """Return the widths of the margins left and right, screen px."""
    wide = {
        side: AWAY + 8.0 + LETTER * max((len(title) for title, _ in names), default=0)
        for side, names in _heights(facts).items()
    }
    return RULER + wide["left"], wide["right"]


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


def _used_checks(
    facts: Facts, marks: dict[tuple[str, str], dict[str, Row]]
) -> tuple[tuple[str, str], ...]:
    used = {check for said in marks.values() for check in said}
    return tuple((check.name, check.title) for check in all_checks() if check.name in used)


def _used_verdicts(drawings: Sequence[Drawing]) -> tuple[tuple[str, str], ...]:
    used = {mark.verdict for drawing in drawings for mark in drawing.marks}
    return tuple(pair for pair in VERDICTS.items() if pair[0] in used)

"""Drift from head to foot: how far each height lies from where the other drawings have it.

Frame of a strip: across in % of its width, down in screen px.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from types import SimpleNamespace

import numpy as np

from turncheck.checks.comparing import judged_as_placed
from turncheck.checks.finding import Kind
from turncheck.geometry.guard_bands import Verdict
from turncheck.instructions import Instruction, Work
from turncheck.instructions.whole import OF_SIZE, own_drift, resized_views
from turncheck.plain import listed, number, sentence_px, spoken, together
from turncheck.report.facts import Facts, Row
from turncheck.wording.findings import VERDICTS, drift_phrase, pair_title
from turncheck.wording.instructions import DECIDE

#: Screen px: height of a line, and of its strip where the lane of each side of a pair lies;
#: width at most of the figure, and what the leaders from it to the lines take.
LINE, LANES, WIDEST, LEADER = 24.0, (7.0, 17.0), 250.0, 44.0
#: How far a strip reaches at most, in usual tolerances, and at least, in the widest; what of
#: its width is left beyond. Chosen by eye: what lies farther is clipped and its number written.
MOST, LEAST, MARGIN = 5.0, 1.25, 0.04
#: Dots nearer than this cover each other, % of a strip's width; chosen by eye.
APART = 1.5
#: Fewer lines, or longer words on one, leave no room for the figure beside them.
FEW_LINES, LONG_WORDS = 6, 64


def build_driftmap(facts: Facts) -> SimpleNamespace:
    """Return the lines, the highest first, and what to know to read them.

    A line has the lanes of its sides, of a pair the left one's on top, and in `labelled` the dots
    to be told in words, those with the same words once. `ticks` are x and % of the scale, and
    whether they stay where it is narrow; `done` what is taken out first: an instruction's number
    and what it does; `figure` the base drawing beside the lines, None where there is no room.
    """
    groups = [_sides(facts, rows) for rows in _by_height(facts)]
    known = [row for sides in groups for _, rows in sides for row in rows]
    reach = _reach(known)
    lines = []
    for sides in groups:
        lanes = [
            _lane(facts, rows, side if len(sides) > 1 else "", reach, n, len(sides))
            for n, (side, rows) in enumerate(sides)
        ]
        told = {s.label: s for lane in lanes for s in reversed(lane.spots) if s.label}
        title = _title(facts, [rows[0] for _, rows in sides])
        lines.append(SimpleNamespace(title=title, lanes=lanes, labelled=list(told.values())))
    step = 1 if reach < 6.0 else 5 if reach < 20.0 else 10
    whole = range(-int(reach / step) * step, int(reach / step) * step + 1, step)
    return SimpleNamespace(
        lines=lines,
        ticks=[(_across(t, reach), t, t in (0, whole[0], whole[-1])) for t in whole],
        done=list(_done(facts)),
        figure=_figure(facts, groups, lines),
        verdicts=[v for v in VERDICTS if any(row.verdict == v for row in known)],
    )


def _by_height(facts: Facts) -> list[list[Row]]:
    """Return the measured rows about heights, a list for each point or pair, the highest first."""
    measured, marks = facts.checked.measured, facts.checked.sheet.vocabulary.landmarks
    resized = resized_views(facts.checked.instructions)
    found: dict[tuple[str, ...], dict[tuple[str, str], Row]] = {}
    for row in facts.rows:
        name, told = row.subject.name, math.isfinite(row.drift_px) and row.unit == "pct_height"
        if told and row.subject.kind is Kind.POINT and not row.subject.sideways:
            twin = marks[name].twin if name in marks else ""
            same = found.setdefault(tuple(sorted((name, twin or name))), {})
            same.setdefault((name, row.view), _put_right(facts, row, resized))

    def height(rows: list[Row]) -> float:
        scale = measured.height_scales[measured.views.index(rows[0].view)].scale
        return rows[0].expected / scale

    return sorted(([*rows.values()] for rows in found.values()), key=height, reverse=True)


def _put_right(facts: Facts, row: Row, resized: Iterable[str]) -> Row:
    """Return a row as it would be with the size and stand of whole drawings put right."""
    own = own_drift(facts.checked.measured, row, set(resized))
    if math.isnan(own) or not row.whole_pct:
        return row
    measured = facts.checked.measured
    px = own / 100.0 * measured.figure_height * measured.size(measured.views.index(row.view))
    moved = replace(row, drift_pct=own, drift_px=px)
    if row.verdict is Verdict.WAIVED:
        return moved
    return replace(moved, verdict=judged_as_placed(measured, moved).verdict)


def _sides(facts: Facts, rows: list[Row]) -> list[tuple[str, list[Row]]]:
    """Return a pair's rows by side, its left first; of anything else all rows."""
    by_name: dict[str, list[Row]] = {}
    for row in sorted(rows, key=lambda row: facts.views.index(row.view)):
        by_name.setdefault(row.subject.name, []).append(row)
    sides = sorted(by_name.items(), key=lambda one: one[0].endswith("_r"))
    return [("right" if name.endswith("_r") else "left", some) for name, some in sides]


def _title(facts: Facts, rows: list[Row]) -> str:
    if len(rows) == 1:
        return rows[0].title
    marks = facts.checked.sheet.vocabulary.landmarks
    left, right = (marks[row.subject.name] for row in rows)
    return pair_title(left, right)


def _reach(rows: list[Row]) -> float:
    """Return how far a strip reaches either way, % of the figure height."""
    allowed = np.array([row.tolerance_pct for row in rows] or [1.0])
    farthest = max((abs(row.drift_pct) + row.width_pct for row in rows), default=0.0)
    least = LEAST * float(allowed.max())
    return max(least, min(farthest, MOST * float(np.median(allowed))))


def _across(pct: float, reach: float) -> float:
    half = 50.0 * (1.0 - 2.0 * MARGIN)
    return 50.0 + half * min(max(pct / reach, -1.0), 1.0)


def _lane(
    facts: Facts, rows: list[Row], side: str, reach: float, n: int, lanes: int
) -> SimpleNamespace:
    """Return a landmark's heights: `band` is x and width of what is allowed."""
    y = LANES[n] if lanes > 1 else LINE / 2
    allowed = max(row.tolerance_pct for row in rows)
    low, high = (_across(way * allowed, reach) for way in (-1.0, 1.0))
    tall = LINE / lanes
    worst_last = sorted(rows, key=lambda row: row.order, reverse=True)
    spots = [_spot(facts, row, side, reach, y) for row in worst_last]
    for one in spots:
        one.near = [b.says for b in reversed(spots) if abs(b.x - one.x) < APART]
    return SimpleNamespace(band=(low, high - low), y=n * tall, tall=tall, spots=spots)


def _spot(facts: Facts, row: Row, side: str, reach: float, y: float) -> SimpleNamespace:
    """Return one height in one drawing, its row as it would be with whole drawings put right.

    `label` is what is written behind the strip, '' where all is well; `says` is everything in
    words, `near` that of those that it covers as well, the worst first; it lies at `x`, in 95 % of
    cases from `low` to `high`, and `beyond` is its number where that is beyond the strip, else ''.
    """
    drift, width = row.drift_pct, row.width_pct
    phrase = together(drift_phrase(row, {}))
    label = ""
    if row.is_off_model and not row.blame.settled:
        parted = " to ".join(str(len(views)) for views in row.blame.sides)
        label = f"{side} split {parted}: {DECIDE}".replace("  ", " ").strip()
    elif row.verdict in (Verdict.OFF_MODEL, Verdict.WAIVED):
        label = f"{spoken(row.view)}: {side} {phrase}".replace("  ", " ")
    verdict = row.aside if row.verdict is Verdict.NOT_MEASURED else VERDICTS[row.verdict]
    if row.verdict is not facts.rows[row.index].verdict:
        verdict += " once whole drawings are right"
    within = f"±\N{NO-BREAK SPACE}{number(width, 2)}\N{NO-BREAK SPACE}%"
    return SimpleNamespace(
        row=row,
        label=label,
        says=f"{row.title}, {spoken(row.view)}: {phrase}, {within}; {verdict}",
        y=y,
        x=_across(drift, reach),
        low=_across(drift - width, reach),
        high=_across(drift + width, reach),
        beyond=f"{number(drift, 1, True)}\N{NO-BREAK SPACE}%" if abs(drift) > reach else "",
    )


def _done(facts: Facts) -> Iterator[tuple[int, str]]:
    """Yield the instructions on the size and stand of whole drawings that are taken out first."""
    for at, task in facts.numbered:
        if task.work is Work.WHOLE and task.kind in OF_SIZE:
            yield at, f"the {listed(map(spoken, task.views))} {_put(task)}"


def _put(task: Instruction) -> str:
    if task.settled and task.kind is Kind.SCALE:
        return f"scaled to {100.0 / (1.0 + task.amount_pct / 100.0):.1f}\N{NO-BREAK SPACE}%"
    if task.settled and task.kind is Kind.GROUND:
        way = "down" if task.amount_px > 0 else "up"
        return together(f"moved {way} {sentence_px(task.amount_px)}")
    return "brought to one size and ground"


def _figure(
    facts: Facts, groups: list[list[tuple[str, list[Row]]]], lines: list[SimpleNamespace]
) -> SimpleNamespace | None:
    """Return the base drawing at the height of all lines, its points, and leaders to the lines."""
    longest = max((sum(len(s.label) + 4 for s in line.labelled) for line in lines), default=0)
    if len(lines) < FEW_LINES or longest > LONG_WORDS:
        return None
    measured, base = facts.checked.measured, facts.checked.sheet.base
    study = measured.features[measured.views.index(base)]
    if study.box is None:
        return None
    left, top, right, bottom = study.box
    wide, tall = right - left, bottom - top
    height = LINE * len(lines)
    scale = min(height / tall, WIDEST / wide)
    x0, y0 = -left * scale, (height - tall * scale) / 2 - top * scale
    edge = wide * scale + 6.0
    points, leaders = [], []
    for n, sides in enumerate(groups):
        names = dict.fromkeys(name for _, rows in sides for name in rows[0].subject.landmarks)
        at = [spot for name in names if (spot := facts.placed(base, name)) is not None]
        spots = [(x0 + x * scale, y0 + y * scale) for x, y in at]
        points += spots
        if spots:
            x, y = max(spots)
            leaders.append((x, y, edge, edge + LEADER, LINE * (n + 0.5)))
    return SimpleNamespace(
        picture=facts.picture_ids[base],
        box=(left, study.top, wide, tall),
        at=(0.0, (height - tall * scale) / 2, wide * scale, tall * scale),
        size=(edge + LEADER, height),
        points=points,
        leaders=leaders,
    )

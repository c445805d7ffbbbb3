"""Turn: the body seen from above, and the direction that each drawing sees it from.

Frame of the plan: x to the picture's right in the front view, y toward the viewer, so that the
nose points down the page; the turning axis is at (0, 0); unit: a screen px.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from types import SimpleNamespace

import cv2
import numpy as np

from turncheck.checks.finding import Cause, Kind
from turncheck.checks.verdicts import MISREAD
from turncheck.geometry.guard_bands import WIDTH, Verdict
from turncheck.geometry.turn.observability import YAW_SAME_LINE, line_gap
from turncheck.plain import degrees
from turncheck.report.facts import Facts, view_title
from turncheck.report.lineup import spread

#: Radius of the body and of the ring that the drawings stand on; room for a label beside and
#: above the ring; width of a letter, height of a line of words and of the words of a drawing;
#: chosen by eye.
BODY, RING, BESIDE, OVER, LETTER, LINE, WORDS = 168.0, 232.0, 196.0, 52.0, 6.4, 15.0, 51.0
#: Sine of the angle up to which a drawing's label stands over or under the ring.
_UPRIGHT = 0.3


@dataclass(frozen=True)
class Dot:
    """A point of the body; `side` is 'left', 'right' or 'middle', the character's own."""

    title: str
    x: float
    y: float
    part: int
    side: str


def build_above(facts: Facts) -> SimpleNamespace:
    """Return the plan, the directions of sight and the rows about yaws.

    `refusal` says why there is no plan and `settle` what would give one; `points` are where each
    point lies across and in depth, each with its standard uncertainty, % of the figure height.
    """
    measured = facts.checked.measured
    turn = measured.turn
    dots = _dots(facts) if turn else {}
    sights = list(_sights(facts)) if turn else []
    _label(sights)
    heights = [sight.label[1] for sight in sights]
    top = min([-RING - OVER, *(y - 2.4 * LINE for y in heights)])
    foot = max([RING + OVER, *(y + 2.4 * LINE for y in heights)])
    placed = (turn.x, turn.x_sd, turn.z, turn.z_sd)
    known = np.flatnonzero(np.isfinite(turn.x) & np.isfinite(turn.z)).tolist() if turn else ()
    return SimpleNamespace(
        refusal="" if turn else turn.refusal,
        settle="" if turn else _settle(facts),
        box=(-RING - BESIDE, top, 2 * (RING + BESIDE), foot - top),
        ring=RING,
        limbs=tuple(_limbs(facts, dots)),
        dots=tuple(dots.values()),
        ties=[
            (dots[left.name], dots[right.name])
            for left, right in facts.checked.sheet.vocabulary.pairs()
            if left.name in dots and right.name in dots
        ],
        words=tuple(_words(facts, dots)),
        sights=sights,
        parts=tuple(enumerate(_parts(facts).values())),
        yaws=tuple((view, facts.row_about(Kind.YAW, view)) for view in facts.views),
        within=_within,
        points=[
            (measured.landmarks[i], *(measured.percent(float(values[i])) for values in placed))
            for i in known
        ],
        unknown=len(measured.landmarks) - len(dots) if turn else 0,
    )


def _settle(facts: Facts) -> str:
    """Return what drawing would let the turn be solved."""
    sheet = facts.checked.sheet
    yaws = np.array([view.yaw for view in sheet.views.values()])
    if len(yaws) < 2:
        return "A second drawing, from the side or three-quarter, would settle it."
    if not (line_gap(yaws, np.array(sheet.views[sheet.base].yaw)) > YAW_SAME_LINE).any():
        return "A side or three-quarter drawing with the same points on it would settle it."
    return (
        "One more drawing from another direction would settle it, or the left and the right point "
        "of at least two pairs placed on the drawings that are there."
    )


def _stem(part: str) -> str:
    return part.removesuffix("_l").removesuffix("_r")


def _parts(facts: Facts) -> dict[str, str]:
    """Return the titles of the parts that get a colour of their own, left and right as one."""
    vocabulary = facts.checked.sheet.vocabulary
    marks = vocabulary.landmarks
    parts = {
        _stem(part): part for name in facts.checked.measured.landmarks if (part := marks[name].part)
    }
    return {
        stem: re.sub("^(the )?(left |right )?", "", vocabulary.part_title(part))
        for stem, part in parts.items()
    }


def _dots(facts: Facts) -> dict[str, Dot]:
    """Return the points of the body whose place is known, by landmark."""
    measured = facts.checked.measured
    turn, marks = measured.turn, facts.checked.sheet.vocabulary.landmarks
    known = np.isfinite(turn.x) & np.isfinite(turn.z)
    if not known.any():
        return {}
    unit = BODY / max(float(np.hypot(turn.x[known], turn.z[known]).max()), 1e-9)
    parts = list(_parts(facts))
    sides = {"_l": "left", "_r": "right"}
    found = {}
    for i in np.flatnonzero(known).tolist():
        mark = marks[measured.landmarks[i]]
        part = _stem(mark.part)
        found[mark.name] = Dot(
            title=mark.title,
            x=unit * float(turn.x[i]),
            y=unit * float(turn.z[i]),
            part=parts.index(part) if part else len(parts),
            side=sides.get(mark.name[-2:], "middle") if mark.twin else "middle",
        )
    return found


def _limbs(facts: Facts, dots: dict[str, Dot]) -> Iterator[tuple[int, str]]:
    """Yield a part's number and a path round its points, left and right apart."""
    marks = facts.checked.sheet.vocabulary.landmarks
    members: dict[str, list[Dot]] = {}
    for name, dot in dots.items():
        if marks[name].part:
            members.setdefault(marks[name].part, []).append(dot)
    for found in members.values():
        spots = np.array([(dot.x, dot.y) for dot in found], np.float32)
        hull = cv2.convexHull(spots)[:, 0].tolist()
        path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in hull) + "Z"
        yield found[0].part, path


def _words(facts: Facts, dots: dict[str, Dot]) -> Iterator[tuple[str, float, float, str]]:
    """Yield names, x, y and anchor of points, pivots first, as long as none covers another."""
    marks = facts.checked.sheet.vocabulary.landmarks
    taken: list[tuple[float, float, float]] = []
    for name in sorted(dots, key=lambda n: (marks[n].kind != "pivot", -abs(dots[n].x))):
        dot = dots[name]
        if dot.side == "right" and marks[name].twin in dots:
            continue
        text = dot.title.removeprefix("left ") if dot.side == "left" else dot.title
        width = LETTER * len(text)
        outward = 1.0 if dot.side == "left" or dot.x > 1.0 else -1.0
        start = dot.x + 9.0 if outward > 0 else dot.x - 9.0 - width
        free = all(
            start > there + wide + 4.0 or start + width < there - 4.0 or abs(dot.y - y) > LINE
            for there, y, wide in taken
        )
        # no name on other points: it would seem to be theirs
        own = {dot.title, marks[marks[name].twin].title if marks[name].twin else ""}
        free &= not any(
            start - 3.0 < other.x < start + width + 3.0 and abs(dot.y - other.y) < 8.0
            for other in dots.values()
            if other.title not in own
        )
        if free:
            taken.append((start, dot.y, width))
            yield text, dot.x + outward * 9.0, dot.y, "start" if outward > 0 else "end"


def _on_ring(yaw: float, radius: float = RING) -> tuple[float, float]:
    """Return where a drawing stands that sees the body turned by `yaw` degrees.

    At a positive yaw the character's right side is near, at the left of the plan.

    >>> x, y = _on_ring(90.0, 1.0)
    >>> round(x, 6), round(abs(y), 6)
    (-1.0, 0.0)
    """
    angle = math.radians(yaw)
    return -radius * math.sin(angle), radius * math.cos(angle)


def _sights(facts: Facts) -> Iterator[SimpleNamespace]:
    """Yield each drawing's direction of sight, in words too.

    `asked`, `reads` are where on the ring it stands as asked for, and as estimated (None where
    that is not known); `turn` which way it looks, degrees clockwise from down the page; `fan` the
    path of what 95 % of errors stay within, or ''; `label` where its words stand.
    """
    measured = facts.checked.measured
    turn = measured.turn
    for view in facts.views:
        v = measured.views.index(view)
        asked = facts.checked.sheet.views[view].yaw
        row = facts.row_about(Kind.YAW, view)
        measured_here = row is not None and row.is_measured
        is_base = view == facts.checked.sheet.base and not measured_here
        told = is_base or measured_here
        reads = float(turn.yaw[v]) if told else asked
        sd = float(turn.yaw_sd[v]) if told and math.isfinite(turn.yaw_sd[v]) else 0.0
        fan = ""
        if sd > 0.0:
            ends = [_on_ring(reads + way * WIDTH * sd) for way in (-1.0, 1.0)]
            fan = "M0 0" + "".join(f"L{x:.1f} {y:.1f}" for x, y in ends) + "Z"
        if is_base:
            text = f"{degrees(asked)}, taken at its word"
        elif told:
            text = f"{degrees(reads, 1)} {_within(sd)}, asked for {degrees(asked)}"
        else:
            text = f"can't be told, asked for {degrees(asked)}"
        looks = row.cause if row else ""
        if looks in MISREAD:
            text = f"looks {'left for right' if looks == Cause.SWAPPED else 'mirrored'}: {text}"
        yield SimpleNamespace(
            title=view_title(view),
            text=text,
            verdict="reference" if is_base else row.verdict if row else Verdict.NOT_MEASURED,
            asked=_on_ring(asked),
            reads=_on_ring(reads) if told else None,
            turn=reads + 180.0,
            fan=fan,
            # farther out where the board lies aslant below the words
            label=_on_ring(reads, RING + 12.0 + 20.0 * abs(math.sin(2.0 * math.radians(reads)))),
        )


def _label(sights: list[SimpleNamespace]) -> None:
    """Place the sights' words round the ring, none on another's."""
    groups: dict[str, list[SimpleNamespace]] = {"start": [], "end": [], "over": [], "under": []}
    for sight in sights:
        x, y = sight.label
        if abs(x) < _UPRIGHT * RING:
            groups["under" if y > 0 else "over"].append(sight)
        else:
            groups["start" if x > 0 else "end"].append(sight)
    for anchor in ("start", "end"):
        column = sorted(groups[anchor], key=lambda s: s.label[1])
        heights = spread([s.label[1] for s in column], WORDS, -RING - OVER, RING + OVER)
        for sight, y in zip(column, heights, strict=True):
            sight.label, sight.anchor = (sight.label[0], y), anchor
    for way, name in ((1.0, "under"), (-1.0, "over")):
        for step, sight in enumerate(sorted(groups[name], key=lambda s: abs(s.label[0]))):
            y = way * (RING + 22.0 + WORDS * step)
            sight.label, sight.anchor = (sight.label[0], y), "middle"
    for sight in sights:
        x, y = sight.label
        sight.is_over = sight.anchor == "middle" and y < 0.0
        sight.room = _room(x, y, sight.anchor)


def _room(x: float, y: float, anchor: str) -> tuple[float, float, float, float]:
    """Return x, y, width and height that words may take: to the plan's edge, and a third line.

    Those over the ring grow upward.
    """
    edge = RING + BESIDE - 6.0
    top = y + 16.0 - WORDS if anchor == "middle" and y < 0.0 else y - 18.0
    if anchor == "start":
        return x, top, edge - x, WORDS
    if anchor == "end":
        return -edge, top, edge + x, WORDS
    half = edge - abs(x)
    return x - half, top, 2.0 * half, WORDS


def _within(sd: float) -> str:
    """Return what 95 % of readings stay within, at least a tenth of a degree, in words."""
    return f"± {degrees(max(WIDTH * sd, 0.1), 1)}"

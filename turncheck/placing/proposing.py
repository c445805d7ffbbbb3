"""Proposes placings from what the drawings show by themselves; a person accepts or ignores them.

Three sources: the shape of the figure (`silhouette`); the landmarks of the reference, which lie in
the same row of every other view; and what the show's marked sheets have taught (`learned`), where
that was found to lie nearer. Where in a row is told by a body turned about its axis (`body`); how
deep in it a landmark lies, by the shape of a side view until it is placed there. Searching the row
for a patch of the drawing that looks alike was tried and gave nothing more.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from turncheck.geometry.height_scale import HeightScale
from turncheck.geometry.heights import Average, averaged
from turncheck.placing.body import Seen, solve_body
from turncheck.placing.drawings import Drawing, Drawings
from turncheck.placing.learned.model import LearnedPoints
from turncheck.placing.live_verdicts import Readings, read_so_far
from turncheck.placing.silhouette import ends_of
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import Sheet
from turncheck.sheet.vocabulary import Landmark

#: Standard uncertainty of what the bare shape tells, % of the shape's height: its highest row may
#: be hair, a hat or ears, the narrowest no neck, and legs part below the crotch where clothes hide
#: it. Chosen by the measurement in tests/figures/proposals.md, as are the next two.
SHAPE_SD = {"ground": 0.3, "hair_top": 5.0, "crown": 8.0, "chin": 3.0, "crotch": 5.0}
#: Standard uncertainty of the axis as the middle of the legs, as a share of the square of how wide
#: they stand, in figure heights, seen from the side: slim legs hide no more than a little of it.
LEGS_SD = 0.2
#: Least share of that in other views: a body is much the same left and right; common practice, no
#: source.
LEGS_STRAIGHT = 0.2
#: Standard uncertainty of a landmark as the middle of a side view's row, as a share of its width:
#: about that of anywhere between its edges.
ROW_SD = 0.29
#: How far above and below its height a landmark's row is looked for, % of the figure height: the
#: tip of a hand is narrower than a pixel; common practice, no source, as are the next.
ROW_HALF = 0.5
#: Standard uncertainty of a placing, a drawing's own errors counted in, % of the figure height.
PLACED_SD = 0.3
#: What is more uncertain than the first, % of the figure height, is not for accepting unseen, and
#: what is more uncertain than the second is not worth a look.
SURE_UP_TO, HINT_UP_TO = 1.5, 5.0
#: Standard uncertainty of how far from the midline a landmark lies that no placing tells, % of the
#: figure height.
ACROSS_SD = 15.0
#: Standard uncertainty of a drawing's size beside the base's as the heights of their figures tell
#: it, as a share; common practice, no source.
SIZE_SD = 0.02
#: Sine of the turn from which a view shows depth.
LEAST_TURNED = 0.9
#: Standard uncertainty of a proposal at least, % of the figure height: it may lie on the ruled
#: height by its making, and must not prove by itself that the drawing is on model. Wide enough for
#: 'undecided' at every default tolerance; chosen for that.
UNSEEN_SD = 1.5


@dataclass(frozen=True)
class Proposal:
    """A spot where a landmark might lie, px of the drawing, and what says so.

    `sd` is how unsure it is, px of the drawing; `doubtful` ones are for a person to look at one by
    one. `ruled` ones lie on the reference's height by their making, `hidden` ones behind a part.
    """

    view: str
    landmark: str
    x: float
    y: float
    source: str
    sd: float
    doubtful: bool = False
    ruled: bool = False
    hidden: bool = False


def propose(
    sheet: Sheet,
    placings: Sequence[Placing],
    drawings: Drawings,
    learned: LearnedPoints | None = None,
    readings: Readings | None = None,
) -> list[Proposal]:
    """Return a proposal for every landmark not yet placed on a view of which something is known.

    Parameters
    ----------
    readings
        What the measuring says of the placings, where that is known already.
    """
    readings = readings or read_so_far(sheet, placings, [])
    placed = {(placing.view, placing.landmark) for placing in placings}
    straight = sheet.straight_on
    upright = "crotch" in sheet.vocabulary.landmarks  # what has none goes on four legs
    found: dict[tuple[str, str], Proposal] = {}
    for view in sheet.views:
        drawing = drawings[view]
        top, bottom = drawing.box[1::2] if drawing.box else (0.0, 0.0)
        for name, (x, y) in drawing.spots(view in straight, upright).items():
            if name in sheet.vocabulary.landmarks:
                sd, spot = SHAPE_SD[name], (drawing.to_own(x), drawing.to_own(y))
                unsure = sd * (bottom - top) / 100.0
                found[view, name] = Proposal(
                    view, name, *spot, "the figure's shape", unsure, sd > SURE_UP_TO
                )
    found |= _same_rows(sheet, placings, drawings, readings)
    if learned is not None:
        found |= _learned(learned, placings, sheet, found)
    return [
        _inside(sheet, proposal)
        for key, proposal in found.items()
        if key not in placed and math.isfinite(proposal.x) and math.isfinite(proposal.y)
    ]


def _learned(
    learned: LearnedPoints,
    placings: Sequence[Placing],
    sheet: Sheet,
    others: Mapping[tuple[str, str], Proposal],
) -> dict[tuple[str, str], Proposal]:
    """Return what the show's sheets tell, on the height of the same row where that is known."""
    found = {}
    for (view, name), spot in learned.spots(averaged(placings)).items():
        own = spot.percent
        other = others.get((view, name))
        known = name in sheet.vocabulary.landmarks and spot.sd <= HINT_UP_TO * own
        if known and (spot.nearer or other is None):
            ruled = other is not None and other.ruled
            y = other.y if other is not None and ruled else spot.y
            sd, doubtful = max(spot.sd, UNSEEN_SD * own), spot.sd > SURE_UP_TO * own
            found[view, name] = Proposal(
                view, name, spot.x, y, "the show's sheets", sd, doubtful, ruled, spot.hidden
            )
    return found


def _inside(sheet: Sheet, proposal: Proposal) -> Proposal:
    picture = sheet.views[proposal.view].picture
    x = min(max(proposal.x, 0.0), picture.width - 1.0)
    y = min(max(proposal.y, -0.5), picture.height - 0.5)
    return replace(proposal, x=round(x, 2), y=round(y, 2))


def _same_rows(
    sheet: Sheet, placings: Sequence[Placing], drawings: Drawings, readings: Readings
) -> dict[tuple[str, str], Proposal]:
    """Return the landmarks of the placed views in the views that lack them, where they are sure."""
    if readings.figure_height is None:
        return {}
    marks = sheet.vocabulary.landmarks
    rulers = {view: ruler for view, ruler in readings.height_scales.items() if ruler.scale > 0.0}
    percent = readings.figure_height / 100.0
    placed: dict[str, dict[str, Average]] = {}
    for (view, name), one in averaged(placings).items():
        if name != "ground" and view in rulers:
            placed.setdefault(name, {})[view] = one
    sources = {name: sheet.base if sheet.base in at else min(at) for name, at in placed.items()}
    heights = {name: rulers[v].heights(placed[name][v].y) for name, v in sources.items()}
    fits = {
        view: ruler
        if view == sheet.base
        else _fitted(ruler, _size(view, sheet, drawings, rulers), view, placed, heights)
        for view, ruler in rulers.items()
    }
    seen = {
        name: _from_shape(sheet, heights[name], drawings, readings, marks[name].twin in placed)
        | {v: Seen(one.x, PLACED_SD * percent * rulers[v].scale) for v, one in at.items()}
        for name, at in placed.items()
    }
    turns = {view: math.radians(sheet.views[view].yaw) for view in rulers}
    axes = {
        view: _axis(drawings[view], turns[view], readings.midlines.get(view), percent)
        for view in rulers
    }
    told = solve_body(
        turns,
        {view: ruler.scale for view, ruler in fits.items()},
        {view: axis for view, axis in axes.items() if axis is not None},
        seen,
        {n: percent * (PLACED_SD if marks[n].midline else ACROSS_SD) for n in placed},
        readings.figure_height,
        sheet.base,
        [(left.name, right.name) for left, right in sheet.vocabulary.pairs() if left.symmetric]
        if sheet.symmetric
        else [],
    )
    proposals = {}
    for name, at in placed.items():
        for view, spot in told[name].items():
            own = percent * rulers[view].scale
            if view not in at and spot.sd <= HINT_UP_TO * own:
                y = fits[view].y_at(heights[name])
                dx, dy = _moved(name, view, marks, placed, told, fits, heights)
                sd, doubtful = max(spot.sd, UNSEEN_SD * own), spot.sd > SURE_UP_TO * own
                hidden = _is_behind(name, view, sheet, at)
                proposals[view, name] = Proposal(
                    view, name, spot.x + dx, y + dy, "the same row", sd, doubtful, True, hidden
                )
    return proposals


def _fitted(
    ruler: HeightScale,
    size: float,
    view: str,
    placed: Mapping[str, Mapping[str, Average]],
    heights: Mapping[str, float],
) -> HeightScale:
    """Return a view's ruler as what is placed on it says: of another size, if it is one.

    Weighted least squares of y on height through the ground, what is far off counting as less.
    """
    both = [name for name, at in placed.items() if view in at and len(at) > 1]
    high = np.array([heights[name] for name in both])
    seen = np.array([ruler.ground - placed[name][view].y for name in both])
    scale, known = size, 1.0 / (SIZE_SD * size) ** 2
    for _ in range(3):
        usual = PLACED_SD / 100.0 * max(heights.values())
        weight = 1.0 / np.maximum(np.abs(seen - scale * high), usual) / usual
        scale = (weight @ (high * seen) + known * size) / (weight @ high**2 + known)
    return replace(ruler, scale=float(scale))


def _size(view: str, sheet: Sheet, drawings: Drawings, rulers: Mapping[str, HeightScale]) -> float:
    """Return a view's px per base px: its figure's height beside the base's, where both show."""
    own, base = drawings[view].box, drawings[sheet.base].box
    if sheet.placing == "canvas" or own is None or base is None or sheet.base not in rulers:
        return rulers[view].scale
    return max(rulers[view].ground - own[1], 1.0) / max(rulers[sheet.base].ground - base[1], 1.0)


def _moved(
    name: str,
    view: str,
    marks: Mapping[str, Landmark],
    placed: Mapping[str, Mapping[str, Average]],
    told: Mapping[str, Mapping[str, Seen]],
    fits: Mapping[str, HeightScale],
    heights: Mapping[str, float],
) -> tuple[float, float]:
    """Return how far off the nearest landmark of the same part lies on a view, px of it."""
    part = marks[name].part
    beside = [other for other, at in placed.items() if view in at and marks[other].part == part]
    if not part or not beside:
        return 0.0, 0.0
    near = min(beside, key=lambda other: abs(heights[other] - heights[name]))
    at = placed[near][view]
    return at.x - told[near][view].x, at.y - fits[view].y_at(heights[near])


def _is_behind(name: str, view: str, sheet: Sheet, at: Mapping[str, Average]) -> bool:
    """Return whether a landmark lies behind: inside the body, or on the farther side of it."""
    aside = math.sin(math.radians(sheet.views[view].yaw))
    return all(one.hidden for one in at.values()) or (
        abs(aside) > LEAST_TURNED and name.endswith("_l" if aside > 0 else "_r")
    )


def _axis(drawing: Drawing, turn: float, midline: float | None, percent: float) -> Seen | None:
    """Return x of the turning axis: the midline where it is placed, else the legs' middle."""
    if midline is not None:
        return Seen(midline, PLACED_SD * percent)
    if drawing.legs is None:
        return None
    left, right = drawing.legs
    sd = LEGS_SD * max(abs(math.sin(turn)), LEGS_STRAIGHT) * (right - left) ** 2
    return Seen((left + right) / 2.0, sd / (100.0 * percent))


def _from_shape(
    sheet: Sheet, height: float, drawings: Drawings, readings: Readings, twice: bool
) -> dict[str, Seen]:
    """Return by side view where in the figure's row of a height a landmark lies: about midway.

    `twice` where its twin is said to lie there as well, which is no news.
    """
    found = {}
    half = ROW_HALF / 100.0 * (readings.figure_height or 0.0)
    for view, ruler in readings.height_scales.items():
        drawing = drawings[view]
        turned = abs(math.sin(math.radians(sheet.views[view].yaw))) >= LEAST_TURNED
        if not turned or drawing.figure is None:
            continue
        first, last = (drawing.to_shown(ruler.y_at(height + up)) for up in (half, -half))
        ends = ends_of(drawing.figure, first, last)
        if ends is not None:
            left, right = (drawing.to_own(column) for column in ends)
            sd = ROW_SD * (right - left) * (math.sqrt(2.0) if twice else 1.0)
            found[view] = Seen((left + right) / 2.0, sd)
    return found

"""Proposes placings from what the drawings show by themselves; a person accepts or ignores them.

Two sources: the shape of the figure (`silhouette`), and the landmarks of the reference, which
lie in the same row of every other view. Where in that row is told by a body turned about its
axis (`body`); how deep in it a landmark lies, by the shape of a side view until it is placed there.
Searching the row for a patch of the drawing that looks alike was tried and gave nothing more.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from turncheck.geometry.heights import Average, averaged
from turncheck.placing.body import solve_body
from turncheck.placing.drawings import Drawing, Drawings
from turncheck.placing.live_verdicts import Readings, read_so_far
from turncheck.placing.silhouette import middle_column, run_near, silhouette_spots
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import Sheet
from turncheck.sheet.vocabulary import Landmark

#: A body deeper than this in a side view, in shares of the figure height, does not tell where in it
#: a pivot lies; chosen by the measurement in tests/figures/proposals.md.
DEEPEST = 0.10
#: Sine of the turn from which a view shows depth, and up to which it may be left unknown;
#: common practice, no source.
LEAST_TURNED, MOST_BLIND = 0.9, 0.5


@dataclass(frozen=True)
class Proposal:
    """A spot where a landmark might lie, px of the drawing, and what says so.

    `doubtful` ones are for a person to look at one by one: the top of a figure may be its hair.
    `ruled` ones lie on the reference's height by their making.
    """

    view: str
    landmark: str
    x: float
    y: float
    source: str
    doubtful: bool = False
    ruled: bool = False


def propose(sheet: Sheet, placings: Sequence[Placing], drawings: Drawings) -> list[Proposal]:
    """Return a proposal for every landmark not yet placed on a view of which something is known."""
    readings = read_so_far(sheet, placings, [])
    placed = {(placing.view, placing.landmark) for placing in placings}
    straight = sheet.straight_on
    found: dict[tuple[str, str], Proposal] = {}
    for view in sheet.views:
        drawing = drawings[view]
        if drawing.figure is None:
            continue
        for name, (x, y) in silhouette_spots(drawing.figure, view in straight).items():
            if name in sheet.vocabulary.landmarks:
                doubtful = name == sheet.vocabulary.head[0]
                spot = (drawing.to_own(x), drawing.to_own(y))
                found[view, name] = Proposal(view, name, *spot, "the figure's shape", doubtful)
    for proposal in _same_rows(sheet, placings, drawings, readings):
        found[proposal.view, proposal.landmark] = proposal
    return [
        _inside(sheet, proposal)
        for key, proposal in found.items()
        if key not in placed and math.isfinite(proposal.x) and math.isfinite(proposal.y)
    ]


def _inside(sheet: Sheet, proposal: Proposal) -> Proposal:
    picture = sheet.views[proposal.view].picture
    x = min(max(proposal.x, 0.0), picture.width - 1.0)
    y = min(max(proposal.y, -0.5), picture.height - 0.5)
    return replace(proposal, x=round(x, 2), y=round(y, 2))


def _same_rows(
    sheet: Sheet, placings: Sequence[Placing], drawings: Drawings, readings: Readings
) -> list[Proposal]:
    """Return the landmarks of the placed views in the views that lack them."""
    if readings.figure_height is None:
        return []
    seen_in: dict[str, dict[str, Average]] = {}
    for (view, name), one in averaged(placings).items():
        if name != "ground" and view in readings.height_scales:
            seen_in.setdefault(name, {})[view] = one
    views = list(readings.height_scales)
    axes, spots = solve_body(
        {name: math.radians(sheet.views[name].yaw) for name in views},
        {name: readings.height_scales[name].scale for name in views},
        {name: _axis(drawings[name], readings.midlines.get(name)) for name in views},
        {name: {view: one.x for view, one in seen.items()} for name, seen in seen_in.items()},
    )
    proposals = []
    for name, seen in seen_in.items():
        mark = sheet.vocabulary.landmarks[name]
        source = sheet.base if sheet.base in seen else min(seen)
        height = readings.height_scales[source].heights(seen[source].y)
        across, depth = spots[name]
        if depth is None:
            depth = _depth_from_shape(sheet, mark, height, axes, drawings, readings)
        for view, ruler in readings.height_scales.items():
            axis = axes[view]
            turn = math.radians(sheet.views[view].yaw)
            blind = depth is None and abs(math.sin(turn)) > MOST_BLIND
            if view in seen or axis is None or blind:
                continue
            x = axis + ruler.scale * (across * math.cos(turn) + (depth or 0.0) * math.sin(turn))
            proposals.append(
                Proposal(view, name, x, ruler.y_at(height), "the same row", ruled=True)
            )
    return proposals


def _axis(drawing: Drawing, midline: float | None) -> float | None:
    """Return x of the turning axis: the midline where it is placed, else the legs' middle."""
    if midline is not None:
        return midline
    if drawing.figure is None:
        return None
    return drawing.to_own(middle_column(drawing.figure))


def _depth_from_shape(
    sheet: Sheet,
    mark: Landmark,
    height: float,
    axes: Mapping[str, float | None],
    drawings: Drawings,
    readings: Readings,
) -> float | None:
    """Return Z, base px, that the shape of a side view tells at a landmark's height.

    The face is the front edge of the shape, a pivot the middle of a limb or body not too deep.
    """
    face = mark.part == "head" and mark.midline and mark.kind == "height"
    face = face and mark.name != sheet.vocabulary.head[0]
    found = []
    for view, ruler in readings.height_scales.items():
        turned = math.sin(math.radians(sheet.views[view].yaw))
        axis, drawing = axes[view], drawings[view]
        if abs(turned) < LEAST_TURNED or axis is None or drawing.figure is None:
            continue
        y = ruler.y_at(height)
        run = run_near(drawing.figure, drawing.to_shown(axis), drawing.to_shown(y))
        if run is None:
            continue
        left, right = drawing.to_own(run[0] - 0.5), drawing.to_own(run[1] + 0.5)
        if face:
            found.append(((right if turned > 0 else left) - axis) / ruler.scale / turned)
        elif right - left <= DEEPEST * (readings.figure_height or 0.0) * ruler.scale:
            found.append(((left + right) / 2 - axis) / ruler.scale / turned)
    return float(np.median(found)) if found else None

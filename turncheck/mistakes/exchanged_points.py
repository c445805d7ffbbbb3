"""Two points of a drawing under each other's names: a knee called an ankle."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from turncheck.geometry.measurement import Measurement
from turncheck.mistakes.slip import Slip, does, named
from turncheck.numerics.arrays import Floats

#: % of the figure height: points this far apart are not mistaken for each other's drift, and one
#: that lies this near to where another belongs lies there. Common practice, no source.
POINTS_APART_LEAST = 5.0
POINTS_NEAR_MOST = 1.5
#: Share of a drawing's points that lie where they belong, or it is no matter of names; common
#: practice, no source.
POINTS_AGREE_LEAST = 0.7
#: How far a point lies above one that belongs above it, % of the figure height, before their names
#: are doubted; common practice, no source.
ABOVE_LEAST = 2.0
#: Other drawings that have to say where a point belongs; common practice, no source.
OTHERS_LEAST = 2


def find_exchanged_points(measured: Measurement) -> Iterator[Slip]:
    """Yield pairs of points that lie where the other belongs.

    They do where all other drawings have each at the other's height, or where what is higher in
    any standing body lies lower, on both sides of the body.
    """
    heights = _heights(measured)
    found: dict[tuple[str, str], set[int]] = {}
    for v in range(len(measured.views)):
        for pair in (*_in_one_drawing(measured, heights, v), *_out_of_order(measured, heights, v)):
            found.setdefault(pair, set()).add(v)
    for (one, other), rows in found.items():
        views = tuple(measured.views[v] for v in sorted(rows))
        yield Slip(
            "points_exchanged",
            f"The points {one} and {other} look exchanged on {named(views)}: each lies where "
            f"the other belongs; exchange their names in {does(views, 'that', 'those')} "
            f"{does(views, 'drawing', 'drawings')}",
            views,
        )


def _heights(measured: Measurement) -> Floats:
    """Return (V, N) heights, % of the figure height, NaN of what has none."""
    known = measured.table.heights * 100.0 / measured.figure_height
    return np.where(measured.firm, known, np.nan)


def _in_one_drawing(measured: Measurement, heights: Floats, v: int) -> Iterator[tuple[str, str]]:
    others = np.delete(heights, v, axis=0)
    enough = np.isfinite(others).sum(axis=0) >= OTHERS_LEAST
    belongs = np.full(heights.shape[1], np.nan)
    belongs[enough] = np.nanmedian(others[:, enough], axis=0)
    off = np.abs(heights[v] - belongs)[enough & np.isfinite(heights[v])]
    if not len(off) or (off < POINTS_NEAR_MOST).mean() < POINTS_AGREE_LEAST:
        return
    apart = np.abs(belongs[:, None] - belongs) > POINTS_APART_LEAST
    there = np.abs(heights[v][:, None] - belongs) < POINTS_NEAR_MOST
    for one, other in np.argwhere(np.triu(apart & there & there.T)):
        (stem, side), (further, its) = map(_split, (measured.landmarks[i] for i in (one, other)))
        sd = measured.percent(float(measured.sd[v, [one, other]].max()) / measured.size(v))
        if side == its and not sd > POINTS_NEAR_MOST / 2.0:  # else that near tells nothing
            yield stem, further


def _out_of_order(measured: Measurement, heights: Floats, v: int) -> Iterator[tuple[str, str]]:
    found: dict[tuple[str, str], list[bool]] = {}
    at = dict(zip(measured.landmarks, heights[v].tolist(), strict=True))
    for upper, lower in measured.sheet.vocabulary.above:
        below = at.get(lower, math.nan) - at.get(upper, math.nan)
        if math.isfinite(below):
            pair = _split(upper)[0], _split(lower)[0]
            found.setdefault(pair, []).append(below > ABOVE_LEAST)
    yield from (pair for pair, wrong in found.items() if all(wrong))


def _split(name: str) -> tuple[str, str]:
    """Return a landmark's name without its side, as a person says it, and the side."""
    side = name[-2:] if name.endswith(("_l", "_r")) else ""
    return name.removesuffix(side).replace("_", " "), side

"""Names the dots found on a drawing, by colour and by height."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from turncheck.geometry.assignment import cheapest_pairs
from turncheck.images.dots import Dot
from turncheck.numerics.arrays import Bools, Floats
from turncheck.sheet.vocabulary import Landmark

#: Spread of one dot's colour about the colour it should have, CIELAB; common practice, no source.
COLOUR_SD = 5.0
#: Spread of a height from drawing to drawing, as a share of the span of the dots; as above.
HEIGHT_SD = 0.015
#: A dot further than this from every landmark, in spreads, is none of theirs.
SPREAD_MOST = 3.5
#: Two ways of naming can't be told apart when their squared spreads differ by less than this.
LEAD_LEAST = 4.0
#: Left and right are told by their order across while the turn leaves them this share of their
#: distance in the front view; common practice, no source.
_ACROSS_LEAST = 0.3


@dataclass(frozen=True)
class Wanted:
    """A landmark that should have a dot.

    Attributes
    ----------
    colour
        CIELAB of its dot.
    y
        Where it lies on a drawing whose dots are named, px, or None where there is none.
    """

    landmark: str
    colour: tuple[float, float, float]
    y: float | None = None


@dataclass(frozen=True)
class Named:
    """A landmark's dot.

    Attributes
    ----------
    dot
        None where it was not found.
    rival
        Another landmark that the dot fits nearly as well, or ''.
    another
        Whether another dot fits the landmark nearly as well.
    """

    landmark: str
    dot: Dot | None
    rival: str = ""
    another: bool = False

    @property
    def doubt(self) -> str:
        """Why its name or its place can't be trusted, '' where both can."""
        if self.rival:
            return f"could be {self.rival} as well"
        if self.another:
            return "another dot fits as well"
        return self.dot.doubt if self.dot else ""


def name_dots(dots: Sequence[Dot], wanted: Sequence[Wanted]) -> list[Named]:
    """Give each landmark the dot that fits best, no dot to two of them.

    The sum of squared spreads in colour, and in height where heights are known, is smallest. A
    dot that another landmark would fit nearly as well is in doubt. Heights are compared after
    the drawing was moved and scaled to fit.

    Returns
    -------
    list
        One for each landmark, in their order.
    """
    if not dots or not wanted:
        return [Named(want.landmark, None) for want in wanted]
    colours = np.array([want.colour for want in wanted])
    seen = np.array([dot.colour for dot in dots])
    apart = np.linalg.norm(colours[:, None] - seen[None], axis=2) / COLOUR_SD
    cost = apart**2 + _height_cost(dots, wanted, apart)
    chosen, total = _matched(cost)
    named = []
    for i, want in enumerate(wanted):
        j = chosen[i]
        if j < 0:
            named.append(Named(want.landmark, None))
            continue
        barred = cost.copy()
        barred[i, j] = np.inf
        others, second = _matched(barred)
        near = second - total < LEAD_LEAST
        rival = next((k for k, other in enumerate(others) if other == j), -1) if near else -1
        another = near and rival < 0 and others[i] >= 0
        named.append(
            Named(want.landmark, dots[j], wanted[rival].landmark if rival >= 0 else "", another)
        )
    return named


def told_apart(
    named: Sequence[Named], landmarks: Mapping[str, Landmark], yaw: float
) -> list[Named]:
    """Return the names with left and right told by their order across the drawing.

    The character's left lies to the picture's right while it is seen from the front, and to its
    left from behind; nothing is told near the side view.
    """
    result = {one.landmark: one for one in named}
    facing = float(np.cos(np.radians(yaw)))
    for left in named:
        twin = landmarks[left.landmark].twin
        right = result.get(twin)
        if not left.landmark.endswith("_l") or right is None or abs(facing) < _ACROSS_LEAST:
            continue
        about_twins = left.rival == twin or right.rival == left.landmark
        if left.dot is None or right.dot is None or not about_twins:
            continue
        first, last = sorted((left.dot, right.dot), key=lambda dot: dot.x)
        of_left, of_right = (last, first) if facing > 0 else (first, last)
        result[left.landmark] = Named(left.landmark, of_left)
        result[twin] = Named(twin, of_right)
    return list(result.values())


def _height_cost(dots: Sequence[Dot], wanted: Sequence[Wanted], apart: Floats) -> Floats:
    """Return (wanted, dots) squared spreads of height, 0 where a height is not known."""
    known = np.array([want.y is not None for want in wanted])
    cost = np.zeros_like(apart)
    if known.sum() < 2:
        return cost
    heights = np.array([want.y for want in wanted if want.y is not None])
    rows = np.array([dot.y for dot in dots])
    alike = apart[known] < SPREAD_MOST
    sd = HEIGHT_SD * max(float(np.ptp(heights)), 1.0)
    scale, lift = _aligned(heights, rows, alike, sd)
    cost[known] = ((scale * heights + lift)[:, None] - rows[None]) ** 2 / sd**2
    return cost


def _aligned(heights: Floats, rows: Floats, alike: Bools, sd: float) -> tuple[float, float]:
    """Return the scale and the lift that bring most heights onto dots of their colour."""
    pairs = np.argwhere(alike)
    if not len(pairs):
        return 1.0, 0.0
    best, scale, lift = np.inf, 1.0, 0.0
    for i, j in pairs:
        for size in (1.0, 0.9, 0.95, 1.05, 1.1):
            moved = size * heights + rows[j] - size * heights[i]
            away = np.where(alike, ((moved[:, None] - rows[None]) / sd) ** 2, np.inf)
            missed = float(np.minimum(away.min(axis=1), SPREAD_MOST**2).sum())
            # of fits that are as good, the one that leaves the drawing as it is
            missed += 1e-3 * abs(float(np.mean(moved - heights))) / sd + 10.0 * abs(size - 1.0)
            if missed < best:
                best, scale, lift = missed, size, float(rows[j] - size * heights[i])
    for _ in range(3):
        away = np.abs((scale * heights + lift)[:, None] - rows[None])
        away = np.where(alike, away, np.inf)
        near = away.argmin(axis=1)
        good = away.min(axis=1) < SPREAD_MOST * sd
        if good.sum() < 2 or float(np.ptp(heights[good])) < 10 * sd:
            break
        scale, lift = (float(value) for value in np.polyfit(heights[good], rows[near[good]], 1))
    return scale, lift


def _matched(cost: Floats) -> tuple[list[int], float]:
    """Return the dot of each landmark (-1: none) and the sum of what that costs."""
    count, dots = cost.shape
    none = np.full((count, count), SPREAD_MOST**2)
    _, columns = cheapest_pairs(np.hstack([np.minimum(cost, 1e6), none]))
    chosen = [int(column) for column in columns]
    total = sum(float(cost[i, j]) if j < dots else SPREAD_MOST**2 for i, j in enumerate(chosen))
    return [j if j < dots else -1 for j in chosen], total

"""The outline at an angle that is not drawn: how wide and how narrow it can be, and a best guess.

In each row the drawn directions bound the support function h (see `inequalities`) of any other:
from both sides, h(p) <= (h(a) sin(b - p) + h(b) sin(p - a)) / sin(b - a) for a < p < b; and from
one side, h(p) >= (h(a) sin(b - p) - h(b) sin(a - p)) / sin(b - a) for p < a < b, and mirrored.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from turncheck.geometry.outlines.extents import LEFT, RIGHT, Extents, Outline, extents_at
from turncheck.geometry.outlines.inequalities import (
    DIRECTION_GAP_WIDEST,
    Direction,
    directions,
    grouped,
    middle_of,
)
from turncheck.numerics.arrays import Bools, Floats

#: Bounds closer than this, % of the figure height, have the best guess between them; further apart
#: an ellipse says more (chosen by the measurement in tests/figures/angles.md).
BOUNDS_CLOSE = 4.0
#: How far from narrowest to widest the best guess then lies (chosen by the measurement in
#: tests/figures/angles.md). Of drawings 45 degrees apart a round section lies at 0.65 to 0.74.
BETWEEN_BOUNDS = 0.6


@dataclass(frozen=True)
class Between:
    """How far a figure reaches at a yaw, row by row; reference px outward from the turning axis.

    Attributes
    ----------
    heights
        (R,) above the ground.
    narrowest, best, widest
        (2, R) to the left and to the right; NaN where no figure is, or nothing bounds it. The
        narrowest is NaN as well where nothing holds the figure open, as at its ends.
    """

    heights: Floats
    narrowest: Floats
    best: Floats
    widest: Floats


def outline_between(
    outlines: Sequence[Outline],
    yaw: float,
    heights: Floats,
    symmetric: Bools,
    figure_height: float,
) -> Between:
    """Return the outline that some body with the drawn ones can have at another yaw.

    Parameters
    ----------
    outlines
        (V,) the drawings'; those without an axis are left out.
    yaw
        Degrees.
    heights, symmetric
        (R,) rows above the ground, reference px; and where the body is mirror symmetric.
    figure_height
        H, reference px.

    Examples
    --------
    A round post of radius 20.

    >>> post = np.full(101, 80.0), np.full(101, 119.0)
    >>> views = [Outline(*post, 1, 100, yaw, 0, 99.5, 0) for yaw in (0.0, 45.0, 90.0)]
    >>> found = outline_between(views, 60.0, np.array([50.0]), np.array([True]), 100.0)
    >>> [round(float(one[RIGHT, 0]), 1) for one in (found.narrowest, found.best, found.widest)]
    [17.2, 20.0, 21.5]
    """
    used = [one for one in outlines if np.isfinite([one.axis, one.yaw]).all()]
    extents = extents_at(used, figure_height, heights)
    yaws = np.array([one.yaw for one in used])
    yaw_sd = np.array([one.yaw_sd for one in used])
    low, high = np.full((2, 2, len(heights)), np.nan)
    for mirrored in (False, True):
        rows = symmetric == mirrored
        if rows.any():
            groups = grouped(directions(yaws, mirrored=mirrored), yaw_sd)
            bounds = _bounds(groups, extents, yaw)
            low[:, rows], high[:, rows] = (one[:, rows] for one in bounds)
    # most drawings end before it
    high[:, 2 * extents.blank.sum(axis=0) >= len(used)] = np.nan
    crossed = low > high
    low, high = (np.where(crossed, (low + high) / 2.0, one) for one in (low, high))
    round_ = _elliptic(yaws, extents, yaw, symmetric)
    # at the ends of the figure, where it may be missing already, nothing holds it open
    least = np.where(np.isnan(low) & np.isfinite(high), -np.inf, low)
    close = high - low < BOUNDS_CLOSE / 100.0 * figure_height
    between = low + BETWEEN_BOUNDS * (high - low)
    best = np.where(close, between, np.clip(round_, least, high))
    return Between(heights, np.where(low.sum(axis=0) > 0.0, low, np.nan), best, high)


def _bounds(
    groups: Sequence[list[Direction]], extents: Extents, yaw: float
) -> tuple[Floats, Floats]:
    """Return (2, R) narrowest and widest, left and right."""
    at = np.array([middle_of(group) for group in groups])
    sides = [sorted({one.side for one in group}) for group in groups]
    inner = np.array([np.fmin.reduce(extents.low[some]) for some in sides])
    outer = np.array([np.fmax.reduce(extents.high[some]) for some in sides])
    low, high = np.full((2, 2, inner.shape[1]), np.nan)
    for side, away in ((LEFT, np.pi), (RIGHT, 0.0)):
        gap = (at - np.radians(yaw) - away) % (2.0 * np.pi)  # ahead of the direction
        for i, j in np.ndindex(len(at), len(at)):
            ahead, behind = gap[i], -gap[j] % (2.0 * np.pi)
            if 0.0 < ahead + behind < np.radians(DIRECTION_GAP_WIDEST):
                most = outer[i] * np.sin(behind) + outer[j] * np.sin(ahead)
                high[side] = np.fmin(high[side], most / np.sin(ahead + behind))
            for way in (1.0, -1.0):
                near, far = (way * gap[[i, j]]) % (2.0 * np.pi)
                if near < far < np.radians(DIRECTION_GAP_WIDEST):
                    least = inner[i] * np.sin(far) - outer[j] * np.sin(near)
                    low[side] = np.fmax(low[side], least / np.sin(far - near))
    return low, high


def _elliptic(yaws: Floats, extents: Extents, yaw: float, symmetric: Bools) -> Floats:
    """Return (2, R) the extents of the ellipse that has the drawn widths and middles most nearly.

    Half its width squared is a cos² + 2 b cos sin + c sin² of the yaw, its middle d cos + e sin;
    b and d are 0 where the body is symmetric, and as small as can be elsewhere.
    """
    edges = (np.where(np.isnan(extents.low), extents.high, extents.low) + extents.high) / 2.0
    width, middle = (edges[RIGHT::2] + edges[LEFT::2]) / 2.0, (edges[RIGHT::2] - edges[LEFT::2]) / 2

    def terms(angle: Floats) -> tuple[Floats, Floats]:
        cos, sin = np.cos(np.radians(angle)), np.sin(np.radians(angle))
        return np.stack([cos**2, 2 * cos * sin, sin**2], -1), np.stack([cos, sin], -1)

    skew = np.where(symmetric[:, None], [0.0, 0.0, 0.0], [0.0, 1.0, 0.0]), ~symmetric[:, None]
    drawn, asked = terms(yaws), terms(np.array(yaw))
    squared = _fitted(drawn[0], width**2, asked[0], np.array([1.0, 0.0, 1.0]) + skew[0])
    centre = _fitted(drawn[1], middle, asked[1], np.array([0.0, 1.0]) + skew[1] * [1.0, 0.0])
    half = np.sqrt(np.maximum(squared, 0.0))
    return np.stack([half - centre, half + centre])


#: Of a term's own square, so that what the drawings leave open is as small as can be.
_RIDGE = 1e-6


def _fitted(design: Floats, values: Floats, asked: Floats, free: Floats) -> Floats:
    """Return (R,) what the terms that are free in each row give for what is asked.

    `design` (V, K), `values` (V, R) with NaN where not seen, `asked` (K,), `free` (R, K) 0 or 1.
    """
    seen = np.isfinite(values)
    each = design[:, None, :] * free
    normal = np.einsum("vr,vrk,vrl->rkl", seen.astype(float), each, each)
    normal += _RIDGE * np.eye(design.shape[1])
    right = np.einsum("vr,vrk->rk", np.where(seen, values, 0.0), each)
    found = np.linalg.solve(normal, right[..., None])[..., 0] @ asked
    return np.where(seen.any(axis=0), found, np.nan)

"""What the bare shape of a figure tells: its highest and lowest row, where it parts and narrows.

Frame: px of the mask, y down; a position is the centre of a pixel, an edge lies half a px beyond.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from turncheck.images.features import row_extents
from turncheck.numerics.arrays import Bools

Spot = tuple[float, float]

#: Shares of the figure's height, from its top, between which a body part is looked for; common
#: practice, no source (a figure of 2.5 heads has its neck at 0.4, one of 2 heads with ears at
#: 0.55, one of 8 heads its crotch at 0.55, a squat one at 0.85).
NECK_BETWEEN = (0.08, 0.6)
CROTCH_BELOW = 0.4
LEGS_BETWEEN = (0.6, 0.9)
#: A gap between the legs that is shorter than this, in shares of the height, is a fold or a
#: strap; common practice, no source.
LEAST_GAP = 0.03

#: A neck is so many times narrower than the head and the shoulders; common practice, no source.
NECK_NARROWER = 1.2


def rows_of(mask: Bools) -> tuple[int, int]:
    """Return the first and the last row of the figure."""
    rows = np.flatnonzero(mask.any(axis=1))
    return int(rows[0]), int(rows[-1])


def runs(row: Bools) -> list[tuple[int, int]]:
    """Return first and last column of each unbroken run in a row.

    >>> runs(np.array([0, 1, 1, 0, 1], dtype=bool))
    [(1, 2), (4, 4)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(np.int8), [0]])))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def legs_between(mask: Bools) -> tuple[float, float]:
    """Return the edges between which the legs stand: the medians of their rows.

    The legs, since bags, hair and arms hang to one side above them.
    """
    top, bottom = rows_of(mask)
    height = bottom - top + 1
    first, last = (top + round(share * height) for share in LEGS_BETWEEN)
    rows = mask[first:last] if mask[first:last].any() else mask
    left, right = row_extents(rows)
    return float(np.nanmedian(left)), float(np.nanmedian(right))


def ends_of(mask: Bools, first: float, last: float) -> tuple[float, float] | None:
    """Return the edges of the figure, left and right, in some rows; None where they are empty."""
    rows = mask[max(round(first), 0) : max(round(last) + 1, 0)]
    columns = np.flatnonzero(rows.any(axis=0))
    return (columns[0] - 0.5, columns[-1] + 0.5) if len(columns) else None


def silhouette_spots(mask: Bools, straight: bool, upright: bool = True) -> dict[str, Spot]:
    """Return (x, y) of what the shape alone can tell, by landmark.

    Parameters
    ----------
    mask
        (h, w) with at least one row of the figure.
    straight
        Whether it is seen from straight in front or behind: only there do the legs part and does
        the jaw not hide the neck.
    upright
        Whether it goes on two legs: its head is over them, which a raised hand is not, and nothing
        else hides its neck.
    """
    _, bottom = rows_of(mask)
    left, right = legs_between(mask)
    middle = (left + right) / 2.0
    over = np.zeros_like(mask)
    over[:, round(left + 0.5) : round(right + 0.5)] = True
    head = mask & over if upright and (mask & over).any() else mask
    highest, _ = rows_of(head)
    peak = float(np.flatnonzero(head[highest]).mean()), highest - 0.5
    found: dict[str, Spot] = {
        "ground": (middle, bottom + 0.5),
        "hair_top": peak,
        "crown": peak,
    }
    if straight and upright:
        # seen straight on, the neck is narrowest where the chin ends (tests/figures/proposals.md)
        neck = _narrowest(mask, middle)
        if neck is not None:
            found["chin"] = neck
        crotch = _parting(mask, middle)
        if crotch is not None:
            found["crotch"] = crotch
    return found


def _narrowest(mask: Bools, middle: float) -> Spot | None:
    """Return the middle of the narrowest row between a head and shoulders wider than it."""
    top, bottom = rows_of(mask)
    height = bottom - top + 1
    first, last = (top + round(share * height) for share in NECK_BETWEEN)
    runs_at = np.array([run_at(row, middle) for row in mask[top:last]], dtype=np.float64)
    held = (runs_at[:, 0] <= middle) & (runs_at[:, 1] >= middle)  # not an ear or a hand beside it
    widths = np.where(held, runs_at[:, 1] - runs_at[:, 0] + 1, 0.0)
    above = np.maximum.accumulate(widths)[first - top - 1 : -1]
    below = np.maximum.accumulate(widths[::-1])[::-1][first - top :]
    narrow = widths[first - top :]
    depth = np.minimum(above, below) / np.where(narrow > 0, narrow, np.inf)
    best = int(np.argmax(depth))
    if depth[best] < NECK_NARROWER:
        return None
    return float(runs_at[first - top + best].mean()), float(first + best)


def _parting(mask: Bools, middle: float) -> Spot | None:
    """Return the top of the gap between the legs."""
    top, bottom = rows_of(mask)
    height = bottom - top + 1
    above: tuple[int, int] | None = None
    middles: list[float] = []
    for y in range(bottom, top + round(CROTCH_BELOW * height), -1):
        gap = _gap_at(mask[y], middle, above)
        if gap is not None:
            middles.append((gap[0] + gap[1]) / 2)
        elif len(middles) >= LEAST_GAP * height:
            return float(np.median(middles)), float(y + 0.5)
        else:
            middles = []
        above = gap
    return None


def _gap_at(row: Bools, middle: float, near: tuple[int, int] | None) -> tuple[int, int] | None:
    """Return the gap between two runs that holds the middle, or that meets the gap below it."""
    for (_, end), (start, _) in pairwise(runs(row)):
        left, right = end + 1, start - 1
        if near is None and left - 1 <= middle <= right + 1:
            return left, right
        if near is not None and left <= near[1] and right >= near[0]:
            return left, right
    return None


def run_at(row: Bools, middle: float) -> tuple[float, float]:
    """Return the run that holds a column, or the nearest one; an empty one has no width."""
    found = runs(row)
    if not found:
        return middle, middle - 1
    return min(found, key=lambda run: max(run[0] - middle, middle - run[1], 0.0))

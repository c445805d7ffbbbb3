"""Bends a drawing so that its edges and its points go where an angle has them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from turncheck.handover.angle import Angle, Canvas
from turncheck.images.features import row_extents
from turncheck.numerics.arrays import Bools, Bytes, Floats, Ints, Singles

#: What would be stretched to more than so many times its width no drawing shows; common practice,
#: no source. It has this grey; chosen by eye.
STRETCHED_MOST, PLAIN = 3.0, 225
#: Rows over which an edge's way is smoothed; and an edge that goes further from one row to the next
#: is another part's; shares of the figure height, chosen by eye.
_STEADY, _JUMP = 0.02, 0.012
#: Bending is reckoned from edges so far apart, on a grid so fine; a limb reaches no further from
#: its middle; shares of the figure height, chosen by eye.
_ROWS, _GRID, _THICK = 0.01, 0.01, 0.04


@dataclass(frozen=True)
class Pulls:
    """Points by which a drawing is bent.

    Attributes
    ----------
    starts, ends
        (n, 2) where they are drawn on the canvas, and where they go.
    limbs
        The limb that each is of, '' for none.
    """

    starts: Floats
    ends: Floats
    limbs: Sequence[str]


def bent(picture: Bytes, angle: Angle, pulls: Pulls, tall: float) -> Bytes:
    """Return a drawing on an angle's canvas, (H, W, 4) RGBA, bent to the angle.

    First up and down, then sideways. `tall` is the figure height, px.
    """
    if len(pulls.starts):
        canvas, starts, ends = angle.canvas, pulls.starts, pulls.ends
        up = _spread(starts, ends[:, 1] - starts[:, 1], canvas, tall)
        columns, rows = _places(canvas.width, canvas.height)
        picture = _remapped(picture, columns, rows - up.astype(np.float32))
        pulls = replace(pulls, starts=np.stack([starts[:, 0], ends[:, 1]], axis=1))
    return _across(picture, angle, pulls, tall)


def _across(picture: Bytes, angle: Angle, pulls: Pulls, tall: float) -> Bytes:
    """Return a drawing whose edges are bent to the outline's, row by row, and points go along."""
    figure, axis, best = picture[..., 3] > 127, angle.canvas.axis, angle.outline.best
    edges, columns = np.stack(row_extents(figure)), np.arange(figure.shape[1], dtype=float)
    aims = np.stack([axis - best[0], axis + best[1]])
    ways = np.stack([_steadied(aims[k] - edges[k], edges[k], tall) for k in (0, 1)])
    rows = np.flatnonzero(np.isfinite(edges + ways).all(axis=0))
    some = rows[:: max(round(_ROWS * tall), 1)]
    spots = np.concatenate([np.stack([edges[k, some], some], axis=1) for k in (0, 1)])
    spots = np.concatenate([spots, pulls.starts])
    goes = np.r_[ways[0, some], ways[1, some], pulls.ends[:, 0] - pulls.starts[:, 0]]
    field = _spread(spots, goes, angle.canvas, tall)
    gaps, gap_goes = _gap_edges(figure, some, field, pulls, _THICK * tall)
    if len(gaps):
        spots, goes = np.concatenate([spots, gaps]), np.r_[goes, gap_goes]
        field = _spread(spots, goes, angle.canvas, tall)
    sought = np.full(field.shape, -1.0, np.float32)
    for y in rows:
        ahead = np.maximum.accumulate(columns + field[y]) + 1e-6 * columns  # nothing folds over
        sought[y] = np.interp(columns, ahead, columns, left=-1.0, right=-1.0)
    found = _remapped(picture, sought, _places(len(columns), len(figure))[1])
    stretched = (np.gradient(sought, axis=1) * STRETCHED_MOST < 1.0).astype(np.uint8)
    wide = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * round(_STEADY * tall / 2.0) + 1,) * 2)
    found[cv2.morphologyEx(stretched, cv2.MORPH_OPEN, wide) > 0, :3] = PLAIN
    return found


def _gap_edges(
    figure: Bools, rows: Ints, field: Floats, pulls: Pulls, thick: float
) -> tuple[Floats, Floats]:
    """Return (n, 2) the edges of gaps in some rows, and how far each goes sideways, (n,).

    Pieces that stand apart keep their thickness, and the gaps between them close instead: the edges
    of a limb, of which a point lies within its thickness, go along with that; others go as the
    middle of their piece does in `field`, (H, W), as far as there is room.
    """
    of_limb = np.array([bool(limb) for limb in pulls.limbs], bool)
    spots: list[tuple[float, float]] = []
    goes: list[float] = []
    for y in rows.tolist():
        edges = np.flatnonzero(np.diff(np.r_[0, figure[y].view(np.int8), 0])) - 0.5
        if len(edges) < 4:
            continue
        way = field[y, np.clip(edges.astype(int), 0, figure.shape[1] - 1)]
        ends = edges + np.repeat(way.reshape(-1, 2).mean(axis=1), 2)
        free = np.ones(len(edges), bool)
        level = np.flatnonzero(of_limb & (np.abs(pulls.starts[:, 1] - y) < thick / 2.0))
        across = pulls.starts[level, 0]
        for k, x in enumerate(edges.tolist()):
            left, right = edges[k - k % 2], edges[k - k % 2 + 1]
            own = level[(across >= left) & (across <= right) & (np.abs(across - x) < thick)]
            if len(own):
                i = own[np.abs(pulls.starts[own, 1] - y).argmin()]
                ends[k], free[k] = x + pulls.ends[i, 0] - pulls.starts[i, 0], False
        for k in range(1, len(edges) - 1):
            other = k + 1 if k % 2 else k - 1  # across the gap
            beyond = (ends[k] - ends[other]) * (1.0 if k % 2 else -1.0)
            if free[k] and beyond > 0.0:
                ends[k] = (ends[k] + ends[other]) / 2.0 if free[other] else ends[other]
        spots += [(x, float(y)) for x in edges[1:-1].tolist()]
        goes += (ends - edges)[1:-1].tolist()
    return np.array(spots, float).reshape(-1, 2), np.array(goes, float)


def _steadied(ways: Floats, edge: Floats, tall: float) -> Floats:
    """Return an edge's ways, (R,), without what a few rows have for themselves; NaN stays.

    Where the edge jumps, as under a hand, nothing is smoothed across.
    """
    half = max(int(_STEADY * tall), 1)
    out = np.full(ways.shape, np.nan)
    known = np.flatnonzero(np.isfinite(edge))
    breaks = (
        np.flatnonzero((np.diff(known) > 1) | (np.abs(np.diff(edge[known])) > _JUMP * tall)) + 1
    )
    for stretch in np.split(known, breaks):
        there = stretch[np.isfinite(ways[stretch])]
        if not len(there):
            continue
        filled = np.pad(
            np.interp(stretch, there, ways[there]),
            half,
            "reflect" if len(stretch) > half else "edge",
        )
        middle = np.median(sliding_window_view(filled, 2 * half + 1), axis=1)
        out[stretch] = cv2.GaussianBlur(middle[:, None], (1, 2 * half + 1), half / 3.0)[:, 0]
    return out


def _spread(points: Floats, values: Floats, canvas: Canvas, tall: float) -> Floats:
    """Return (H, W) values at points spread over a canvas, nearer ones counting for more.

    Inverse distance weights (Shepard 1968), of the fourth power.
    """
    step = max(_GRID * tall, 1.0)
    width, height = int(canvas.width / step) + 2, int(canvas.height / step) + 2
    grid = np.stack(np.meshgrid(np.arange(width) * step, np.arange(height) * step), axis=-1)
    total, weights = np.zeros((height, width)), np.zeros((height, width))
    for point, value in zip(points, values, strict=True):
        weight = 1.0 / (((grid - point) ** 2).sum(axis=-1) + step**2) ** 2
        total += weight * value
        weights += weight
    columns, rows = np.meshgrid(np.arange(canvas.width) / step, np.arange(canvas.height) / step)
    coarse = (total / weights).astype(np.float32)
    spread = cv2.remap(
        coarse, columns.astype(np.float32), rows.astype(np.float32), cv2.INTER_LINEAR
    )
    return np.asarray(spread, np.float64)


def _places(width: int, height: int) -> tuple[Singles, Singles]:
    """Return (H, W) the columns and the rows of a canvas's px."""
    columns, rows = np.meshgrid(np.arange(width), np.arange(height))
    return columns.astype(np.float32), rows.astype(np.float32)


def _remapped(picture: Bytes, columns: Singles, rows: Singles) -> Bytes:
    # colours under clear pixels must not bleed in
    shade = picture[..., :3] * picture[..., 3:].astype(np.uint16) // 255
    whole = np.dstack([shade.astype(np.uint8), picture[..., 3]])
    moved = cv2.remap(whole, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    alpha = np.maximum(moved[..., 3:], 1).astype(np.uint16)
    colours = np.minimum(moved[..., :3].astype(np.uint16) * 255 // alpha, 255)
    return np.dstack([colours.astype(np.uint8), moved[..., 3]])

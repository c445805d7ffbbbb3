"""Two drawings, one flipped onto the other: where their outlines, and what is within them, differ.

Frame: px of the drawing that the other is flipped onto, x to the right, y down.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from turncheck.geometry.measurement import Measurement
from turncheck.handover.matrices import NOWHERE, Matrix, Spot
from turncheck.numerics.arrays import Bools, Floats

#: What differs by more than this once flipped is told, % of the figure height; common practice, no
#: source.
DIFFERS = 1.0
#: Of two outlines, and of what is drawn, so much is nearly all, %; common practice, no source.
_NEARLY_ALL, _NEARLY_ALL_DRAWN = 98.0, 90.0
#: Rows that are compared, a figure height; common practice, no source.
_ROWS = 500
#: Shortest stretch of an outline, and least side of a place, that are told, % of the figure height;
#: chosen by eye.
_STRETCH, PLACE = 1.0, 1.2

Side = Literal["left", "right"]
#: Left, top, right and bottom.
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Stretch:
    """A stretch of an outline that differs, (n,) px: its rows, its own edge, the flipped one."""

    side: Side
    y: Floats
    here: Floats
    flipped: Floats

    @property
    def most(self) -> float:
        """The largest difference, px."""
        return float(np.abs(self.here - self.flipped).max())


@dataclass(frozen=True)
class FlippedEdges:
    """Two outlines on the same rows, the second flipped; px of the first drawing.

    Attributes
    ----------
    y, here, flipped
        (R,) rows, and (2, R) left and right edges; NaN where there is no figure.
    matrix
        Where the second drawing's px go.
    height
        Of the figure.
    """

    y: Floats
    here: Floats
    flipped: Floats
    matrix: Matrix
    height: float

    @classmethod
    def of(cls, measured: Measurement, v: int, w: int) -> FlippedEdges | None:
        """Return the edges of two drawings, None where one shows no figure."""
        scales = measured.trusted_scales
        height = measured.figure_height * scales[v].scale
        times = scales[v].scale / scales[w].scale
        seen = [measured.features[one] for one in (v, w)]
        rows = [np.flatnonzero(np.isfinite(one.left)) for one in seen]
        if not all(map(len, rows)):
            return None
        down = scales[v].ground - times * scales[w].ground
        tops = rows[0][0], times * rows[1][0] + down
        ends = rows[0][-1], times * rows[1][-1] + down
        y = np.arange(min(tops), max(ends) + 1.0, max(height / _ROWS, 1.0))
        here = np.stack([_at(seen[0].left, y), _at(seen[0].right, y)])
        there = (y - down) / times
        flipped = -times * np.stack([_at(seen[1].right, there), _at(seen[1].left, there)])
        both = np.isfinite(here + flipped).all(axis=0)
        if not both.any():
            return None
        across = float(np.median((here - flipped)[:, both].mean(axis=0)))
        return cls(y, here, flipped + across, (-times, 0.0, 0.0, times, across, down), height)

    def within(self, pct: float) -> bool:
        """Whether nearly all of both outlines lie so near to each other, % of the figure."""
        apart = np.abs(self.here - self.flipped)
        some = np.isfinite(self.here).any(axis=0) | np.isfinite(self.flipped).any(axis=0)
        near = apart[:, some] <= max(pct / 100.0 * self.height, 1.0)
        return bool(near.mean() >= _NEARLY_ALL / 100.0)

    def stretches(self) -> Iterator[Stretch]:
        """Yield where they differ."""
        sides: tuple[Side, Side] = ("left", "right")
        for edge, side in enumerate(sides):
            apart = np.abs(self.here[edge] - self.flipped[edge])
            off = np.nan_to_num(apart) > DIFFERS / 100.0 * self.height
            for run in np.split(np.arange(len(off)), np.flatnonzero(np.diff(off)) + 1):
                long = self.y[run[-1]] - self.y[run[0]]
                if off[run[0]] and long >= _STRETCH / 100.0 * self.height:
                    here, flipped = self.here[edge, run], self.flipped[edge, run]
                    yield Stretch(side, self.y[run], here, flipped)


def _at(edge: Floats, y: Floats) -> Floats:
    """Return an edge in picture rows, NaN outside the picture."""
    row = np.rint(y).astype(np.intp)
    inside = (row >= 0) & (row < len(edge))
    return np.where(inside, edge[np.clip(row, 0, len(edge) - 1)], np.nan)


@dataclass(frozen=True)
class Within:
    """What is drawn within both outlines, in cells.

    Attributes
    ----------
    both, only
        (h, w) where either drawing is drawn on, and where only one is.
    corner, unit
        Where the first cell's centre lies, and the side of a cell, px of the first drawing.
    """

    both: Bools
    only: Bools
    corner: Spot
    unit: float

    @property
    def is_alike(self) -> bool:
        """Whether nearly all that is drawn is drawn in both."""
        least = _NEARLY_ALL_DRAWN / 100.0 * self.both.sum()
        return bool(self.both.sum() - self.only.sum() >= least)

    def places(self, least: float) -> Iterator[Box]:
        """Yield boxes around what only one has, none with both sides below `least` px."""
        joined = cv2.dilate(self.only.astype(np.uint8), np.ones((3, 3), np.uint8))
        _, _, stats, _ = cv2.connectedComponentsWithStats(joined)
        for x, y, wide, high, _ in stats[1:].tolist():
            if max(wide, high) - 2 >= least / self.unit:
                left = self.corner[0] + (x - 0.5) * self.unit
                top = self.corner[1] + (y - 0.5) * self.unit
                yield left, top, left + wide * self.unit, top + high * self.unit


def within_both(measured: Measurement, v: int, w: int, edges: FlippedEdges) -> Within:
    """Return what is drawn within two drawings; as far as what is told is taken for the same."""
    unit = DIFFERS / 100.0 * edges.height / 2.0
    corner = float(np.nanmin([edges.here, edges.flipped])), float(edges.y[0])
    far = float(np.nanmax([edges.here, edges.flipped])), float(edges.y[-1])
    width, height = (math.ceil((b - a) / unit) + 1 for a, b in zip(corner, far, strict=True))
    inside = _inside(edges, corner, unit, (width, height))
    near = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    drawn, around = [], []
    for view, (a, _, _, d, e, f) in ((v, NOWHERE), (w, edges.matrix)):
        detail = measured.features[view].detail
        rows, columns = np.nonzero(detail.drawn)
        x, y = detail.x + columns * detail.cell, detail.y + rows * detail.cell
        spots = np.stack([a * x + e, d * y + f], axis=1)
        cells = np.rint((spots - corner) / unit).astype(np.intp)
        cells = cells[((cells >= 0) & (cells < (width, height))).all(axis=1)]
        one = np.zeros((height, width), np.uint8)
        one[cells[:, 1], cells[:, 0]] = 1
        drawn.append(one > 0)
        around.append(cv2.dilate(one, near) > 0)
    only = (drawn[0] & ~around[1]) | (drawn[1] & ~around[0])
    return Within((drawn[0] | drawn[1]) & inside, only & inside, corner, unit)


def _inside(edges: FlippedEdges, corner: Spot, unit: float, size: tuple[int, int]) -> Bools:
    """Return the cells that lie well within both outlines."""
    y = corner[1] + unit * np.arange(size[1])
    row = np.clip(np.searchsorted(edges.y, y), 0, len(edges.y) - 1)
    first = np.maximum(edges.here[0], edges.flipped[0])[row] + 2.0 * unit
    last = np.minimum(edges.here[1], edges.flipped[1])[row] - 2.0 * unit
    x = corner[0] + unit * np.arange(size[0])
    return np.asarray((x > first[:, None]) & (x < last[:, None]))

"""Drawings that may be each other's mirror image, and what differs when one is flipped.

Frame: px of the drawing that the other is flipped onto, x to the right, y down.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import cv2
import numpy as np

from turncheck.geometry.measurement import Measurement
from turncheck.handover.ghost import Matrix, Spot, applied, shifted
from turncheck.images.flat_colours import Fill
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Bools, Floats

#: Degrees within which two yaws are each other's mirror image, or opposite; common practice, no
#: source.
YAW_WITHIN = 1.0
#: What differs by more than this once flipped is told, % of the figure height; common practice, no
#: source.
DIFFERS = 1.0
#: Drawings are the same line for line, or alike enough to be taken for flips of each other, where
#: nearly all of their outlines lie this near, % of the figure height, and nearly all that is drawn
#: within them is drawn in both, %; common practice, no source.
EXACT, ALIKE = 0.15, 0.4
_NEARLY_ALL, _NEARLY_ALL_DRAWN = 98.0, 90.0
#: Rows that are compared, a figure height.
_ROWS = 500
#: Shortest stretch of an outline, and least side of a place, that are told, % of the figure height;
#: chosen by eye.
_STRETCH, _PLACE = 1.0, 1.2
#: A colour that only one has is told from this share of its flat area on; common practice, no
#: source.
_SHARE = 0.01

Why = Literal["named", "yaw", "alike"]
#: Left, top, right and bottom.
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class OneSided:
    """A point that belongs to one side of the body.

    Attributes
    ----------
    here, flipped
        Where it lies, and where the flipped drawing has it; None where it is not placed.
    """

    name: str
    here: Spot | None
    flipped: Spot | None

    @property
    def apart(self) -> float:
        """How far the two are apart, px; NaN where one is not placed."""
        return math.dist(self.here, self.flipped) if self.here and self.flipped else math.nan


@dataclass(frozen=True)
class Stretch:
    """A stretch of an outline that differs, (n,) px: its rows, its own edge, the flipped one."""

    side: Literal["left", "right"]
    y: Floats
    here: Floats
    flipped: Floats

    @property
    def most(self) -> float:
        """The largest difference, px."""
        return float(np.abs(self.here - self.flipped).max())


@dataclass(frozen=True)
class Flip:
    """Two drawings, of which the second is flipped onto the first.

    Attributes
    ----------
    why
        What says that they may be each other's mirror image: the sheet, their yaws, their outlines.
    exact
        Whether they are line for line.
    matrix
        Where the second's px go.
    height
        Of the figure, px.
    points
        Those of one side that are placed in either.
    outline, places, fills
        What else differs: stretches of the outline; boxes within which only one is drawn on, left,
        top, right and bottom; colours that only one has, and whether that is the first.
    """

    view: str
    other: str
    why: Why
    exact: bool
    matrix: Matrix
    height: float
    points: tuple[OneSided, ...]
    outline: tuple[Stretch, ...]
    places: tuple[Box, ...]
    fills: tuple[tuple[Fill, bool], ...]

    def changed_sides(self, point: OneSided) -> bool:
        """Whether a point of one side lies in both drawings where a flip puts it."""
        return point.apart <= DIFFERS / 100.0 * self.height

    @property
    def differs(self) -> bool:
        """Whether a flip changes anything that is told."""
        apart = any(not self.changed_sides(point) for point in self.points)
        return apart or bool(self.outline or self.places or self.fills)


def find_flips(measured: Measurement) -> list[Flip]:
    """Return the drawings that may be each other's mirror image, compared."""
    found = []
    for v, w in combinations(range(len(measured.views)), 2):
        edges = _Edges.of(measured, v, w)
        why = _why(measured, v, w, edges)
        if why and edges is not None:
            found.append(_compared(measured, v, w, why, edges))
    return found


def _why(measured: Measurement, v: int, w: int, edges: _Edges | None) -> Why | None:
    views = list(measured.sheet.views.values())
    one, other = views[v], views[w]
    if one.flip_of == other.name or other.flip_of == one.name:
        return "named"
    if {one.name, other.name} & {*measured.sheet.straight_on}:
        return None  # each is its own mirror image, and front and back are each other's outline
    if abs(wrapped(one.yaw + other.yaw)) < YAW_WITHIN:
        return "yaw"
    opposite = abs(wrapped(one.yaw - other.yaw - 180.0)) < YAW_WITHIN
    if edges is None or opposite or not edges.within(ALIKE):
        return None
    itself = _Edges.of(measured, v, v)
    if itself is not None and itself.within(ALIKE):
        return None  # its own mirror image, so that being alike tells nothing
    return "alike" if _within(measured, v, w, edges).is_alike else None


@dataclass(frozen=True)
class _Edges:
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
    def of(cls, measured: Measurement, v: int, w: int) -> _Edges | None:
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
        most = np.percentile(np.nan_to_num(apart[:, some], nan=np.inf), _NEARLY_ALL)
        return bool(most <= max(pct / 100.0 * self.height, 1.0))

    def stretches(self) -> Iterator[Stretch]:
        """Yield where they differ."""
        for edge, side in enumerate(("left", "right")):
            apart = np.abs(self.here[edge] - self.flipped[edge])
            off = np.nan_to_num(apart) > DIFFERS / 100.0 * self.height
            for run in np.split(np.arange(len(off)), np.flatnonzero(np.diff(off)) + 1):
                long = self.y[run[-1]] - self.y[run[0]]
                if off[run[0]] and long >= _STRETCH / 100.0 * self.height:
                    here, flipped = self.here[edge, run], self.flipped[edge, run]
                    yield Stretch("left" if side == "left" else "right", self.y[run], here, flipped)


def _at(edge: Floats, y: Floats) -> Floats:
    """Return an edge in picture rows, NaN outside the picture."""
    row = np.rint(y).astype(np.intp)
    inside = (row >= 0) & (row < len(edge))
    return np.where(inside, edge[np.clip(row, 0, len(edge) - 1)], np.nan)


def _compared(measured: Measurement, v: int, w: int, why: Why, edges: _Edges) -> Flip:
    within = _within(measured, v, w, edges)
    places = tuple(within.places(_PLACE / 100.0 * edges.height))
    return Flip(
        view=measured.views[v],
        other=measured.views[w],
        why=why,
        exact=edges.within(EXACT) and not places,
        matrix=edges.matrix,
        height=edges.height,
        points=tuple(_one_sided(measured, v, w, edges)),
        outline=tuple(edges.stretches()),
        places=places,
        fills=tuple(_fills(measured, v, w)),
    )


def _one_sided(measured: Measurement, v: int, w: int, edges: _Edges) -> Iterator[OneSided]:
    """Yield the points that sit on one side, as far as drawings from straight ahead tell."""
    marks = measured.sheet.vocabulary.landmarks
    for n, name in enumerate(measured.landmarks):
        if marks[name].symmetric or marks[name].twin or _is_in_the_middle(measured, n):
            continue
        here, there = (_placed(measured, view, n) for view in (v, w))
        if here or there:
            yield OneSided(name, here, applied(edges.matrix, there) if there else None)


def _is_in_the_middle(measured: Measurement, n: int) -> bool:
    """Whether a point is known to lie on the body's midline."""
    for v in measured.straight_on:
        spot, axis = _placed(measured, v, n), measured.turn.axis[v]
        if spot and np.isfinite(axis):
            aside = abs(spot[0] - axis) / measured.size(v)
            return bool(aside < DIFFERS / 100.0 * measured.figure_height)
    return False


def _placed(measured: Measurement, v: int, n: int) -> Spot | None:
    x, y = float(measured.x[v, n]), float(measured.y[v, n])
    return (x, y) if math.isfinite(x + y) else None


@dataclass(frozen=True)
class _Within:
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


def _within(measured: Measurement, v: int, w: int, edges: _Edges) -> _Within:
    """Return what is drawn within two drawings; as far as what is told is taken for the same."""
    unit = DIFFERS / 100.0 * edges.height / 2.0
    corner = float(np.nanmin([edges.here, edges.flipped])), float(edges.y[0])
    far = float(np.nanmax([edges.here, edges.flipped])), float(edges.y[-1])
    width, height = (math.ceil((b - a) / unit) + 1 for a, b in zip(corner, far, strict=True))
    inside = _inside(edges, corner, unit, (width, height))
    near = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    drawn, around = [], []
    for view, (a, _, _, d, e, f) in ((v, shifted(0.0, 0.0)), (w, edges.matrix)):
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
    return _Within((drawn[0] | drawn[1]) & inside, only & inside, corner, unit)


def _inside(edges: _Edges, corner: Spot, unit: float, size: tuple[int, int]) -> Bools:
    """Return the cells that lie well within both outlines."""
    y = corner[1] + unit * np.arange(size[1])
    row = np.clip(np.searchsorted(edges.y, y), 0, len(edges.y) - 1)
    first = np.maximum(edges.here[0], edges.flipped[0])[row] + 2.0 * unit
    last = np.minimum(edges.here[1], edges.flipped[1])[row] - 2.0 * unit
    x = corner[0] + unit * np.arange(size[0])
    return np.asarray((x > first[:, None]) & (x < last[:, None]))


def _fills(measured: Measurement, v: int, w: int) -> Iterator[tuple[Fill, bool]]:
    """Yield the colours that one of two drawings has and the other has not."""
    for paint in measured.paints:
        here, there = paint.fills[v], paint.fills[w]
        only = here or there
        if only is not None and (here is None or there is None) and only.share >= _SHARE:
            yield only, here is not None

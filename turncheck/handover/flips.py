"""Drawings that may be each other's mirror image, and what differs when one is flipped.

Frame: px of the drawing that the other is flipped onto, x to the right, y down.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from turncheck.geometry.measurement import Measurement
from turncheck.handover.flipped import (
    DIFFERS,
    PLACE,
    Box,
    FlippedEdges,
    Stretch,
    Within,
    within_both,
)
from turncheck.handover.matrices import Matrix, Spot, applied
from turncheck.images.flat_colours import Fill
from turncheck.numerics.angles import wrapped

#: Degrees within which two yaws are each other's mirror image, or opposite; common practice, no
#: source.
YAW_WITHIN = 1.0
#: Drawings are the same line for line, or alike enough to be taken for flips of each other, where
#: nearly all of their outlines lie this near, % of the figure height; common practice, no source.
EXACT, ALIKE = 0.15, 0.4
#: A colour that only one has is told from this share of its flat area on; common practice, no
#: source.
_SHARE = 0.01

Why = Literal["named", "yaw", "alike"]


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
        edges = FlippedEdges.of(measured, v, w)
        why = _why(measured, v, w, edges)
        if why and edges is not None:
            within = within_both(measured, v, w, edges)
            if why != "alike" or within.is_alike:
                found.append(_compared(measured, v, w, why, edges, within))
    return found


def are_mirrored(yaw: float, other: float) -> bool:
    """Whether drawings at two yaws, degrees, are meant as each other's mirror image."""
    return abs(wrapped(yaw + other)) < YAW_WITHIN


def are_opposite(yaw: float, other: float) -> bool:
    """Whether drawings at two yaws, degrees, look from opposite sides."""
    return abs(wrapped(yaw - other - 180.0)) < YAW_WITHIN


def _why(measured: Measurement, v: int, w: int, edges: FlippedEdges | None) -> Why | None:
    views = list(measured.sheet.views.values())
    one, other = views[v], views[w]
    if one.flip_of == other.name or other.flip_of == one.name:
        return "named"
    if {one.name, other.name} & {*measured.sheet.straight_on}:
        return None  # each is its own mirror image, and front and back are each other's outline
    if are_mirrored(one.yaw, other.yaw):
        return "yaw"
    if edges is None or are_opposite(one.yaw, other.yaw) or not edges.within(ALIKE):
        return None
    itself = FlippedEdges.of(measured, v, v)
    if itself is not None and itself.within(ALIKE):
        return None  # its own mirror image, so that being alike tells nothing
    return "alike"  # in outline


def _compared(
    measured: Measurement, v: int, w: int, why: Why, edges: FlippedEdges, within: Within
) -> Flip:
    places = tuple(within.places(PLACE / 100.0 * edges.height))
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


def _one_sided(measured: Measurement, v: int, w: int, edges: FlippedEdges) -> Iterator[OneSided]:
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


def _fills(measured: Measurement, v: int, w: int) -> Iterator[tuple[Fill, bool]]:
    """Yield the colours that one of two drawings has and the other has not."""
    for paint in measured.paints:
        here, there = paint.fills[v], paint.fills[w]
        only = here or there
        if only is not None and (here is None or there is None) and only.share >= _SHARE:
            yield only, here is not None

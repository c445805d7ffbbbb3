"""The angle not drawn yet: where every point falls at it, and what its outline can be."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from turncheck.errors import TurncheckError
from turncheck.geometry.angle import Spots, spots_at
from turncheck.geometry.body import Body
from turncheck.geometry.measurement import Measurement, outlines_of
from turncheck.geometry.outlines.between import Between, outline_between
from turncheck.geometry.outlines.extents import Outline
from turncheck.geometry.turn.observability import YAW_SAME_LINE, line_gap
from turncheck.handover.pivot_places import side_of
from turncheck.numerics.arrays import Bools, Floats
from turncheck.plain import listed, spoken

#: A canvas leaves so much beside the widest drawing, as a share of it; common practice, no source.
_ROOM = 1.15
#: Fewer points known at an angle make no guide; common practice, no source.
POINTS_LEAST = 3
#: Points that a refusal names at most; common practice, no source.
_NAMED_MOST = 6


def name_at(yaw: float) -> str:
    """Return what the files of an angle, degrees, are called.

    >>> name_at(-22.5)
    'yaw_-22.5'
    """
    return f"yaw_{yaw:g}"


@dataclass(frozen=True)
class Canvas:
    """What an angle is drawn on: as large as in the base drawing, y down.

    Attributes
    ----------
    yaw
        Degrees.
    width, height
        px.
    ground, axis
        Row of the ground line and column of the turning axis, px.
    """

    yaw: float
    width: int
    height: int
    ground: float
    axis: float


@dataclass(frozen=True)
class Angle:
    """A character at an angle that is not drawn, px of its canvas.

    Attributes
    ----------
    landmarks, spots
        Names, and where they fall on the body.
    sides
        (N,) 'near', 'far' or 'middle'.
    outline
        Row by row of the canvas, from the turning axis; all NaN where the drawings bound none.
    """

    canvas: Canvas
    landmarks: tuple[str, ...]
    spots: Spots
    sides: tuple[str, ...]
    outline: Between

    @property
    def x(self) -> Floats:
        """(N,) where the landmarks fall sideways."""
        return self.canvas.axis + self.spots.across

    @property
    def y(self) -> Floats:
        """(N,) where they fall down the canvas."""
        return self.canvas.ground - self.spots.up

    @property
    def rows(self) -> Floats:
        """(rows, 7) y, widest, best and narrowest left, narrowest, best and widest right.

        The narrowest are NaN where nothing holds the figure open.
        """
        return outline_rows(self.outline, self.canvas.ground, self.canvas.axis)


def outline_rows(found: Between, ground: float, axis: float, scale: float = 1.0) -> Floats:
    """Return an outline as `Angle.rows` has it, where a figure stands and how large it is told."""
    each = [found.widest, found.best, found.narrowest]
    lefts = [axis - scale * one[0] for one in each]
    rights = [axis + scale * one[1] for one in reversed(each)]
    rows = np.stack([ground - scale * found.heights, *lefts, *rights], axis=1)
    return np.asarray(rows[np.isfinite(rows[:, [1, 2, 5, 6]]).all(axis=1)])


def angle_at(measured: Measurement, body: Body, yaw: float) -> Angle:
    """Return what the drawings of a sheet say of a yaw, degrees in (-180, 180].

    Raises
    ------
    TurncheckError
        If next to nothing is known at it, naming the points to place.
    """
    outlines = outlines_of(measured)
    canvas = _canvas(measured, outlines, yaw)
    spots = spots_at(measured, body, canvas.yaw)
    if spots.known.sum() < POINTS_LEAST:
        raise TurncheckError(f"too few points are known at {yaw:g} degrees; {_mend(measured)}")
    heights = canvas.ground - np.arange(canvas.height, dtype=float)
    return Angle(
        canvas=canvas,
        landmarks=body.landmarks,
        spots=spots,
        sides=tuple(
            side_of(measured, i, canvas.yaw, spots.depth) for i in range(len(body.landmarks))
        ),
        outline=outline_between(
            outlines, canvas.yaw, heights, symmetric_at(measured, heights), measured.figure_height
        ),
    )


def symmetric_at(measured: Measurement, heights: Floats) -> Bools:
    """Return (R,) where the body may be taken as mirror symmetric, by height above the ground."""
    compared = measured.outlines
    if not len(compared.heights):
        return np.zeros(len(heights), bool)
    at = np.clip(np.searchsorted(compared.heights, heights), 0, len(compared.heights) - 1)
    return np.asarray(compared.symmetric[at])


def _canvas(measured: Measurement, outlines: list[Outline], yaw: float) -> Canvas:
    """Return a canvas that is the same at every yaw: the base drawing's, wider where need be."""
    picture = measured.sheet.views[measured.sheet.base].picture
    axis = float(measured.turn.axis[measured.base])
    ground = float(measured.trusted_scales[measured.base].ground)
    reach = 0.0
    for one in outlines:
        if math.isfinite(one.axis) and np.isfinite(one.left).any():
            far = max(one.axis - np.nanmin(one.left), np.nanmax(one.right) - one.axis)
            reach = max(reach, _ROOM * float(far) / one.scale)
    left = math.ceil(max(reach - axis, 0.0))
    right = math.ceil(max(axis + reach - picture.width + 1, 0.0))
    return Canvas(yaw, left + picture.width + right, picture.height, ground, left + axis)


def refuse_unturnable(measured: Measurement) -> None:
    """Refuse a sheet whose body can't be turned.

    Raises
    ------
    TurncheckError
        Saying why, and which drawing or points would mend it.
    """
    if measured.camera.looks:
        raise TurncheckError(
            f"{measured.camera.looks}; only a character drawn level can be turned: "
            "draw it without looking down or up on it"
        )
    if not measured.turn:
        raise TurncheckError(f"the turn is not solved: {measured.turn.refusal}; {_mend(measured)}")


def _mend(measured: Measurement) -> str:
    """Return what to place, or to draw, so that depth is known."""
    base = measured.base
    yaws = np.array([view.yaw for view in measured.sheet.views.values()])
    aside = np.flatnonzero(line_gap(yaws, yaws[base]) > YAW_SAME_LINE)
    if not len(aside):
        return "add a three-quarter or side drawing and place its points"
    placed = np.isfinite(measured.x)
    v = max(aside.tolist(), key=lambda v: int((placed[v] & placed[base]).sum()))
    marks = measured.sheet.vocabulary.landmarks
    missing = [
        marks[name].title
        for i, name in enumerate(measured.landmarks)
        if not placed[v, i] and placed[base, i] and not marks[name].slides
    ]
    if not missing:
        return "add another drawing, three-quarter or side, and place its points"
    return f"place on {spoken(measured.views[v])}: {listed(missing[:_NAMED_MOST])}"

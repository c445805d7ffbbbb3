"""The outline that the other drawings give a drawing: mirrored, or what they bound together.

Frame: px of the drawing, x to the right, y down, once it is as large and stands as it should.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from turncheck.geometry.measurement import outlines_of
from turncheck.geometry.outlines.between import BOUNDS_CLOSE, outline_between
from turncheck.handover.angle import Canvas, outline_rows, symmetric_at
from turncheck.handover.flips import are_mirrored, are_opposite
from turncheck.handover.guides_shapes import BEST, FINE, Shape, bounds
from turncheck.handover.matrices import Matrix, applied
from turncheck.instructions.result import Result
from turncheck.numerics.arrays import Floats
from turncheck.plain import spoken

#: Lines of a figure's border that are shown, the longest; chosen by eye.
_LINES = 12
#: An outline that is known for fewer rows is not shown, share of the figure height; chosen by eye.
_RUN = 0.04


def outline_for(checked: Result, view: str, whole: Matrix) -> Iterator[Shape]:
    """Yield the outline that a drawing should have, as far as the others tell.

    That of a drawing from the opposite side, or of its mirror image, if nothing is to be redrawn
    in it; else where all the others together allow next to no other at this angle. Nothing where
    the drawings look seen from above or below: opposite sides then have two outlines.

    Parameters
    ----------
    whole
        Where all of the drawing goes.
    """
    measured = checked.measured
    if measured.camera.looks:
        return
    v = measured.views.index(view)
    canvas, scale = _stands(checked, v, whole)
    tall = measured.figure_height * scale
    if (other := _mirrored_from(checked, v)) is not None:
        name = spoken(measured.views[other])
        for line in measured.features[other].contours[:_LINES]:
            there = _mirrored(checked, other, line.astype(float), canvas, scale)
            says = f"outline of the {name} drawing, mirrored"
            closed = np.concatenate([there, there[:1]])
            yield Shape("line", closed, BEST, 0.9, 1.5 * FINE * tall, says)
        return
    if not np.isfinite(canvas.axis):
        return
    others = [one for w, one in enumerate(outlines_of(measured)) if w != v]
    heights = (canvas.ground - np.arange(canvas.height, dtype=float)) / scale
    symmetric = symmetric_at(measured, heights)
    found = outline_between(others, canvas.yaw, heights, symmetric, measured.figure_height)
    rows = outline_rows(found, canvas.ground, canvas.axis, scale)
    sides = rows[:, 3] - rows[:, 1], rows[:, 6] - rows[:, 4]
    known = (np.maximum(*sides) < BOUNDS_CLOSE / 100.0 * tall) & np.isfinite(rows).all(axis=1)
    for run in np.split(rows, np.flatnonzero(np.diff(known)) + 1):
        if known[int(run[0, 0] - rows[0, 0])] and len(run) > _RUN * tall:
            yield from bounds(run, tall)


def _stands(checked: Result, v: int, whole: Matrix) -> tuple[Canvas, float]:
    """Return a drawing's canvas once it is put right, and its px for one of the base drawing."""
    measured = checked.measured
    view = checked.sheet.views[measured.views[v]]
    scale = measured.trusted_scales[v]
    axis, _ = applied(whole, (_axis(checked, v), 0.0))
    _, ground = applied(whole, (0.0, scale.ground))
    canvas = Canvas(view.yaw, view.picture.width, view.picture.height, ground, axis)
    return canvas, scale.scale * abs(whole[3])


def _axis(checked: Result, v: int) -> float:
    """Return the column of the turning axis, or the middle of the figure where that is unknown."""
    measured = checked.measured
    if np.isfinite(measured.turn.axis[v]):
        return float(measured.turn.axis[v])
    box = measured.features[v].box
    return (box[0] + box[2]) / 2.0 if box else np.nan


def _mirrored_from(checked: Result, v: int) -> int | None:
    """Return a drawing with nothing to redraw whose outline, mirrored, is another's."""
    measured, views = checked.measured, list(checked.sheet.views.values())
    to_redraw = {view for task in checked.instructions for view in task.views}
    yaw, symmetric = views[v].yaw, checked.sheet.symmetric
    found = [
        w
        for w, other in enumerate(views)
        if w != v
        and other.name not in to_redraw
        and measured.features[w].contours
        and (are_opposite(other.yaw, yaw) or (symmetric and are_mirrored(other.yaw, yaw)))
    ]
    return min(found, key=lambda w: w != measured.base, default=None)


def _mirrored(checked: Result, w: int, line: Floats, canvas: Canvas, scale: float) -> Floats:
    """Return where a line of another drawing falls as in a mirror, (n, 2)."""
    own = checked.measured.trusted_scales[w]
    across = (line[:, 0] - _axis(checked, w)) / own.scale
    up = (own.ground - line[:, 1]) / own.scale
    return np.stack([canvas.axis - scale * across, canvas.ground - scale * up], axis=1)

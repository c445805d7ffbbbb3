"""The drawing that an under-drawing is made of: the nearest, on the angle's canvas."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from turncheck.geometry.measurement import Measurement
from turncheck.handover.angle import Canvas
from turncheck.images.figure_mask import figure_mask, mask_from
from turncheck.images.picture_file import decode
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Bytes, Floats

#: A drawing further off than this, degrees, shows too little of what is seen; common practice, no
#: source.
CARRIED_WITHIN = 60.0
#: A mirror image, whose badges and bags are on the wrong side, must look from nearer by as much,
#: degrees; common practice, no source.
FLIPPED_COSTS = 10.0


@dataclass(frozen=True)
class Source:
    """A drawing that may be carried: its row, whether as its mirror image, and its yaw, degrees."""

    view: int
    flipped: bool
    yaw: float


def sources_of(measured: Measurement) -> list[Source]:
    """Return the drawings of which it is known from where they look."""
    known = measured.turn.yaw_solved
    return [
        Source(v, False, yaw)
        for v, yaw in enumerate(measured.turn.yaw.tolist())
        if (known[v] or v == measured.base) and measured.features[v].found_by != "nothing"
    ]


def nearest_of(sources: Sequence[Source], yaw: float, *, flips: bool) -> Source | None:
    """Return the drawing that looks from nearest by, if need be as its mirror image."""
    mirrored = [replace(one, flipped=True, yaw=-one.yaw) for one in sources if flips]

    def gap(one: Source) -> float:
        return abs(wrapped(one.yaw - yaw)) + FLIPPED_COSTS * one.flipped

    near = min([*sources, *mirrored], key=gap, default=None)
    return near if near and gap(near) <= CARRIED_WITHIN else None


def picture_of(measured: Measurement, canvas: Canvas, source: Source) -> Bytes:
    """Return a drawing's figure on the canvas, (H, W, 4) RGBA, clear around it."""
    matrix = placing_of(measured, canvas, source)
    size = canvas.width, canvas.height
    figure = figure_of(measured, source.view)
    return np.asarray(cv2.warpAffine(figure, matrix, size, flags=cv2.INTER_AREA), np.uint8)


def figure_of(measured: Measurement, v: int) -> Bytes:
    """Return a drawing's figure, (H, W, 4) RGBA, clear around it.

    Raises
    ------
    TurncheckError
        If the drawing's file has gone or is broken.
    """
    view = measured.sheet.views[measured.views[v]]
    pixels = decode(view.picture)
    mask = (
        mask_from(decode(view.figure), pixels.shape[:2], str(view.figure.path))
        if view.figure
        else figure_mask(pixels)
    )
    alpha = pixels[..., 3] if mask.found_by == "alpha" else np.uint8(255) * mask.pixels
    return np.dstack([pixels[..., 2::-1], alpha])


def placing_of(measured: Measurement, canvas: Canvas, source: Source) -> Floats:
    """Return (2, 3) what takes a drawing's px to the canvas's."""
    scale, axis = measured.trusted_scales[source.view], measured.turn.axis[source.view]
    up = 1.0 / scale.scale
    across = -up if source.flipped else up
    return np.array(
        [
            [across, 0.0, canvas.axis - across * axis],
            [0.0, up, canvas.ground - up * scale.ground],
        ]
    )

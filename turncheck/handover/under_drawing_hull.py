"""What can be seen at an angle: no drawing shows it to be empty."""

from __future__ import annotations

import math
from collections.abc import Sequence

import cv2
import numpy as np

from turncheck.geometry.measurement import Measurement
from turncheck.handover.angle import Canvas
from turncheck.handover.under_drawing_sources import Source, placing_of
from turncheck.numerics.arrays import Bools, Bytes

#: A pixel of the canvas on which this is reckoned, share of the figure height; chosen by eye.
_PIXEL = 0.003


def allowed_at(measured: Measurement, canvas: Canvas, sources: Sequence[Source]) -> Bools:
    """Return (H, W) where something can be seen that no drawing shows to be empty.

    At each depth t along the line of sight a place x of the canvas lies at x cos(g) - t sin(g) of
    a drawing that looks from g further round; it is empty where any drawing is.
    """
    small = max(_PIXEL * measured.figure_height, 1.0)
    size = math.ceil(canvas.width / small), math.ceil(canvas.height / small)
    filled = [_filled(measured, canvas, one, small, size) for one in sources]
    axis = canvas.axis / small
    reach = math.ceil(max(axis, size[0] - axis))
    some = np.zeros(size[::-1], np.uint8)
    for depth in range(-reach, reach + 1):
        here = np.full(size[::-1], 255, np.uint8)
        for one, mask in zip(sources, filled, strict=True):
            turn = np.radians(one.yaw - canvas.yaw)
            along, shift = np.cos(turn), depth * np.sin(turn)
            to = np.array([[along, 0.0, axis - axis * along - shift], [0.0, 1.0, 0.0]])
            flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
            here = np.minimum(here, cv2.warpAffine(mask, to, size, flags=flags))
        some = np.maximum(some, here)
    whole = cv2.resize(some, (canvas.width, canvas.height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(whole > 64)


def _filled(
    measured: Measurement, canvas: Canvas, source: Source, small: float, size: tuple[int, int]
) -> Bytes:
    """Return the figure of a drawing on a smaller canvas, a pixel wider and two higher around."""
    matrix = placing_of(measured, canvas, source) / small
    lines = [
        np.rint(line @ matrix[:, :2].T + matrix[:, 2]).astype(np.int32)
        for line in measured.features[source.view].contours
    ]
    mask = np.zeros(size[::-1], np.uint8)
    cv2.fillPoly(mask, lines, 255)  # even-odd, so gaps stay empty
    return np.asarray(cv2.dilate(mask, np.ones((5, 3), np.uint8)), np.uint8)

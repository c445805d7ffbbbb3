"""The under-drawing of an angle: the nearest drawing, bent into the outline and points of it.

The drawing that looks from nearest by, or its mirror image where the body is symmetric, is put on
the angle's canvas. Its points go to where the angle has them, its edges to the best guess of the
outline, smoothed along the height, and all between goes along with what is near; pieces that stand
apart keep their thickness, and the gaps between them close instead. What some drawing shows to be
empty stays empty, and what none shows is left plain.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import cv2
import numpy as np

from turncheck.geometry.measurement import Measurement
from turncheck.handover.angle import Angle, Canvas
from turncheck.handover.guides_shapes import joined
from turncheck.handover.under_drawing_bend import Pulls, bent
from turncheck.handover.under_drawing_sources import (
    Source,
    nearest_of,
    picture_of,
    placing_of,
    sources_of,
)
from turncheck.numerics.arrays import Bools, Bytes, Floats
from turncheck.sheet.vocabulary import Vocabulary

#: Points along a limb are this far apart, share of the figure height; chosen by eye.
_ALONG = 0.01
#: A pixel of the canvas that what can be seen is reckoned on, share of the figure height; chosen by
#: eye.
_PIXEL = 0.003


def under_drawing(measured: Measurement, angle: Angle) -> Bytes:
    """Return the nearest drawing bent to an angle, (H, W, 4) RGBA; clear where none is near."""
    canvas, sources = angle.canvas, sources_of(measured)
    nearest = nearest_of(sources, canvas.yaw, flips=measured.sheet.symmetric)
    if nearest is None or not np.isfinite(angle.outline.best).any():
        return np.zeros((canvas.height, canvas.width, 4), np.uint8)
    picture = picture_of(measured, canvas, nearest)
    found = bent(picture, angle, _pulls(measured, angle, nearest), measured.figure_height)
    found[~_allowed_at(measured, canvas, sources)] = 0
    return found


def _pulls(measured: Measurement, angle: Angle, source: Source) -> Pulls:
    """Return (n, 2) where points are drawn, and where they go; also points along the limbs.

    What is hidden in the drawing bends nothing, nor do pivots deep in the trunk: what is drawn
    over those lies nearer.
    """
    vocabulary, v = measured.sheet.vocabulary, source.view
    matrix = placing_of(measured, angle.canvas, source)
    drawn = np.stack([measured.x[v], measured.y[v]], axis=1) @ matrix[:, :2].T + matrix[:, 2]
    seen = np.isfinite(drawn).all(axis=1) & ~measured.hidden[v]
    spots: dict[str, tuple[Floats, Floats]] = {}
    for name, to in zip(angle.landmarks, range(len(angle.landmarks)), strict=True):
        mark = vocabulary.landmarks[name]
        twin = mark.twin if source.flipped and mark.twin else name
        at = measured.columns(twin)
        deep = mark.kind == "pivot" and not mark.twin
        if at and seen[at[0]] and angle.spots.known[to] and name != "ground" and not deep:
            y = angle.y[to] if mark.has_height else drawn[at[0], 1]
            spots[name] = drawn[at[0]], np.array([angle.x[to], y])
    along = _along(vocabulary, spots, _ALONG * measured.figure_height)
    pairs = [(*spots[name], _limb(vocabulary, name)) for name in spots] + along
    starts, ends = np.array([pair[:2] for pair in pairs], float).reshape(-1, 2, 2).swapaxes(0, 1)
    return Pulls(starts, ends, [limb for *_, limb in pairs])


def _limb(vocabulary: Vocabulary, name: str) -> str:
    """Return the limb that a point is of, '' of its first pivot, which lies in the trunk."""
    mark = vocabulary.landmarks[name]
    carrier = vocabulary.landmarks.get(mark.parent)
    first = mark.kind == "pivot" and (carrier is None or carrier.part != mark.part)
    return mark.part if mark.twin and not first else ""


def _along(
    vocabulary: Vocabulary, spots: Mapping[str, tuple[Floats, Floats]], step: float
) -> list[tuple[Floats, Floats, str]]:
    """Return points between those that a limb joins, where they are drawn and where they go."""
    found = []
    for a, b in joined(vocabulary):
        if {a, b} <= spots.keys():
            parts = int(np.hypot(*(spots[a][0] - spots[b][0])) / step)
            for share in np.arange(1, parts) / max(parts, 1):
                start, end = ((1 - share) * spots[a][k] + share * spots[b][k] for k in (0, 1))
                found.append((start, end, _limb(vocabulary, a)))
    return found


def _allowed_at(measured: Measurement, canvas: Canvas, sources: Sequence[Source]) -> Bools:
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

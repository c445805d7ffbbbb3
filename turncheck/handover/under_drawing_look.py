"""How an under-drawing looks: in faint colours, or as lines of a blue pencil."""

from __future__ import annotations

import math

import cv2
import numpy as np

from turncheck.handover.guides_shapes import lay_over
from turncheck.numerics.arrays import Bytes

#: How much of the colours is left, the pencil's ink and how much of that; chosen by eye.
FAINT, PENCIL, PENCILLED = 0.4, (58, 108, 168), 0.7
#: What lies over a drawing covers it so much that its lines stand out; chosen by eye.
WASHED = 0.55
#: A line is at most so wide, share of the figure height; chosen by eye.
_LINE = 0.006
#: Luma of red, green and blue (ITU-R BT.601, 2.5.1).
_LIGHT = np.array([0.299, 0.587, 0.114], np.float32)


def faint(picture: Bytes, share: float = FAINT) -> Bytes:
    """Return a picture, (H, W, 4) RGBA, of which so much is left."""
    alpha = np.rint(share * picture[..., 3:]).astype(np.uint8)
    return np.concatenate([picture[..., :3], alpha], axis=-1)


def pencilled(picture: Bytes, tall: float) -> Bytes:
    """Return the dark lines of a picture, (H, W, 4) RGBA, as a blue pencil draws them."""
    alpha = picture[..., 3:].astype(np.float32) / 255.0
    on_white = picture[..., :3] * alpha + 255.0 * (1.0 - alpha)
    light = np.rint(on_white @ _LIGHT).astype(np.uint8)
    size = 2 * math.ceil(_LINE * tall) + 1
    round_ = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    around = np.maximum(cv2.morphologyEx(light, cv2.MORPH_CLOSE, round_), 1).astype(np.float32)
    out = np.empty_like(picture)
    out[..., :3] = PENCIL
    out[..., 3] = np.rint(255.0 * PENCILLED * (1.0 - light / around))
    return out


def washed(picture: Bytes, figure: Bytes) -> Bytes:
    """Return a picture on a wash of paper where a figure is, both (H, W, 4) RGBA."""
    out = np.full_like(figure, 255)
    out[..., 3] = np.rint(WASHED * figure[..., 3])
    lay_over(out, picture[..., :3], picture[..., 3] / 255.0)
    return out

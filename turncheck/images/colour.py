"""Colours in words and numbers: names, hexadecimal, and the difference that an eye sees."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from collections.abc import Sequence

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

#: Names of hues by the angle in CIELAB up to which they reach, degrees; from memory of common
#: usage, no source.
_HUES = (
    (20.0, "pink"),
    (50.0, "red"),
    (75.0, "orange"),
    (110.0, "yellow"),
    (165.0, "green"),
    (225.0, "teal"),
    (300.0, "blue"),
    (335.0, "purple"),
    (360.0, "pink"),
)


def difference(one: Sequence[float], other: Sequence[float]) -> float:
    """Return the CIEDE2000 difference of two CIELAB colours (kL = kC = kH = 1).

    CIE 142:2001; Sharma, Wu and Dalal, Color Res. Appl. 30 (2005) 21-30.

    Examples
    --------
    >>> round(difference((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485)), 4)
    2.0425
    """
    return float(differences(np.asarray([one]), np.asarray([other]))[0, 0])


def differences(these: Floats, those: Floats) -> Floats:
    """Return (n, m) the CIEDE2000 differences of (n, 3) and (m, 3) CIELAB colours."""
    from skimage.color import deltaE_ciede2000

    left = np.asarray(these, dtype=np.float64)[:, None, :]
    right = np.asarray(those, dtype=np.float64)[None, :, :]
    return np.asarray(deltaE_ciede2000(left, right), dtype=np.float64)  # type: ignore[no-untyped-call]


def on_white(pixels: Bytes) -> Bytes:
    """Return (H, W, 3) BGR of a drawing, BGR or BGRA, laid on white.

    >>> on_white(np.array([[[0, 0, 0, 255], [0, 0, 0, 51]]], np.uint8)).tolist()
    [[[0, 0, 0], [204, 204, 204]]]
    """
    if pixels.shape[2] == 3 or int(pixels[:, :, 3].min()) == 255:
        return np.ascontiguousarray(pixels[:, :, :3])
    share = pixels[:, :, 3:].astype(np.float32) / 255.0
    laid = pixels[:, :, :3] * share + 255.0 * (1.0 - share)
    return np.asarray(np.round(laid), dtype=np.uint8)


def hexadecimal(lab: Sequence[float]) -> str:
    """Return '#rrggbb' (sRGB) of a CIELAB colour.

    >>> hexadecimal((53.24, 80.09, 67.20))
    '#ff0000'
    """
    page = np.asarray(lab, dtype=np.float32).reshape(1, 1, 3)
    red, green, blue = np.clip(cv2.cvtColor(page, cv2.COLOR_LAB2RGB)[0, 0], 0.0, 1.0) * 255.0
    return f"#{round(float(red)):02x}{round(float(green)):02x}{round(float(blue)):02x}"


def name_of(lab: Sequence[float]) -> str:
    """Return a plain name for a CIELAB colour, such as 'dark teal'.

    >>> [name_of(lab) for lab in ((100, 0, 0), (45, -20, -10), (30, 14, 22), (40, 50, 35))]
    ['white', 'teal', 'brown', 'red']
    """
    light, a, b = lab
    chroma = float(np.hypot(a, b))
    if light < 18.0 and chroma < 15.0:
        return "black"
    if chroma < 8.0:
        if light > 92.0:
            return "white"
        return "light grey" if light > 70.0 else "grey" if light > 35.0 else "dark grey"
    angle = float(np.degrees(np.arctan2(b, a))) % 360.0
    hue = next(name for reach, name in _HUES if angle < reach)
    if hue in ("orange", "yellow") and light > 82.0 and chroma < 30.0:
        return "cream"
    if hue in ("red", "orange", "yellow") and light > 60.0 and chroma < 48.0:
        return "beige"
    if 38.0 < angle < 85.0 and light < 62.0 and chroma < 55.0:
        return "brown" if light > 28.0 else "dark brown"
    if light < 32.0:
        return f"dark {hue}"
    return f"light {hue}" if light > 75.0 and hue != "yellow" else hue

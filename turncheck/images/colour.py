"""Colours in words and numbers: names, hexadecimal, and the difference that an eye sees."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from turncheck.numerics.arrays import Bytes, Floats

if TYPE_CHECKING:
    from collections.abc import Sequence


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
    """Return the CIEDE2000 difference of two CIELAB colours; `differences` says how.

    Examples
    --------
    >>> round(difference((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485)), 4)
    2.0425
    """
    return float(differences(np.asarray([one]), np.asarray([other]))[0, 0])


def differences(these: Floats, those: Floats) -> Floats:
    """Return the CIEDE2000 differences of all pairs of two sets of colours.

    CIE 142:2001 with kL = kC = kH = 1, in the order of Sharma, Wu and Dalal, Color Res. Appl. 30
    (2005) 21-30, whose equations are numbered here.

    Parameters
    ----------
    these, those
        (n, 3) and (m, 3) CIELAB.

    Returns
    -------
    ndarray
        (n, m), 0 where the colours are the same; 1 is about the least that an eye sees.
    """
    light_1, a_1, b_1 = np.asarray(these, dtype=np.float64).T[:, :, None]
    light_2, a_2, b_2 = np.asarray(those, dtype=np.float64).T[:, None, :]
    greyness = 1.0 + 0.5 * (1.0 - _near_grey((np.hypot(a_1, b_1) + np.hypot(a_2, b_2)) / 2.0))  # 4
    chroma_1, hue_1 = _polar(a_1 * greyness, b_1)  # 5 to 7
    chroma_2, hue_2 = _polar(a_2 * greyness, b_2)
    product = chroma_1 * chroma_2
    turn = hue_2 - hue_1
    far = np.abs(turn) > np.pi
    turned = np.where(product == 0.0, 0.0, turn - 2.0 * np.pi * np.sign(turn) * far)  # 10
    both = hue_1 + hue_2
    round_it = np.where(both < 2.0 * np.pi, 2.0 * np.pi, -2.0 * np.pi)
    hue = np.where(product == 0.0, both, (both + round_it * far) / 2.0)  # 14
    light, chroma = (light_1 + light_2) / 2.0, (chroma_1 + chroma_2) / 2.0
    several = (  # 15
        1.0
        - 0.17 * np.cos(hue - np.radians(30.0))
        + 0.24 * np.cos(2.0 * hue)
        + 0.32 * np.cos(3.0 * hue + np.radians(6.0))
        - 0.20 * np.cos(4.0 * hue - np.radians(63.0))
    )
    off_middle = (light - 50.0) ** 2
    lighter = (light_2 - light_1) / (1.0 + 0.015 * off_middle / np.sqrt(20.0 + off_middle))  # 8, 18
    fuller = (chroma_2 - chroma_1) / (1.0 + 0.045 * chroma)  # 9, 19
    across = 2.0 * np.sqrt(product) * np.sin(turned / 2.0) / (1.0 + 0.015 * chroma * several)  # 20
    blueness = np.radians(30.0) * np.exp(-(((np.degrees(hue) - 275.0) / 25.0) ** 2))  # 16
    mixed = -np.sin(2.0 * blueness) * 2.0 * _near_grey(chroma) * fuller * across  # 17, 21
    squared = lighter**2 + fuller**2 + across**2 + mixed  # 22
    return np.asarray(np.sqrt(np.maximum(squared, 0.0)))


def _near_grey(chroma: Floats) -> Floats:
    """Return 0 for greys to 1 for full colours, the share that the formula corrects by."""
    return np.asarray(np.sqrt(chroma**7 / (chroma**7 + 25.0**7)))


def _polar(a: Floats, b: Floats) -> tuple[Floats, Floats]:
    """Return chroma and hue, 0 to 2 pi."""
    hue = np.arctan2(b, a)
    return np.hypot(a, b), np.where(hue < 0.0, hue + 2.0 * np.pi, hue)


def on_white(pixels: Bytes) -> Bytes:
    """Return (H, W, 3) BGR of a drawing, BGR or BGRA, laid on white.

    >>> on_white(np.array([[[0, 0, 0, 255], [0, 0, 0, 51]]], np.uint8)).tolist()
    [[[0, 0, 0], [204, 204, 204]]]
    """
    if pixels.shape[2] == 3 or int(pixels[:, :, 3].min()) == 255:
        return without_alpha(pixels)
    share = pixels[:, :, 3:].astype(np.float32) / 255.0
    laid = pixels[:, :, :3] * share + 255.0 * (1.0 - share)
    return np.asarray(np.round(laid), dtype=np.uint8)


def without_alpha(pixels: Bytes) -> Bytes:
    """Return (H, W, 3) BGR of a drawing, BGR or BGRA, its colours as they are."""
    if pixels.shape[2] == 3:
        return np.ascontiguousarray(pixels)
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_BGRA2BGR), dtype=np.uint8)


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

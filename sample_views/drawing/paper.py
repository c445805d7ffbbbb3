"""A wide sheet as it comes off the scanner: paper, guide lines, lettering, faint pencil."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from drawing.lettering import letters, width_of, write
from drawing.sheets import json_text

PAPER = (243, 236, 221)
PENCIL_BLUE = (126, 158, 190)
PENCIL = (150, 138, 130)
INK = (70, 58, 60)


@dataclass(frozen=True)
class Placed:
    """A drawing stuck on the sheet: its picture, name, yaw, axis and ground in that picture."""

    name: str
    yaw: float
    picture: NDArray[np.uint8]
    axis: float
    ground: float


def wide_sheet(
    figures: Sequence[Placed],
    heights: Mapping[str, float],
    title: str,
    scale: float,
    size: tuple[int, int],
    ground: float,
    seed: int,
) -> tuple[NDArray[np.uint8], str]:
    """The sheet, RGB (height, width, 3), and where everything on it truly is, as JSON.

    Parameters
    ----------
    figures : sequence of Placed
        From left to right.
    heights : mapping of str to float
        Names and heights above the ground (px of the drawings) of the guide lines.
    title : str
        Lettered into the corner.
    scale : float
        Sheet px per px of the drawings.
    size : (int, int)
        Width and height of the sheet.
    ground : float
        y of the ground line on the sheet.
    seed : int
        For grain, light and the letterer's hand.
    """
    width, height = size
    rng = np.random.default_rng(seed)
    sheet = np.empty((height, width, 3), np.float32)
    sheet[:] = PAPER
    for name, up in heights.items():
        y = ground - up * scale
        _line(sheet, (34, y + 0.6), (width - 30, y - 0.6), PENCIL_BLUE, 0.85, 2.2)
        _letter(sheet, name, (38, y - 7), 13, PENCIL_BLUE, rng)
    step = width / (len(figures) + 0.28)
    truth = []
    for k, f in enumerate(figures):
        axis = step * (k + 0.66)
        _construction(sheet, axis, ground, heights, scale)
        box = _stick(sheet, f, axis, ground, scale)
        label = f"{f.name.replace('_', ' ')}  {f.yaw:g}"
        at = (axis - width_of(label, 30) / 2, ground + 88 + float(rng.uniform(-4, 4)))
        _letter(sheet, label, at, 30, INK, rng, 3)
        truth.append(
            {
                "view": f.name,
                "yaw": f.yaw,
                "box": box,
                "axis": round(axis, 2),
                "ground": ground,
                "scale": scale,
            }
        )
    _letter(sheet, title, (64, 84), 38, INK, rng, 4)
    sheet = _scanned(sheet, rng)
    lines = {name: round(ground - up * scale, 2) for name, up in heights.items()}
    content = {
        "image": "wide.png",
        "box": "left, top, right, bottom: the first and last column and row of the figure, px",
        "figures": truth,
        "guide_lines": lines,
    }
    return np.clip(np.rint(sheet), 0, 255).astype(np.uint8), json_text(content)


def _stick(
    sheet: NDArray[np.float32], f: Placed, axis: float, ground: float, scale: float
) -> list[int]:
    """Lay the drawing on the paper; returns its box."""
    height, width = sheet.shape[:2]
    a = f.picture[..., 3:].astype(np.float32) / 255
    ready = np.dstack([f.picture[..., :3].astype(np.float32) * a, a])
    # Area averaging first, so that the lines stay whole when the drawing shrinks.
    half = (round(f.picture.shape[1] * scale), round(f.picture.shape[0] * scale))
    small = cv2.resize(ready, half, interpolation=cv2.INTER_AREA)
    sx, sy = half[0] / f.picture.shape[1], half[1] / f.picture.shape[0]
    move = np.array(
        [
            [1, 0, axis - ((f.axis + 0.5) * sx - 0.5)],
            [0, 1, ground - ((f.ground + 0.5) * sy - 0.5)],
        ],
        np.float32,
    )
    laid = cv2.warpAffine(small, move, (width, height), flags=cv2.INTER_LINEAR)
    sheet *= 1 - laid[..., 3:]
    sheet += laid[..., :3]
    rows, columns = np.nonzero(laid[..., 3] > 0.5)
    return [int(columns.min()), int(rows.min()), int(columns.max()), int(rows.max())]


def _construction(
    sheet: NDArray[np.float32],
    axis: float,
    ground: float,
    heights: Mapping[str, float],
    scale: float,
) -> None:
    """A centre line and the head's first oval, left over from the rough."""
    top = ground - max(heights.values()) * scale
    _line(sheet, (axis, top - 62), (axis + 1, ground + 24), PENCIL, 0.4, 1.6)
    crown, chin = (ground - heights[k] * scale for k in ("crown", "chin"))
    layer = np.zeros(sheet.shape[:2], np.uint8)
    middle = (round(axis), round((crown + chin) / 2))
    reach = round((chin - crown) / 2)
    for grow in (4, 9):
        cv2.ellipse(layer, middle, (reach + grow, reach + grow), 8, 0, 360, 255, 2, cv2.LINE_AA)
    _blend(sheet, layer, PENCIL, 0.28)


def _line(
    sheet: NDArray[np.float32],
    start: tuple[float, float],
    end: tuple[float, float],
    colour: tuple[int, int, int],
    strength: float,
    weight: float,
) -> None:
    layer = np.zeros(sheet.shape[:2], np.uint8)
    a, b = ((round(x * 16), round(y * 16)) for x, y in (start, end))
    cv2.line(layer, a, b, 255, max(1, round(weight)), cv2.LINE_AA, 4)
    _blend(sheet, layer, colour, strength)


def _letter(
    sheet: NDArray[np.float32],
    text: str,
    at: tuple[float, float],
    high: float,
    colour: tuple[int, int, int],
    rng: np.random.Generator,
    weight: int = 1,
) -> None:
    layer = np.zeros(sheet.shape[:2], np.uint8)
    write(layer, letters(text, at[0], at[1], high, rng), weight)
    _blend(sheet, layer, colour, 0.9)


def _blend(
    sheet: NDArray[np.float32],
    layer: NDArray[np.uint8],
    colour: tuple[int, int, int],
    strength: float,
) -> None:
    """Lay a pencil's colour on the paper where the layer is not 0."""
    x, y, w, h = cv2.boundingRect(layer)
    k = layer[y : y + h, x : x + w, None].astype(np.float32) / 255 * strength
    part = sheet[y : y + h, x : x + w]
    part += (np.array(colour, np.float32) - part) * k


def _scanned(sheet: NDArray[np.float32], rng: np.random.Generator) -> NDArray[np.float32]:
    """Uneven light from the left, tooth of the paper, a crease and a little scan noise."""
    height, width = sheet.shape[:2]
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    light = 1.015 - 0.10 * (x / width) ** 1.6 - 0.05 * ((y / height - 0.4) ** 2) * 2
    light -= 0.035 * np.exp(-(((x - width * 0.515) / 14) ** 2)) * (0.6 + 0.4 * np.sin(y / 90))
    for cell, amount in ((160, 0.010), (24, 0.006), (4, 0.007)):
        coarse = rng.normal(0, 1, (height // cell + 3, width // cell + 3)).astype(np.float32)
        light += amount * cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
    # The same grain in all three channels, and in steps, keeps the file small.
    grain = np.rint(rng.normal(0, 0.55, (height, width))).astype(np.float32)
    return sheet * light[..., None] + grain[..., None] * 2

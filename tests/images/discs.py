"""Drawings with coloured discs whose centres are known exactly, anti-aliased by supersampling."""

from __future__ import annotations

import cv2
import numpy as np

FINE = 16  # sub-pixels along a pixel's side
FILLS = ((168, 205, 236), (120, 112, 46), (60, 110, 180), (215, 230, 240))  # BGR
DISCS = ((208, 47, 255), (255, 229, 0), (20, 255, 57), (255, 102, 0), (0, 60, 255), (255, 0, 136))


def disc_drawing(
    rng: np.random.Generator,
    radius: float,
    *,
    line: bool = False,
    outline: bool = False,
    covered: float = 0.0,
    fill: tuple[int, int, int] | None = None,
    disc: tuple[int, int, int] | None = None,
    size: int = 64,
) -> tuple[np.ndarray, tuple[float, float], tuple[int, int, int]]:
    """A disc on a fill; an outline between two fills may run under it, a line across it.

    Another part may lie in front of it, with an outline, and cover this share of its diameter.

    Returns
    -------
    pixels, (x, y), colour
        BGR 8 bit, the true centre (the top-left pixel's centre is (0, 0)) and the disc's BGR.
    """
    x, y = size / 2 + rng.uniform(-0.5, 0.5, 2)
    below = fill or FILLS[rng.integers(len(FILLS))]
    colour = disc or DISCS[rng.integers(len(DISCS))]
    steps = (np.arange(size * FINE) + 0.5) / FINE - 0.5
    across, down = steps[None, :], steps[:, None]
    layers, colours = np.zeros((size * FINE, size * FINE), np.uint8), [below]

    def lay(where: np.ndarray, bgr: tuple[int, int, int]) -> None:
        np.putmask(layers, where, len(colours))
        colours.append(bgr)

    if outline:  # under the disc, with another fill beyond
        tilt = rng.uniform(0, np.pi)
        away = (
            (across - x) * np.cos(tilt) + (down - y) * np.sin(tilt) - rng.uniform(-0.6, 1) * radius
        )
        lay(away > 0, FILLS[rng.integers(len(FILLS))])
        lay(np.abs(away) < 1.5, (40, 34, 38))
    lay((across - x) ** 2 + (down - y) ** 2 <= radius**2, colour)
    if line:
        tilt = rng.uniform(0, np.pi)
        away = (across - x) * np.cos(tilt) + (down - y) * np.sin(tilt)
        away -= rng.uniform(-0.7, 0.7) * radius
        lay(np.abs(away) < 1.5, (30, 26, 30))
    if covered:
        tilt = rng.uniform(0, np.pi * 2)
        away = (across - x) * np.cos(tilt) + (down - y) * np.sin(tilt)
        away -= (1.0 - 2.0 * covered) * radius
        lay(away > 0, FILLS[rng.integers(len(FILLS))])
        lay(np.abs(away - 1.5) < 1.5, (40, 34, 38))
    fine = layers.reshape(size, FINE, size, FINE)
    shares = [np.count_nonzero(fine == k, axis=(1, 3)) / FINE**2 for k in range(len(colours))]
    pixels = np.stack(shares, axis=2) @ np.array(colours, float)
    return np.rint(pixels).astype(np.uint8), (float(x), float(y)), colour


def jpeg(pixels: np.ndarray, quality: int = 85) -> np.ndarray:
    """The pixels after they were saved as JPEG."""
    _, data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, quality])
    return cv2.imdecode(data, cv2.IMREAD_COLOR)


def code_of(bgr: tuple[int, int, int]) -> str:
    """The colour as a key writes it."""
    return "#{:02x}{:02x}{:02x}".format(*bgr[::-1])

"""A body of blocks, drawn large from five sides: whatever is added to one outline shows.

Of all sections a rectangle leaves the least room: seen at 45 degrees it is as wide as any body can
be that has its front and its side.
"""

from __future__ import annotations

from math import cos, radians, sin
from pathlib import Path

import numpy as np
from PIL import Image

from tests.sheets import body, csv_text, toml_text

VIEWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back_tq": 135.0, "back": 180.0}
HEIGHT, GROUND, AXIS = 1000, 1100, 400
#: Half the width and half the depth up to a height, % of the figure's.
BLOCKS = ((50.0, 12.0, 8.0), (82.0, 16.0, 9.0), (100.0, 9.0, 9.0))
#: Rows of the belly that a bump is drawn on, % of the height from the ground.
BUMP = (62.0, 70.0)


def write_blocks(folder: Path, bumped: str, percent: float) -> Path:
    """Write a sheet of the body; one drawing's right outline is out by some % along the belly."""
    folder.mkdir(parents=True)
    for view, yaw in VIEWS.items():
        ink = np.zeros((GROUND + 100, 2 * AXIS, 4), np.uint8)
        low = 0.0
        for high, across, deep in BLOCKS:
            half = abs(across * cos(radians(yaw))) + abs(deep * sin(radians(yaw)))
            draw(ink, low, high, -half, half)
            if view == bumped and low < BUMP[0] < high:
                draw(ink, *BUMP, half, half + percent)
            low = high
        Image.fromarray(ink).save(folder / f"{view}.png")
    rows = [
        {
            "view": view,
            "landmark": landmark,
            "x": f"{AXIS + (x * cos(radians(yaw)) + z * sin(radians(yaw))) * HEIGHT / 100:.3f}",
            "y": f"{GROUND - y * HEIGHT / 100:.3f}",
        }
        for view, yaw in VIEWS.items()
        for landmark, (x, y, z) in body().items()
    ]
    (folder / "landmarks.csv").write_text(csv_text(rows), "utf-8")
    (folder / "sheet.toml").write_text("placing_sd = 0.01\n" + toml_text(VIEWS), "utf-8")
    return folder


def draw(ink: np.ndarray, low: float, high: float, left: float, right: float) -> None:
    """Fill a rectangle given in % of the height, up from the ground and right from the axis."""
    rows = slice(GROUND - round(high * HEIGHT / 100), GROUND - round(low * HEIGHT / 100))
    columns = slice(AXIS + round(left * HEIGHT / 100), AXIS + round(right * HEIGHT / 100))
    ink[rows, columns] = (120, 90, 60, 255)

"""Shows of any number of sheets: small drawings of invented bodies, no two alike.

Two revisions a character and a dozen artists; points placed as precisely as a sheet says by
default, on one sheet in five an arm hung too low in the side drawing.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

from tests.sheets import AXIS, BODY, FIGURE, HEIGHT, VIEWS, WIDTH, csv_text, placed
from turncheck.sheet.model import LANDMARKS_FILE, SHEET_FILE

#: The drawings' size over that of tests.sheets.
ENLARGED = 2
ARTISTS = 12
#: Placing error, and how far an arm hangs too low, px of tests.sheets.
_PLACING_SD, _LOW = 0.0015 * FIGURE, 0.03 * FIGURE
_LIMBS = (
    ("neck", "hip", 9.0),
    ("neck", "shoulder", 5.0),
    ("shoulder", "elbow", 4.0),
    ("elbow", "wrist", 3.5),
    ("hip", "knee", 5.0),
    ("knee", "ankle", 4.5),
)


def write_show(folder: Path, count: int, first: int = 0) -> Path:
    """Write so many sheets below a folder and return it."""
    for number in range(first, first + count):
        write_sheet(folder / f"reel_{number // 100:03d}" / f"sheet_{number:05d}", number)
    return folder


def write_sheet(folder: Path, number: int) -> None:
    """Write one sheet; the same number gives the same."""
    rng = np.random.default_rng(number)
    folder.mkdir(parents=True)
    artist = f"artist {number % ARTISTS}"
    lines = [f'character = "Character {number // 2}"', f'revision = "{"AB"[number % 2]}"']
    lines += [f'drawn_by = "{artist}"', f"height_cm = {rng.uniform(60.0, 220.0):.0f}"]
    lines += ['reference = "front"']
    stout = rng.uniform(0.7, 1.4)
    places: dict[tuple[str, str], tuple[float, float]] = {}
    rows = placed()
    for row in rows:
        x = AXIS + stout * (float(row["x"]) - AXIS)
        y = float(row["y"])
        if number % 5 == 0 and (row["view"], row["landmark"]) == ("side", "wrist_l"):
            y += _LOW
        places[row["view"], row["landmark"]] = x * ENLARGED, y * ENLARGED
        x, y = np.array([x, y]) + rng.normal(0.0, _PLACING_SD, 2)
        row |= {"x": f"{x * ENLARGED:.2f}", "y": f"{y * ENLARGED:.2f}"}
    colours = rng.integers(60, 220, (3, 3)).tolist()
    for view, yaw in VIEWS.items():
        of_view = {mark: at for (name, mark), at in places.items() if name == view}
        assert cv2.imwrite(str(folder / f"{view}.png"), _drawing(of_view, stout, colours))
        lines += [f"[views.{view}]", f'image = "{view}.png"', f"yaw = {yaw:g}"]
    (folder / SHEET_FILE).write_text("\n".join([*lines, ""]), "utf-8")
    (folder / LANDMARKS_FILE).write_text(csv_text(rows), "utf-8")


def _drawing(
    places: dict[str, tuple[float, float]], stout: float, colours: list[list[int]]
) -> np.ndarray:
    """Return a figure of limbs and a head, filled flat in dark lines."""
    pixels = np.full((HEIGHT * ENLARGED, WIDTH * ENLARGED, 3), 255, np.uint8)
    parts = []
    for start, end, wide in _LIMBS:
        for side in ("_l", "_r"):
            ends = [places[name if name in BODY else f"{name}{side}"] for name in (start, end)]
            parts.append((ends, max(round(stout * wide * ENLARGED), 3)))
    crown, chin = places["crown"], places["chin"]
    size = 0.8 * stout * (chin[1] - crown[1]), chin[1] - crown[1]
    head = (((crown[0] + chin[0]) / 2, (crown[1] + chin[1]) / 2), size, 0.0)
    for more, shades in ((2 * ENLARGED, [[40, 30, 30]] * 3), (0, colours)):
        for number, (ends, wide) in enumerate(parts):
            (x, y), (to_x, to_y) = np.round(ends).astype(int).tolist()
            shade = shades[number * len(shades) // len(parts)]
            cv2.line(pixels, (x, y), (to_x, to_y), shade, wide + more, cv2.LINE_AA)
        (x, y), (wide, high), _ = head
        cv2.ellipse(pixels, ((x, y), (wide + more, high), 0.0), shades[0], -1, cv2.LINE_AA)
    return pixels

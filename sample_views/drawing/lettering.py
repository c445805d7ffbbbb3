"""Draughtsman's capitals, drawn stroke by stroke, so that no font is needed."""

import cv2
import numpy as np
from numpy.typing import NDArray

from drawing.solids import Grid, spline

# Strokes of each letter on a grid 6 wide and 10 high, (x, y) as digit pairs, y downward;
# "a" is 10. A leading "~" bends the stroke into a curve.
_STROKES = {
    "A": "0a 30 6a,15 55", "B": "00 0a,~00 40 52 44 05,~05 55 67 5a 0a", "C": "~61 30 03 07 3a 69",
    "D": "00 0a,~00 40 65 4a 0a", "E": "50 00 0a 5a,05 45", "F": "50 00 0a,05 45",
    "G": "~61 30 03 07 3a 69 66,66 36", "H": "00 0a,60 6a,05 65", "I": "20 2a",
    "J": "40 47,~47 3a 09",
    "K": "00 0a,50 05 6a", "L": "00 0a 5a", "M": "0a 00 35 60 6a", "N": "0a 00 6a 60",
    "O": "~30 02 08 3a 68 62 30", "P": "00 0a,~00 50 63 55 05", "Q": "~30 02 08 3a 68 62 30,47 6a",
    "R": "00 0a,~00 50 63 55 05,25 6a", "S": "~60 20 03 35 67 4a 0a", "T": "00 60,30 3a",
    "U": "~00 06 2a 4a 66 60", "V": "00 3a 60", "W": "00 1a 34 5a 60", "X": "00 6a,60 0a",
    "Y": "00 35 60,35 3a", "Z": "00 60 0a 6a", "0": "~30 02 08 3a 68 62 30", "1": "12 30 3a",
    "2": "~02 20 52 46 0a,0a 6a", "3": "~01 30 52 35,~35 67 3a 09", "4": "4a 40 07 67",
    "5": "50 10 05,~05 44 67 3a 09", "6": "~50 13 08 3a 67 35 06", "7": "00 60 2a",
    "8": "~30 03 35 68 3a 08 35 62 30", "9": "~62 40 03 35 62,~62 66 3a", ".": "2a 3a",
    ",": "39 2c",
}  # fmt: skip
_ADVANCE = 8.2  # grid units from letter to letter


def _place(pair: str) -> tuple[float, float]:
    return int(pair[0], 16), int(pair[1], 16)


def letters(
    text: str, x: float, baseline: float, high: float, rng: np.random.Generator
) -> list[Grid]:
    """The strokes (n, 2) of a line of capitals, px, none quite level with the last."""
    unit, lines = high / 10, []
    for letter in text.upper():
        lift, grow = rng.normal(0, 0.28), 1 + rng.normal(0, 0.03)
        for code in filter(None, _STROKES.get(letter, "").split(",")):
            points = np.array([_place(q) for q in code.removeprefix("~").split()], float)
            points += rng.normal(0, 0.16, points.shape)
            if code.startswith("~"):
                points = spline(points, 8 * len(points))
            points = (points - (0, 10)) * grow + (0, lift)
            points[:, 0] -= 0.12 * points[:, 1]  # the hand leans a little
            lines.append(points * unit + (x, baseline))
        x += (_ADVANCE if letter != "I" else 5.5) * unit
    return lines


def width_of(text: str, high: float) -> float:
    """Length of the line of capitals, px."""
    return (_ADVANCE * len(text) - 2 - 2.7 * text.upper().count("I")) * high / 10


def write(layer: NDArray[np.uint8], strokes: list[Grid], weight: int) -> None:
    """Ink the strokes into a layer, 0 to 255."""
    for stroke in strokes:
        at = np.rint(stroke * 16).astype(np.int32)[:, None]
        cv2.polylines(layer, [at], False, 255, weight, cv2.LINE_AA, 4)

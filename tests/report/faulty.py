"""Pim with more planted in copies of the drawings, for the report's tests."""

from __future__ import annotations

import shutil
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import cv2
import numpy as np

from tests.places import SAMPLES
from turncheck.checking import Checked, check

#: Fills of Pim and what they are painted over with, red green blue: the coat in the back drawing
#: a shade off, the scarf's red in the three-quarter another colour.
COAT, OTHER_COAT = (0xD8, 0x97, 0x3C), (0xE0, 0xA8, 0x48)
SCARF, OTHER_SCARF = (0xB8, 0x39, 0x2F), (0x3A, 0x90, 0x2F)
#: How far the right leg of the three-quarter drawing is placed to the picture's left, and the
#: nose of the front to its right and down, px.
LEG, NOSE = 35.0, (40.0, 30.0)


def _painted_over(file: Path, old: tuple[int, int, int], new: tuple[int, int, int]) -> None:
    pixels = cv2.imread(str(file), cv2.IMREAD_UNCHANGED)
    assert pixels is not None
    same = (np.abs(pixels[:, :, 2::-1].astype(int) - old) <= 6).all(axis=2)
    pixels[same, :3] = new[::-1]
    cv2.imwrite(str(file), pixels)


def faulty_pim(folder: Path) -> Path:
    """Write the sheet and return its folder."""
    shutil.copytree(SAMPLES / "pim", folder)
    _painted_over(folder / "back.png", COAT, OTHER_COAT)
    _painted_over(folder / "three_quarter.png", SCARF, OTHER_SCARF)
    pixels = cv2.imread(str(folder / "side.png"), cv2.IMREAD_UNCHANGED)
    assert pixels is not None
    line = ((pixels[:, :, :3].max(axis=2) < 70) & (pixels[:, :, 3] > 200)).astype(np.uint8)
    pixels[cv2.dilate(line, np.ones((5, 5), np.uint8)) > 0] = (30, 25, 30, 255)
    cv2.imwrite(str(folder / "side.png"), pixels)
    table = folder / "landmarks.csv"
    rows = [line.split(",") for line in table.read_text("utf-8").splitlines()]
    for row in rows:
        if row[:2] == ["front", "nose_tip"]:
            row[2:4] = [str(float(at) + by) for at, by in zip(row[2:4], NOSE, strict=True)]
        elif row[0] == "three_quarter" and row[1] in ("hip_r", "knee_r", "ankle_r", "toe_r"):
            row[2] = str(float(row[2]) - LEG)
    table.write_text("\n".join(",".join(row) for row in rows) + "\n", "utf-8")
    return folder


@cache
def checked_faulty_pim() -> Checked:
    """The sheet checked, once for all the tests that only read the result."""
    with TemporaryDirectory() as folder:
        return check(faulty_pim(Path(folder) / "pim"))

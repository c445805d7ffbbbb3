"""Odo with a second three-quarter drawing, flipped from the first, for the tests of flips."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import cv2
import numpy as np

from tests.places import SAMPLES
from tests.sheets import csv_text


def flipped_odo(folder: Path) -> Path:
    """Write the sheet and return its folder: `other` is `three_quarter` flipped, points and all.

    Left and right have changed names, as in a drawing from the other side; the badge, which the
    body has on its left breast only, has not.
    """
    shutil.copytree(SAMPLES / "odo", folder)
    pixels = cv2.imread(str(folder / "three_quarter.png"), cv2.IMREAD_UNCHANGED)
    assert pixels is not None
    cv2.imwrite(str(folder / "other.png"), np.ascontiguousarray(pixels[:, ::-1]))
    table = folder / "landmarks.csv"
    rows = list(csv.DictReader(table.read_text("utf-8").splitlines()))
    twins = {"_l": "_r", "_r": "_l"}
    for row in [row for row in rows if row["view"] == "three_quarter"]:
        name, end = row["landmark"], row["landmark"][-2:]
        name = f"{name[:-2]}{twins[end]}" if end in twins else name
        x = f"{pixels.shape[1] - 1 - float(row['x']):.2f}"
        rows.append(row | {"view": "other", "landmark": name, "x": x})
    table.write_text(csv_text(rows), "utf-8")
    sheet = folder / "sheet.toml"
    view = '[views.other]\nimage = "other.png"\nyaw = -45\n\n[tolerances]'
    sheet.write_text(sheet.read_text("utf-8").replace("[tolerances]", view, 1), "utf-8")
    return folder

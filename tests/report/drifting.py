"""Small sheets with drifts planted in them, for the report's tests."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

from tests.sheets import FIGURE, HEIGHT, VIEWS, WIDTH, body, edit, make_sheet, picture, placed

#: The left arm of the side drawing, 3 % of the figure too low, px.
LOW_ARM = {("side", name): (0.0, -4.8) for name in ("shoulder_l", "elbow_l", "wrist_l")}


def resized(view: str, by: float) -> dict[tuple[str, str], tuple[float, float]]:
    """Drifts that make a whole drawing larger, a body's heights being in % of the figure."""
    return {(view, name): (0.0, by * at[1] * FIGURE / 100.0) for name, at in body().items()}


def drifting_sheet(
    folder: Path,
    *,
    drift: Mapping[tuple[str, str], tuple[float, float]] | None = None,
    views: Mapping[str, float] = VIEWS,
    repeats: bool = False,
    toml_extra: str = "",
    **head: str,
) -> Path:
    """Write a sheet and return its folder.

    Parameters
    ----------
    drift
        By (view, landmark): how far it is placed too far to the picture's right and too high, px.
    repeats
        Everything is placed again by another person, 0.1 px lower.
    head
        Values of `sheet.toml` in place of the usual ones.
    """
    rows = placed(views)
    for row in rows:
        right, up = (drift or {}).get((row["view"], row["landmark"]), (0.0, 0.0))
        row["x"] = f"{float(row['x']) + right:.3f}"
        row["y"] = f"{float(row['y']) - up:.3f}"
    if repeats:
        again = [row | {"y": f"{float(row['y']) + 0.1:.3f}", "placed_by": "bo"} for row in rows]
        rows = [row | {"placed_by": "ana"} for row in rows] + again
    make_sheet(folder, views=views, placings=rows, toml_extra=toml_extra)
    for number, view in enumerate(views):  # no two drawings are the same file
        (folder / f"{view}.png").write_bytes(picture(size=(WIDTH, HEIGHT + number)))
    usual = {"character": "Tib", "revision": "A", "reference": next(iter(views))}
    for key, value in head.items():
        new = json.dumps(value, ensure_ascii=False)
        edit(folder / "sheet.toml", f'{key} = "{usual[key]}"', f"{key} = {new}")
    return folder

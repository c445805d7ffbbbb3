"""Small complete sheets for tests: real pictures, and placings of one invented solid body."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from math import cos, radians, sin
from pathlib import Path

import pytest
from PIL import Image, ImageDraw
from PIL.PngImagePlugin import PngInfo

from turncheck import TurncheckError
from turncheck.sheet.model import LANDMARKS_FILE, SHEET_FILE

Row = dict[str, str]

WIDTH, HEIGHT = 120, 180
#: Where the turning axis and the ground fall, and the figure's height, px.
AXIS, GROUND, FIGURE = 60.0, 172.0, 160.0
#: Names and nominal yaws, degrees.
VIEWS: Mapping[str, float] = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
#: The body, invented: X to the character's left, Y up, Z to the front, in % of its height. Of a
#: pair the left one stands here and its twin mirrors it.
BODY: Mapping[str, tuple[float, float, float]] = {
    "ground": (0.0, 0.0, 0.0),
    "crown": (0.0, 100.0, 0.0),
    "chin": (0.0, 84.0, 6.0),
    "mouth": (0.0, 87.0, 7.0),
    "nose_tip": (0.0, 90.0, 9.0),
    "eye_l": (3.0, 92.5, 6.0),
    "ear_l": (6.5, 91.0, 0.0),
    "head": (0.0, 85.0, 0.5),
    "neck": (0.0, 81.0, -1.0),
    "spine": (0.0, 60.0, -2.0),
    "shoulder_l": (11.0, 79.0, -1.0),
    "elbow_l": (14.0, 62.0, -2.0),
    "wrist_l": (15.0, 47.0, 2.0),
    "hip_l": (5.0, 51.0, 0.0),
    "knee_l": (5.5, 28.0, 1.0),
    "ankle_l": (6.0, 4.0, -1.0),
}


def body() -> dict[str, tuple[float, float, float]]:
    """Every landmark of the body in space, % of its height."""
    points = dict(BODY)
    for name, (x, y, z) in BODY.items():
        if name.endswith("_l"):
            points[f"{name[:-1]}r"] = (-x, y, z)
    return points


def placed(views: Mapping[str, float] = VIEWS, **cells: str) -> list[Row]:
    """Rows of a landmark table: the body seen from each view, orthographic, without error."""
    rows = []
    for view, yaw in views.items():
        turn = radians(yaw)
        for landmark, (x, y, z) in body().items():
            across = AXIS + FIGURE / 100 * (x * cos(turn) + z * sin(turn))
            down = GROUND - FIGURE / 100 * y
            row = {"view": view, "landmark": landmark, "x": f"{across:.3f}", "y": f"{down:.3f}"}
            rows.append(row | cells)
    return rows


def csv_text(rows: Iterable[Row]) -> str:
    """The rows as a landmark table."""
    rows = list(rows)
    columns = list(dict.fromkeys(name for row in rows for name in row))
    text = io.StringIO()
    writer = csv.DictWriter(text, columns or ["view", "landmark", "x", "y"], lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def toml_text(views: Mapping[str, float] = VIEWS, toml_extra: str = "") -> str:
    """A plain sheet; `toml_extra` follows its last table."""
    lines = ['character = "Tib"', 'revision = "A"', f'reference = "{next(iter(views), "front")}"']
    for name, yaw in views.items():
        lines += [f'[views."{name}"]', f'image = "{name}.png"', f"yaw = {yaw:g}"]
    return "\n".join([*lines, toml_extra, ""])


def make_sheet(
    folder: Path,
    *,
    views: Mapping[str, float] = VIEWS,
    placings: Iterable[Row] | None = None,
    toml_extra: str = "",
) -> Path:
    """Write a complete small sheet with real pictures and return its folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in views:
        (folder / f"{name}.png").write_bytes(picture(title=name))
    (folder / SHEET_FILE).write_text(toml_text(views, toml_extra), "utf-8")
    rows = placed(views) if placings is None else placings
    (folder / LANDMARKS_FILE).write_text(csv_text(rows), "utf-8")
    return folder


@cache
def picture(
    kind: str = "PNG", size: tuple[int, int] = (WIDTH, HEIGHT), *, title: str = ""
) -> bytes:
    """A drawing of a small figure, as a file of this kind; a PNG may have a title in it."""
    image = Image.new("RGB", size, "white")
    pen = ImageDraw.Draw(image)
    pen.ellipse((50, 12, 70, 38), fill="#d9a066", outline="black", width=2)
    pen.rounded_rectangle((42, 38, 78, 100), 8, fill="#306082", outline="black", width=2)
    pen.rectangle((46, 100, 74, 172), fill="#45283c", outline="black", width=2)
    file = io.BytesIO()
    written = PngInfo()
    if title:
        written.add_text("Title", title)
    image.save(file, kind, **({"pnginfo": written} if kind == "PNG" else {}))
    return file.getvalue()


def edit(file: Path, old: str, new: str) -> None:
    """Replace the first occurrence of a text that the file must hold."""
    text = file.read_text("utf-8")
    assert old in text, f"{old!r} is not in {file}"
    file.write_text(text.replace(old, new, 1), "utf-8")


def faults_of(call: Callable[[], object]) -> tuple[str, ...]:
    """The sentences that a call is refused with; each is one line."""
    with pytest.raises(TurncheckError) as caught:
        call()
    faults = tuple(map(str, caught.value.faults))
    assert faults and all(fault.isprintable() for fault in faults), faults
    return faults

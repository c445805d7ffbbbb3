"""Writes guides: for each angle a picture, the same as SVG, and its tables; and `guides.json`."""

from __future__ import annotations

import base64
import io
import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from turncheck.files.atomic import Content, refuse_existing, save_together
from turncheck.files.own import SUMMARY, refuse_foreign
from turncheck.files.version import VERSION
from turncheck.handover.angle import Angle
from turncheck.handover.guides import Guides
from turncheck.handover.guides_shapes import Bytes, as_svg, painted, shapes_of
from turncheck.handover.save import as_csv

SCHEMA_VERSION = 1
_LIST = "guides.json"
POINT_COLUMNS = ("landmark", "x", "y", "x_sd", "y_sd", "depth", "side", "known")
OUTLINE_COLUMNS = (
    "y",
    "widest_left",
    "left",
    "narrowest_left",
    "narrowest_right",
    "right",
    "widest_right",
)


def save_guides(guides: Guides, folder: Path, *, colours: bool = False) -> list[Path]:
    """Write the guides, with the colours of the drawings or their lines; return their paths.

    Raises
    ------
    TurncheckError
        If the folder can't be written, or a file in it is not turncheck's.
    """
    contents: dict[str, Content] = {}
    for angle in guides.angles:
        contents |= _files(guides, angle, colours)
    refuse_foreign(folder, {_LIST: SUMMARY} | _marks(contents))
    if not (folder / _LIST).exists():  # which lies beside every guide, and tells whose they are
        refuse_existing(folder / name for name in contents)
    contents[_LIST] = json.dumps(as_json(guides), indent=2, ensure_ascii=False) + "\n"
    save_together(folder, contents)
    return [folder / name for name in contents]


def _marks(names: Iterable[str]) -> dict[str, bytes]:
    """Return what each table has held since the first version."""
    return {
        name: ",".join((OUTLINE_COLUMNS if "_outline" in name else POINT_COLUMNS)[:5]).encode()
        for name in names
        if name.endswith(".csv")
    }


def as_json(guides: Guides) -> dict[str, Any]:
    """Return the canvas of each angle, for other programs."""
    sheet = guides.checked.sheet
    return {
        "schema_version": SCHEMA_VERSION,
        "character": sheet.character,
        "revision": sheet.revision,
        "figure_height_px": round(guides.checked.measured.figure_height, 4),
        "guides": [
            {
                "yaw": angle.canvas.yaw,
                "width": angle.canvas.width,
                "height": angle.canvas.height,
                "scale": 1,
                "ground_px": round(angle.canvas.ground, 4),
                "axis_px": round(angle.canvas.axis, 4),
            }
            for angle in guides.angles
        ],
        "turncheck_version": VERSION,
    }


def _files(guides: Guides, angle: Angle, colours: bool) -> dict[str, Content]:
    canvas = angle.canvas
    vocabulary = guides.checked.sheet.vocabulary
    shapes = shapes_of(angle, vocabulary, guides.checked.measured.figure_height)
    under = guides.under(angle, colours=colours)
    uri = as_uri(as_png(under)) if under.any() else ""
    return {
        f"{canvas.name}.png": as_png(painted(under, shapes)),
        f"{canvas.name}.svg": as_svg(canvas.width, canvas.height, shapes, uri),
        f"{canvas.name}.csv": as_csv(POINT_COLUMNS, _point_rows(angle)),
        f"{canvas.name}_outline.csv": as_csv(OUTLINE_COLUMNS, angle.rows.tolist()),
    }


def _point_rows(angle: Angle) -> list[list[str | float]]:
    spots = angle.spots
    each = [angle.x, angle.y, spots.across_sd, spots.up_sd, spots.depth]
    rows = zip(angle.landmarks, np.stack(each, 1).tolist(), angle.sides, spots.known, strict=True)
    return [
        [name, *numbers, side, "true" if known else "false"]
        for name, numbers, side, known in rows
        if name != "ground"
    ]


def as_png(picture: Bytes) -> bytes:
    """Return a picture, (H, W, 4) RGBA, as a PNG file."""
    file = io.BytesIO()
    Image.fromarray(picture).save(file, "PNG")
    return file.getvalue()


def as_uri(png: bytes) -> str:
    """Return a PNG file as a data URI (RFC 2397)."""
    return f"data:image/png;base64,{base64.b64encode(png).decode('ascii')}"

"""Writes guides: of each drawing and angle a picture and the same as SVG; and `guides.json`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from turncheck.errors import Fault, TurncheckError, quoted
from turncheck.files.atomic import refuse_existing, save_together
from turncheck.files.own import SUMMARY, json_text, refuse_foreign
from turncheck.files.user_files import fingerprint
from turncheck.files.version import VERSION
from turncheck.handover.angle import Angle, name_at
from turncheck.handover.drawn_guides import DrawnGuide
from turncheck.handover.guides import Guides
from turncheck.handover.guides_kept import GUIDES_FILE, kept_in, remove_stale
from turncheck.handover.guides_shapes import Shape, as_svg, painted, shapes_of
from turncheck.handover.save import as_csv
from turncheck.handover.turning import TURN_FILE, cell_of, strip_of, window_of
from turncheck.handover.under_drawing import under_drawing
from turncheck.images.thumbnail import data_uri, png
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Bytes

SCHEMA_VERSION = 2
#: How the names of an angle's files end.
_ENDS = (".png", ".svg", ".csv", "_outline.csv")
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


@dataclass(frozen=True)
class Saved:
    """What became of the files in a folder of guides.

    Attributes
    ----------
    written, removed, left
        Names; earlier guides of what has no more work were removed, or left if they were changed.
    """

    written: tuple[str, ...]
    removed: tuple[str, ...]
    left: tuple[str, ...]


def save_guides(
    guides: Guides, folder: Path, *, colours: bool = False, turn: Sequence[float] = ()
) -> Saved:
    """Write the guides, with the colours of the drawings or their lines.

    Angles that an earlier run drew of the same drawings, points and settings stay; all else that
    it wrote is replaced, or removed.

    Parameters
    ----------
    turn
        Yaws of the guides, degrees, that make a whole turn: they are also shown side by side, for
        the report.

    Raises
    ------
    TurncheckError
        If the folder can't be written, holds another character's guides or files that turncheck did
        not write or that were changed since, or a drawing is called as an angle's files are.
    """
    contents: dict[str, str | bytes] = {}
    for guide in guides.drawings:
        contents |= _pictures(guide.view, guides.ghost(guide, colours=colours), guide.shapes)
    whole = {wrapped(yaw) + 0.0 for yaw in turn}
    window = window_of([one for one in guides.angles if one.canvas.yaw in whole]) if whole else None
    cells: dict[float, Bytes] = {}
    for angle in guides.angles:
        drawn = under_drawing(guides.checked.measured, angle)
        if window and angle.canvas.yaw in whole:
            cells[angle.canvas.yaw] = cell_of(window, drawn, angle, guides.checked.sheet.vocabulary)
        of_angle = _files_of_angle(guides, angle, guides.looked(drawn, colours=colours))
        if both := of_angle.keys() & contents.keys():
            says = f"{min(both)} would be a drawing's and an angle's; give the drawing another name"
            raise TurncheckError(Fault(says, str(folder)))
        contents |= of_angle
    kept, sums = kept_in(folder), guides.checked.sums.as_json()
    if kept.character not in ("", guides.checked.sheet.character):
        says = f"holds the guides of {quoted(kept.character)}; name another folder with --out"
        raise TurncheckError(Fault(says, str(folder)))
    refuse_foreign(folder, {GUIDES_FILE: SUMMARY})
    new = {name_at(angle.canvas.yaw): _angle_json(angle) for angle in guides.angles}
    angles = {name_at(one["yaw"]): one for one in kept.angles if kept.sums == sums} | new
    names = [f"{name}{end}" for name in angles for end in _ENDS]
    strip = kept.turn if kept.sums == sums else {}
    if window:
        made, contents[TURN_FILE] = strip_of(window, cells)
        strip = made.model_dump(mode="json")
    names += [TURN_FILE] if strip else []
    touched = [folder / name for name in contents if not kept.is_untouched(folder, name)]
    says = (
        "was changed since it was written, so it stays; move it, or name another folder with --out"
    )
    yours = [Fault(says, str(at)) for at in touched if at.name in kept.files and at.exists()]
    if yours:
        raise TurncheckError(*yours)
    refuse_existing(touched)
    files = {name: kept.files[name] for name in names if name in kept.files}
    for name, content in contents.items():
        files[name] = fingerprint(content.encode() if isinstance(content, str) else content)
    sheet = guides.checked.sheet
    told = {
        "schema_version": SCHEMA_VERSION,
        "character": sheet.character,
        "revision": sheet.revision,
        "figure_height_px": round(guides.checked.measured.figure_height, 4),
        "drawings": [_drawing_json(guide) for guide in guides.drawings],
        "guides": list(angles.values()),
        "turn": strip,
        "made_of": sums,
        "files": files,
        "turncheck_version": VERSION,
    }
    contents[GUIDES_FILE] = json_text(told)
    save_together(folder, contents)
    gone, stays = remove_stale(folder, kept, files)
    return Saved(tuple(contents), tuple(gone), tuple(stays))


def _drawing_json(guide: DrawnGuide) -> dict[str, Any]:
    return {
        "view": guide.view,
        "width": guide.width,
        "height": guide.height,
        "instructions": list(guide.numbers),
        "says": [task.says for task in guide.tasks],
        "whole": [round(value, 6) for value in guide.whole],
        "points": {
            name: {"x": round(x, 2), "y": round(y, 2), "to_x": round(u, 2), "to_y": round(v, 2)}
            for name, ((x, y), (u, v)) in guide.points.items()
        },
    }


def _angle_json(angle: Angle) -> dict[str, Any]:
    canvas = angle.canvas
    return {
        "yaw": canvas.yaw,
        "width": canvas.width,
        "height": canvas.height,
        "scale": 1,
        "ground_px": round(canvas.ground, 4),
        "axis_px": round(canvas.axis, 4),
    }


def _pictures(name: str, under: Bytes, shapes: Sequence[Shape]) -> dict[str, str | bytes]:
    """Return a guide as PNG and as SVG."""
    uri = data_uri("image/png", png(Image.fromarray(under))) if under.any() else ""
    return {
        f"{name}.png": png(Image.fromarray(painted(under, shapes))),
        f"{name}.svg": as_svg(under.shape[1], under.shape[0], shapes, uri),
    }


def _files_of_angle(guides: Guides, angle: Angle, under: Bytes) -> dict[str, str | bytes]:
    checked, name = guides.checked, name_at(angle.canvas.yaw)
    shapes = shapes_of(angle, checked.sheet.vocabulary, checked.measured.figure_height)
    return {
        **_pictures(name, under, shapes),
        f"{name}.csv": as_csv(POINT_COLUMNS, _point_rows(angle)),
        f"{name}_outline.csv": as_csv(OUTLINE_COLUMNS, angle.rows.tolist()),
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

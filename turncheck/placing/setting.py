"""What the page knows of a sheet from its beginning: drawings, points, and the order of both."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from turncheck.geometry.placing_sd import HIDDEN_FACTOR
from turncheck.images.picture_file import Picture
from turncheck.placing.drawings import Drawings
from turncheck.plain import spoken
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import CONSENSUS, LANDMARKS_FILE, Sheet, View
from turncheck.sheet.vocabulary import Landmark, Vocabulary

#: Room round a figure in the line-up, as a share of its height; common practice, no source.
ROOM = 0.03
#: Cosine of the turn from the front, or from behind, up to which left and right lie on each other.
EDGE_ON = 0.02
#: Cosine of the turn from which on the head hides the face: the straight back, not its three
#: quarters; common practice, no source.
BEHIND = -0.9
#: Heights above the ground as shares of the chin's, to look for points where nothing is placed:
#: Drillis and Contini (1966), as in Winter, Biomechanics and Motor Control of Human Movement
#: (2009), figure 4.1; toe and heel stand on the ground.
LEVELS = {
    name: height / 0.870
    for name, height in {
        "chin": 0.870,
        "neck": 0.870,
        "shoulder": 0.818,
        "elbow": 0.630,
        "wrist": 0.485,
        "fingertip": 0.377,
        "crotch": 0.530,
        "hip": 0.530,
        "knee": 0.285,
        "ankle": 0.039,
        "toe": 0.0,
    }.items()
}


def setting_of(sheet: Sheet, drawings: Drawings, placed: Sequence[Placing]) -> dict[str, object]:
    """Return what does not change on the page until it is loaded again."""
    marks = _walk(sheet.vocabulary)
    return {
        "character": sheet.character,
        "revision": sheet.revision,
        "reference": "" if sheet.reference == CONSENSUS else sheet.reference,
        "base": sheet.base,
        "file": LANDMARKS_FILE,
        "placing": sheet.placing,
        "placing_sd": sheet.placing_sd,
        "hidden_factor": HIDDEN_FACTOR,
        "order": _order(sheet),
        "parts": [
            {"name": name, "title": sheet.vocabulary.part_title(name)}
            for name in dict.fromkeys(mark.part for mark in marks if mark.part)
        ],
        "needed": ["ground", *sheet.vocabulary.head],
        "views": [
            _view(view, sheet, drawings, [p for p in placed if p.view == view.name])
            for view in sheet.views.values()
        ],
        "landmarks": [
            {name: getattr(mark, name) for name in ("name", "title", "kind", "says", "twin")}
            | {
                "part": _part_title(sheet.vocabulary, mark),
                "group": group_of(mark),
                "level": LEVELS.get(_stem(mark.name)),
                "mirrors": sheet.symmetric and mark.symmetric,
            }
            for mark in marks
        ],
    }


def first_of(
    setting: Mapping[str, Any], points: Collection[tuple[str, str]]
) -> tuple[str, str] | None:
    """Return which of some points, by view and landmark, a setting asks for first."""
    walks = {view["name"]: view["walk"] for view in setting["views"]}
    asked = ((view, name) for view in setting["order"] for name in walks[view])
    return next((point for point in asked if point in points), None)


def _view(
    view: View, sheet: Sheet, drawings: Drawings, placed: Sequence[Placing]
) -> dict[str, object]:
    drawing, picture = drawings[view.name], view.picture
    box = drawing.box  # of its figure, None where none is told from the ground
    ahead, aside = math.cos(math.radians(view.yaw)), math.sin(math.radians(view.yaw))
    far = "" if view.name in sheet.straight_on else "_l" if aside > 0 else "_r"
    return {
        "name": view.name,
        "title": spoken(view.name),
        "width": picture.width,
        "height": picture.height,
        "straight": view.name in sheet.straight_on,
        "edge_on": abs(ahead) <= EDGE_ON,
        "far": far,
        "behind": list(sheet.vocabulary.face) if ahead < BEHIND else [],
        "walk": [mark.name for mark in _walk(sheet.vocabulary, far or "_r")],
        "crop": _crop(box, picture, [p for p in placed if p.landmark != "ground"]),
        "foot": box[3] if box else picture.height - 0.5,
        "tall": box[3] - box[1] if box else picture.height,
        "shown": drawing.scale,
    }


def _order(sheet: Sheet) -> list[str]:
    """Return the views in the order in which they tell most: the base first, then what it hides."""
    base = sheet.views[sheet.base].yaw

    def tells(view: View) -> tuple[bool, float]:
        return view.name != sheet.base, -round(abs(math.sin(math.radians(view.yaw - base))), 3)

    return [view.name for view in sorted(sheet.views.values(), key=tells)]


def _walk(vocabulary: Vocabulary, far: str = "_r") -> list[Landmark]:
    """Return the landmarks in the order in which they are placed.

    Part by part, the ground first and what has no part last; a left and a right part are walked
    together, each landmark followed by its twin, the nearer first.
    """
    marks = list(vocabulary.landmarks.values())
    groups = [*dict.fromkeys(group_of(mark) for mark in marks if mark.part), ""]
    stems = list(dict.fromkeys(_stem(mark.name) for mark in marks))
    return sorted(
        marks,
        key=lambda mark: (
            mark.name != "ground",
            groups.index(group_of(mark)),
            stems.index(_stem(mark.name)),
            mark.name.endswith(far),
        ),
    )


def group_of(mark: Landmark) -> str:
    """Return the part that a landmark belongs to, left and right parts being one."""
    return _stem(mark.part)


def _stem(name: str) -> str:
    return name.removesuffix("_l").removesuffix("_r")


def _part_title(vocabulary: Vocabulary, mark: Landmark) -> str:
    if mark.part:
        return vocabulary.part_title(mark.part)
    return "the whole figure" if mark.name == "ground" else "other"


def _crop(
    box: tuple[float, float, float, float] | None, picture: Picture, placed: Sequence[Placing]
) -> list[float]:
    """Return left, top, right and bottom of what the line-up shows of a drawing, px."""
    whole = [-0.5, -0.5, picture.width - 0.5, picture.height - 0.5]
    if box is None:
        return whole
    room = ROOM * (box[3] - box[1])
    xs, ys = [p.x for p in placed], [p.y for p in placed]
    return [
        max(whole[0], min([box[0], *xs]) - room),
        max(whole[1], min([box[1], *ys]) - room),
        min(whole[2], max([box[2], *xs]) + room),
        min(whole[3], max([box[3], *ys]) + room),
    ]

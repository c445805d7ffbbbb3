"""Placings as COCO keypoints, the open data-set format of key points on pictures, both ways.

One image per view, one category whose `keypoints` are the landmark names (COCO data format,
cocodataset.org, sections 'data format' and 'keypoint detection').

A keypoint's x and y are 0-based pixel indices there, (0, 0) the top-left pixel itself, which is
turncheck's own frame: nothing is added or taken. (Boxes and outlines of COCO run from the edge
of that pixel; readers that bring both together add half a pixel to key points.) Visibility: 2
visible, 1 placed but hidden, 0 not placed, in which case x = y = 0.
"""

from __future__ import annotations

import json
import math
import shlex
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path, PurePosixPath
from statistics import fmean
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from turncheck.errors import Fault, FileFaults, TurncheckError, did_you_mean, unknown
from turncheck.files.atomic import save_new
from turncheck.files.user_files import is_file, is_folder, read_text, why_missing
from turncheck.files.version import VERSION
from turncheck.sheet.landmark_table import Placing, read_table, refuse_outside
from turncheck.sheet.merging_placings import Merged, merge_placings
from turncheck.sheet.model import LANDMARKS_FILE, Sheet, View

_ABSENT, _HIDDEN, _VISIBLE = 0, 1, 2
PLACED_BY = "imported"


@dataclass(frozen=True)
class PassedOver:
    """A picture of a COCO file that is no view: how many placings it has, and what it may be."""

    file: str
    placings: int
    hint: str


@dataclass(frozen=True)
class Imported(Merged):
    """What became of a COCO file's placings."""

    passed_over: tuple[PassedOver, ...]


def export_keypoints(sheet: Sheet, file: str | Path) -> tuple[int, int]:
    """Write a sheet's placings as COCO keypoints.

    Repeats are averaged, as they are for checking; how sure a placing is and who placed it stay
    behind, since the format has no place for them.

    Returns
    -------
    tuple
        How many keypoints were written, and how many of them are averages.

    Raises
    ------
    TurncheckError
        If nothing is placed, the file is there already, or its folder
        is not.
    """
    file = Path(file)
    if not is_folder(file.parent):
        says = f"there is no folder for it; make {file.parent} first, or name another"
        raise TurncheckError(Fault(says, str(file)))
    table = sheet.folder / LANDMARKS_FILE
    placings = read_table(table, sheet).placings.values()
    if not placings:
        says = (
            "nothing is placed yet; place the points with "
            f'"turncheck mark {shlex.quote(str(sheet.folder))}" first'
        )
        raise TurncheckError(Fault(says, str(table)))
    text = json.dumps(to_coco(sheet, placings), indent=1, ensure_ascii=False, allow_nan=False)
    save_new({file: text + "\n"})
    repeats = _by_spot(placings).values()
    return len(repeats), sum(len(placed) > 1 for placed in repeats)


def import_keypoints(sheet: Sheet, file: str | Path, *, replace: bool = False) -> Imported:
    """Take COCO keypoints into a sheet's landmark table.

    Parameters
    ----------
    replace
        Delete what is placed of these landmarks already; else it is left alone.

    Raises
    ------
    TurncheckError
        Naming every fault of the file; nothing is written then.
    """
    file = Path(file)
    faults = FileFaults(str(file))
    if not is_file(file):
        raise TurncheckError(Fault(why_missing(file, "file"), str(file)))
    placings, passed_over = from_coco(read_text(file, faults), sheet, str(file))
    merged = merge_placings(sheet, placings, replace=replace)
    return Imported(merged.written, merged.left, tuple(passed_over))


def to_coco(sheet: Sheet, placings: Iterable[Placing]) -> dict[str, Any]:
    """Return a sheet's placings as a COCO data set.

    The box of a figure is that of its keypoints, the area that of the box. The skeleton joins
    the pivots of each part in the vocabulary's order; its indices count from 1.
    """
    landmarks = sheet.vocabulary.landmarks
    numbers = {name: number for number, name in enumerate(landmarks, start=1)}
    pivots = sheet.vocabulary.of_kind("pivot")
    means = {spot: _mean(placed) for spot, placed in _by_spot(placings).items()}
    images, annotations = [], []
    for number, view in enumerate(sheet.views.values(), start=1):
        file, size = view.picture.file, {"width": view.picture.width, "height": view.picture.height}
        images.append({"id": number, "file_name": PurePosixPath(file).as_posix(), **size})
        points = [means.get((view.name, name)) for name in landmarks]
        placed = [point for point in points if point is not None]
        if not placed:
            continue
        xs, ys = [x for x, _, _ in placed], [y for _, y, _ in placed]
        wide, high = max(xs) - min(xs), max(ys) - min(ys)
        annotations.append(
            {
                "id": number,
                "image_id": number,
                "category_id": 1,
                "iscrowd": 0,
                "bbox": [min(xs), min(ys), wide, high],
                "area": wide * high,
                "segmentation": [],
                "num_keypoints": len(placed),
                "keypoints": [value for point in points for value in point or (0, 0, _ABSENT)],
            }
        )
    skeleton = [
        [numbers[one.name], numbers[other.name]]
        for part in sheet.vocabulary.parts
        for one, other in pairwise(p for p in pivots if p.part == part)
    ]
    return {
        "info": {
            "description": f"{sheet.character}, revision {sheet.revision}",
            "contributor": f"turncheck {VERSION}",
        },
        "licenses": [],
        "images": images,
        "annotations": annotations,
        "categories": [
            {
                "id": 1,
                "name": sheet.vocabulary.name,
                "supercategory": "character",
                "keypoints": list(landmarks),
                "skeleton": skeleton,
            }
        ],
    }


def _by_spot(placings: Iterable[Placing]) -> dict[tuple[str, str], list[Placing]]:
    """Return the placings of each landmark on each view."""
    found: dict[tuple[str, str], list[Placing]] = {}
    for placing in placings:
        found.setdefault((placing.view, placing.landmark), []).append(placing)
    return found


def _mean(placed: list[Placing]) -> tuple[float, float, int]:
    """Return x and y of repeats and their visibility: hidden where one of them is."""
    visibility = _HIDDEN if any(placing.hidden for placing in placed) else _VISIBLE
    return fmean(p.x for p in placed), fmean(p.y for p in placed), visibility


class _Loose(BaseModel):
    """Part of a COCO file; keys that say nothing of keypoints are passed over."""

    model_config = ConfigDict(extra="ignore", allow_inf_nan=False, strict=True)


class _Image(_Loose):
    id: int
    file_name: str
    width: int
    height: int


class _Category(_Loose):
    id: int
    keypoints: list[str] = []


class _Annotation(_Loose):
    image_id: int
    category_id: int
    keypoints: list[float] = []


class _DataSet(_Loose):
    images: list[_Image]
    annotations: list[_Annotation]
    categories: list[_Category]


def from_coco(text: str, sheet: Sheet, name: str) -> tuple[list[Placing], list[PassedOver]]:
    """Return the placings in the text of a COCO file.

    Parameters
    ----------
    name
        The file's, for its faults.

    Returns
    -------
    tuple
        The placings, and each picture that has some but is no view.

    Raises
    ------
    TurncheckError
        Naming every fault.
    """
    faults = FileFaults(name)
    data = _parsed(text, faults)
    images = {image.id: image for image in data.images}
    categories = {category.id: category for category in data.categories}
    placings: list[Placing] = []
    passed_over: dict[str, int] = {}
    taken: set[str] = set()
    for number, annotation in enumerate(data.annotations, start=1):
        place = f"annotation {number}"
        if not annotation.keypoints:
            continue
        image, category = images.get(annotation.image_id), categories.get(annotation.category_id)
        if image is None or category is None:
            missing = "image_id" if image is None else "category_id"
            faults.add(place, f"its {missing} is not in the file; export the file again")
            continue
        view = _view_of(image, sheet)
        if view is None:
            placed = sum(value != _ABSENT for value in annotation.keypoints[2::3])
            passed_over[image.file_name] = passed_over.get(image.file_name, 0) + placed
            continue
        if view.name in taken:
            faults.add(place, f"is a second figure on {view.picture.file}; keep one of them")
            continue
        taken.add(view.name)
        size = (view.picture.width, view.picture.height)
        if (image.width, image.height) != size:
            faults.add(
                place,
                f"was placed on {view.picture.file} at {image.width} × {image.height} px, but the "
                f"drawing has {size[0]} × {size[1]}; place on the drawing itself",
            )
        elif len(annotation.keypoints) != 3 * len(category.keypoints):
            faults.add(
                place,
                f"has {len(annotation.keypoints)} numbers for {len(category.keypoints)} keypoints; "
                "there must be x, y and visibility for each",
            )
        else:
            placings += _placings(annotation, category, view, sheet, place, faults)
    files = [view.picture.file for view in sheet.views.values()]
    if not taken:
        known = ", ".join(files)
        faults.add("", f"has no keypoints on a drawing of this sheet; those are {known}")
    faults.raise_any()
    return placings, [
        PassedOver(file, placed, did_you_mean(_path(file).name, files))
        for file, placed in passed_over.items()
        if placed
    ]


def _placings(
    annotation: _Annotation,
    category: _Category,
    view: View,
    sheet: Sheet,
    place: str,
    faults: FileFaults,
) -> list[Placing]:
    known = sheet.vocabulary.landmarks
    seen: set[str] = set()
    placings: list[Placing] = []
    for k, landmark in enumerate(category.keypoints):
        x, y, visibility = annotation.keypoints[3 * k : 3 * k + 3]
        twice = landmark in seen
        seen.add(landmark)
        if visibility == _ABSENT:
            continue
        if visibility not in (_HIDDEN, _VISIBLE):
            faults.add(place, f"{landmark} has visibility {visibility:g}; it must be 0, 1 or 2")
        elif landmark not in known:
            faults.add(place, unknown(landmark, known, "a landmark"))
        elif twice:
            faults.add(place, f"{landmark} stands twice among the keypoints; delete one")
        elif not refuse_outside(landmark, x, y, view.picture, place, faults):
            hidden = visibility == _HIDDEN
            placings.append(Placing(view.name, landmark, x, y, hidden, math.nan, PLACED_BY))
    return placings


def _view_of(image: _Image, sheet: Sheet) -> View | None:
    """Return the view that an image is the drawing of: by its path, else by its bare name."""
    file = _path(image.file_name)
    files = [(view, PurePosixPath(view.picture.file)) for view in sheet.views.values()]
    exact = [view for view, own in files if own == file]
    found = exact or [view for view, own in files if own.name == file.name]
    return found[0] if len(found) == 1 else None


def _path(file: str) -> PurePosixPath:
    return PurePosixPath(file.replace("\\", "/"))


def _parsed(text: str, faults: FileFaults) -> _DataSet:
    try:
        raw = json.loads(text)
    except RecursionError:
        faults.add(
            "", "not readable as JSON: brackets within brackets without end; export it again"
        )
    except ValueError as error:
        faults.add("", f"not readable as JSON: {error}; export it again")
    faults.raise_any()
    try:
        return _DataSet.model_validate(raw)
    except ValidationError as error:
        for fault in error.errors(include_url=False):
            faults.add(_place(fault["loc"]), _sentence(fault))
    faults.raise_any()
    raise AssertionError


def _place(path: tuple[str | int, ...]) -> str:
    return " ".join(f"number {step + 1}" if isinstance(step, int) else step for step in path)


def _sentence(fault: Any) -> str:
    if fault["type"] == "missing":
        return "is missing; export the file as COCO keypoints"
    wanted = {
        "list_type": "a list in [ ]",
        "int_type": "a whole number",
        "float_type": "a number",
        "finite_number": "a number",
        "string_type": 'text in quotes, as in "front.png"',
    }
    return f"must be {wanted.get(fault['type'], 'an object in { }')}; export the file again"

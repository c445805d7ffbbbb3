"""The two files that hold what was learned from a show: numbers, and what they were learned from.

Neither can hold anything but data: the numbers are numpy's own format without objects, read so.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
from pydantic import BaseModel, Field

from turncheck.errors import Fault, FileFaults, TurncheckError, shown
from turncheck.files.own import SUMMARY, save_own
from turncheck.files.user_files import fingerprint, is_file, read_text
from turncheck.files.version import VERSION
from turncheck.placing.learned.model import SITUATIONS, ShowModel
from turncheck.placing.learned.outline import BANDS, PER_BAND
from turncheck.placing.learned.shapes import ShapeSpace
from turncheck.plain import counted

NUMBERS_FILE = "proposals.npz"
ABOUT_FILE = "proposals.json"
#: What each of them has held since the first version.
MARKS = {NUMBERS_FILE: b"outlines_mean.npy", ABOUT_FILE: SUMMARY}
#: What to do about another's file of these names.
MEND = "move it"
#: Raised with every change of what the numbers mean; another one is not used.
FORMAT_VERSION = 1
#: The largest file of numbers that is read, bytes: some twenty times what a large vocabulary on
#: eight drawings takes. Common practice, no source.
MOST_BYTES = 100_000_000


class Source(BaseModel, frozen=True):
    """A sheet that was learned from, or that was not, and why."""

    path: str
    character: str = ""
    revision: str = ""
    reason: str = ""


class Share(BaseModel, frozen=True):
    """How near proposals lay to the placings of characters left out, in one situation.

    Attributes
    ----------
    placed
        What was placed.
    points
        How many points were not.
    offered, within_1, within_2
        Of how many of them `mark` would propose a place, and the shares of those, %, that lie
        within 1 and 2 % of the figure height; None where there are none.
    before_offered, before_within_1, before_within_2
        The same without what is learned.
    silent
        Of how many points of a drawing what is learned says nothing, others lying nearer.
    """

    placed: str
    points: int
    offered: int
    within_1: float | None
    within_2: float | None
    before_offered: int
    before_within_1: float | None
    before_within_2: float | None
    silent: int


class PointShare(Share):
    """The same of one point."""

    view: str
    landmark: str


class About(BaseModel, frozen=True):
    """What a model was learned from, and how near its proposals lie; paths are seen from it."""

    format_version: int
    turncheck_version: str = VERSION
    vocabulary: str
    characters: int
    sheets: list[Source] = Field(min_length=1)
    left_out: list[Source]
    left_out_points: list[str]
    drawings: dict[str, str]
    points: list[tuple[int, str]] = Field(min_length=1)
    figures: list[Share]
    by_point: list[PointShare]
    numbers_sha256: str = ""


@dataclass(frozen=True)
class FoundModel:
    """A model that lies above a sheet, if it can be used there, and a sentence on it."""

    says: str
    model: ShowModel | None = None


def save_model(folder: Path, model: ShowModel, about: About) -> list[Path]:
    """Write a model's two files into a folder as `save_own` does, and return their paths."""
    held = io.BytesIO()
    np.savez(held, allow_pickle=False, **_arrays(model))
    told = about.model_copy(update={"numbers_sha256": fingerprint(held.getvalue())})
    text = json.dumps(told.model_dump(), indent=1, ensure_ascii=False) + "\n"
    return save_own(folder, MARKS, (held.getvalue(), text), MEND)


def find_model(sheet_folder: Path, vocabulary: str) -> FoundModel | None:
    """Return the model of the nearest folder, the sheet's or one above it, that has one.

    It is used where it was learned: one whose sheets do not lie below its folder is another show's.
    """
    try:
        start = sheet_folder.resolve()
    except (OSError, RuntimeError):
        return None
    for folder in (start, *start.parents):
        if is_file(folder / ABOUT_FILE):
            break
    else:
        return None
    path = shown(str(folder / NUMBERS_FILE))
    try:
        about = _read_about(folder)
        own = [one.path for one in about.sheets if is_file(folder / one.path)]
        if not own:
            says = "was learned from sheets that do not lie here, so it is not used"
            return FoundModel(f"{path} {says}.")
        if about.vocabulary != vocabulary:
            says = f"was learned from another kind of body ({shown(about.vocabulary)})"
            return FoundModel(f"{path} {says}, so it is not used.")
        model = _read_model(folder, about)
    except TurncheckError as error:
        return FoundModel(f"{str(error).splitlines()[0]}; it is not used.")
    from_these = counted(about.characters, "marked character")
    return FoundModel(f"Proposals use {path}, learned from {from_these} of this show.", model)


def _read_about(folder: Path) -> About:
    file = folder / ABOUT_FILE
    try:
        told = json.loads(read_text(file, FileFaults(str(file))))
        version = told.get("format_version") if isinstance(told, dict) else None
        if isinstance(version, int) and version != FORMAT_VERSION:
            raise TurncheckError(Fault(f"is of another version of turncheck; {_ANEW}", str(file)))
        return About.model_validate(told)
    except (ValueError, RecursionError):
        says = f"is no file that turncheck learn wrote; {_ANEW}"
        raise TurncheckError(Fault(says, str(file))) from None


def _read_model(folder: Path, about: About) -> ShowModel:
    file = folder / NUMBERS_FILE
    try:
        return _model(tuple(about.points), _read_arrays(file, about.numbers_sha256))
    except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
        says = f"does not go with {ABOUT_FILE} or can't be read; {_ANEW}"
        raise TurncheckError(Fault(says, str(file))) from None


_ANEW = 'run "turncheck learn" anew'


def _read_arrays(path: Path, sha256: str) -> dict[str, np.ndarray]:
    if path.stat().st_size > MOST_BYTES or fingerprint(data := path.read_bytes()) != sha256:
        raise ValueError
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        if sum(one.file_size for one in archive.infolist()) > MOST_BYTES:
            raise ValueError
    with np.load(io.BytesIO(data), allow_pickle=False) as numbers:
        return {name: numbers[name] for name in numbers.files}


def _arrays(model: ShowModel) -> dict[str, np.ndarray]:
    spaces = {"outlines": model.outlines, "shapes": model.shapes}
    return {
        f"{name}_{one.name}": getattr(space, one.name)
        for name, space in spaces.items()
        for one in fields(ShapeSpace)
    } | {name: np.asarray(getattr(model, name)) for name in _OWN}


_OWN = ("slopes", "start", "left", "doubt", "nearer", "hidden", "strangest")


def _model(points: tuple[tuple[int, str], ...], arrays: Mapping[str, np.ndarray]) -> ShowModel:
    """Return the model, every array being of its shape and finite.

    Raises
    ------
    ValueError, KeyError
        Where one is not, or is missing.
    """
    outline_scores, shape_scores = len(arrays["outlines_axes"]), len(arrays["shapes_axes"])
    numbers = len({yaw for yaw, _ in points}) * BANDS * PER_BAND
    spaces = {}
    sizes = {"outlines": (numbers, outline_scores), "shapes": (2 * len(points), shape_scores)}
    for name, (size, scores) in sizes.items():
        shapes = {"mean": (size,), "axes": (scores, size), "spread": (scores,), "noise": (size,)}
        held = {key: _checked(arrays[f"{name}_{key}"], shape) for key, shape in shapes.items()}
        if min(held["noise"].min(), held["spread"].min()) <= 0.0:
            raise ValueError
        spaces[name] = ShapeSpace(**held)
    doubt = arrays["doubt"]
    for name, shape in (("hidden", doubt.shape[1:]), ("nearer", doubt.shape)):
        if arrays[name].shape != shape or arrays[name].dtype != bool:
            raise ValueError
    said = np.nan_to_num(_checked(doubt, (SITUATIONS, len(points)), np.isnan(doubt)), nan=1.0)
    if said.min() < 0.0:
        raise ValueError
    return ShowModel(
        points,
        spaces["outlines"],
        spaces["shapes"],
        _checked(arrays["slopes"], (outline_scores, shape_scores)),
        _checked(arrays["start"], (shape_scores,)),
        _checked(arrays["left"], (shape_scores, shape_scores)),
        doubt,
        arrays["nearer"],
        arrays["hidden"],
        float(_checked(arrays["strangest"], ())),
    )


def _checked(
    array: np.ndarray, shape: tuple[int, ...], but: np.ndarray | bool = False
) -> np.ndarray:
    if array.shape != shape or array.dtype != np.float64 or not (np.isfinite(array) | but).all():
        raise ValueError
    return array

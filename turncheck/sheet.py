"""The sheet: one character at one revision, read from `sheet.toml` and checked once, here."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from turncheck.errors import FileFaults, did_you_mean
from turncheck.pictures.reading import Picture, inspect_picture
from turncheck.toml_faults import note_faults
from turncheck.vocabulary import (
    NAME_PATTERN,
    LandmarkEntry,
    ProportionEntry,
    Vocabulary,
    extended,
    read_vocabulary,
)

Placing = Literal["canvas", "ground", "fit"]
CONSENSUS = "consensus"
SHEET_FILE = "sheet.toml"
LANDMARKS_FILE = "landmarks.csv"


@dataclass(frozen=True)
class View:
    """One drawing of the sheet, at a nominal yaw in degrees within (-180, 180]."""

    name: str
    picture: Picture
    yaw: float
    flip_of: str = ""
    figure: str = ""


@dataclass(frozen=True)
class Waiver:
    """A finding that a named role accepts, with the reason."""

    check: str
    view: str
    subject: str
    reason: str
    by: str


@dataclass(frozen=True)
class Sheet:
    """One character at one revision.

    Attributes
    ----------
    folder
        Where the sheet lies.
    reference
        The name of the view that the others are held against, or 'consensus'.
    placing_sd
        Standard uncertainty of one placing, in % of the figure height.
    tolerances
        Tolerance by check, where the sheet sets one.
    """

    folder: Path
    character: str
    revision: str
    reference: str
    placing: Placing
    placing_sd: float
    symmetric: bool
    vocabulary: Vocabulary
    views: Mapping[str, View]
    tolerances: Mapping[str, float]
    waivers: tuple[Waiver, ...]

    @property
    def base(self) -> str:
        """The view whose pixels are the unit: the reference, else the one nearest to the front."""
        if self.reference != CONSENSUS:
            return self.reference
        return min(self.views.values(), key=lambda view: abs(view.yaw)).name

    @property
    def slug(self) -> str:
        """A folder name for this character and revision."""
        return f"{_slug(self.character)}-{_slug(self.revision)}"


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class ViewEntry(_Strict):
    """`[views.NAME]`: one drawing."""

    image: str = Field(min_length=1, description="the drawing's file, inside the sheet's folder")
    yaw: float = Field(
        ge=-360, le=360, description="degrees; 0 front, 45 three-quarter, 90 side, 180 back"
    )
    flip_of: str = Field("", description="name of the view that this one may mirror, if any")
    figure: str = Field("", description="a mask picture of the figure, if it can't be found")


class WaiverEntry(_Strict):
    """`[[waivers]]`: a finding that is meant."""

    check: str
    view: str
    subject: str
    reason: str = Field(min_length=1)
    by: str = Field(min_length=1)


class SheetFile(_Strict):
    """A turncheck sheet: one character at one revision."""

    character: str = Field(min_length=1, max_length=120)
    revision: str = Field(min_length=1, max_length=60)
    reference: str = Field("front", description='a view\'s name, or "consensus"')
    placing: Placing = Field(
        "ground",
        description="canvas: y compares as it is; ground: each view on its own ground line; "
        "fit: scale and ground by robust fit",
    )
    vocabulary: str = Field("biped", description="biped, quadruped, or a TOML file beside this")
    placing_sd: float = Field(
        0.15, gt=0, le=10, description="standard uncertainty of one placing, % of figure height"
    )
    symmetric: bool = Field(True, description="the body is meant mirror-symmetric")
    views: dict[str, ViewEntry] = Field(min_length=1)
    tolerances: dict[str, float] = Field(default_factory=dict, description="by check")
    landmarks: dict[str, LandmarkEntry] = Field(default_factory=dict)
    proportions: tuple[ProportionEntry, ...] = ()
    waivers: tuple[WaiverEntry, ...] = ()


_TABLES: dict[tuple[str, ...], type[BaseModel]] = {
    (): SheetFile,
    ("views", "*"): ViewEntry,
    ("landmarks", "*"): LandmarkEntry,
    ("proportions", "*"): ProportionEntry,
    ("waivers", "*"): WaiverEntry,
}


def json_schema() -> str:
    """Return the JSON Schema of `sheet.toml`, for editors that complete it."""
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    schema |= SheetFile.model_json_schema()
    return json.dumps(schema, indent=2, ensure_ascii=False) + "\n"


def find_sheet(path: Path) -> Path:
    """Return the sheet file meant by a folder or a file path.

    Raises
    ------
    TurncheckError
        If there is none.
    """
    faults = FileFaults(str(path))
    if path.is_dir():
        if not (path / SHEET_FILE).is_file():
            faults.add("", f'has no {SHEET_FILE}; start one with "turncheck new"')
            faults.raise_any()
        return path / SHEET_FILE
    if not path.is_file():
        faults.add("", "there is no such sheet; name a folder that holds a sheet.toml")
        faults.raise_any()
    return path


def read_sheet(path: Path, check_names: tuple[str, ...]) -> Sheet:
    """Read and check a sheet; the drawings' headers are read, not their pixels.

    Parameters
    ----------
    path
        A folder with a `sheet.toml`, or the file itself.
    check_names
        The checks that tolerances and waivers may name.

    Raises
    ------
    TurncheckError
        Naming every fault of the file and how to mend it.
    """
    file = find_sheet(path)
    faults = FileFaults(str(file))
    parsed = _parse(file, faults)
    for name in (*parsed.views, *parsed.landmarks):
        if not re.match(NAME_PATTERN, name.replace("*", "x")):
            faults.add("", f'"{name}" is not a usable name; use letters, digits, _ . - only')
    _refuse_control_characters(parsed, faults)
    faults.raise_any()

    vocabulary = extended(
        read_vocabulary(parsed.vocabulary, file.parent),
        parsed.landmarks,
        parsed.proportions,
        faults,
    )
    views: dict[str, View] = {}
    for name, entry in parsed.views.items():
        picture = inspect_picture(file.parent, entry.image, f"[views.{name}]", faults)
        if entry.figure:
            inspect_picture(file.parent, entry.figure, f"[views.{name}] figure", faults)
        if picture is not None:
            views[name] = View(name, picture, _turned(entry.yaw), entry.flip_of, entry.figure)
    _cross_check(parsed, check_names, faults)
    faults.raise_any()
    return Sheet(
        folder=file.parent,
        character=parsed.character,
        revision=parsed.revision,
        reference=parsed.reference,
        placing=parsed.placing,
        placing_sd=parsed.placing_sd,
        symmetric=parsed.symmetric,
        vocabulary=vocabulary,
        views=views,
        tolerances=parsed.tolerances,
        waivers=tuple(Waiver(**entry.model_dump()) for entry in parsed.waivers),
    )


def _parse(file: Path, faults: FileFaults) -> SheetFile:
    try:
        raw = tomllib.loads(file.read_text("utf-8-sig"))
    except tomllib.TOMLDecodeError as error:
        faults.add("", f"not readable as TOML: {error}; mend that line")
    except UnicodeDecodeError:
        faults.add("", "not UTF-8 text; save it as UTF-8")
    except OSError as error:
        faults.add("", f"can't be read: {error.strerror}")
    faults.raise_any()
    parsed = note_faults(SheetFile, raw, _TABLES, faults)
    faults.raise_any()
    assert isinstance(parsed, SheetFile)
    return parsed


def _cross_check(parsed: SheetFile, check_names: tuple[str, ...], faults: FileFaults) -> None:
    views = parsed.views
    if parsed.reference != CONSENSUS and parsed.reference not in views:
        hint = did_you_mean(parsed.reference, [*views, CONSENSUS])
        faults.add("", f'reference = "{parsed.reference}" is not a view of this sheet; {hint}')
    if len(views) < 2:
        faults.add("", "one view alone can't be checked; add another drawing under [views.NAME]")
    elif len(views) == 2 and parsed.reference == CONSENSUS:
        faults.add(
            "",
            "two views have no consensus, since neither outvotes the other; "
            "name one of them as the reference or add a third drawing",
        )
    at_yaw: dict[float, str] = {}
    for name, entry in views.items():
        yaw = _turned(entry.yaw)
        if yaw in at_yaw:
            faults.add(
                f"[views.{name}]",
                f"yaw = {entry.yaw:g} is taken by [views.{at_yaw[yaw]}]; "
                "give each drawing its own yaw",
            )
        at_yaw.setdefault(yaw, name)
        if entry.flip_of and entry.flip_of not in views:
            faults.add(
                f"[views.{name}]",
                f'flip_of = "{entry.flip_of}" is not a view; {did_you_mean(entry.flip_of, views)}',
            )
    for name, value in parsed.tolerances.items():
        if name not in check_names:
            faults.add(
                "[tolerances]", f'"{name}" is not a check; {did_you_mean(name, check_names)}'
            )
        elif value <= 0:
            faults.add("[tolerances]", f"{name} = {value:g} must be greater than 0")
    for number, waiver in enumerate(parsed.waivers, start=1):
        place = f"[[waivers]] number {number}"
        if waiver.check not in check_names:
            hint = did_you_mean(waiver.check, check_names)
            faults.add(place, f'check = "{waiver.check}" is not a check; {hint}')
        if waiver.view not in views:
            hint = did_you_mean(waiver.view, views)
            faults.add(place, f'view = "{waiver.view}" is not a view of this sheet; {hint}')


def _refuse_control_characters(parsed: SheetFile, faults: FileFaults) -> None:
    texts = {"character": parsed.character, "revision": parsed.revision}
    texts |= {f'[[proportions]] "{ratio.name!r}"': ratio.name for ratio in parsed.proportions}
    for place, text in texts.items():
        if not text.isprintable() or not text.strip():
            faults.add(place, "holds an unprintable character or nothing; write plain text")


def _turned(yaw: float) -> float:
    """Return the same direction within (-180, 180].

    >>> _turned(270.0), _turned(-180.0)
    (-90.0, 180.0)
    """
    return 180.0 - (180.0 - yaw) % 360.0


def _slug(text: str) -> str:
    slug = re.sub(r"[^\w.-]+", "_", text.strip(), flags=re.UNICODE).strip("._-")
    return slug[:60] or "sheet"

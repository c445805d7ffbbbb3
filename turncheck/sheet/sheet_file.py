"""Reads `sheet.toml` and checks it once, here."""

from __future__ import annotations

import posixpath
from collections.abc import Collection, Iterable
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, Field

from turncheck.errors import Fault, FileFaults, TurncheckError, quoted, unknown
from turncheck.files.own import json_text
from turncheck.files.user_files import is_archive, is_file, is_folder, read_text, slashes
from turncheck.images.picture_file import Picture, inspect_picture, read_header
from turncheck.numerics.angles import wrapped
from turncheck.sheet.model import (
    CHARACTER_LONGEST,
    CONSENSUS,
    SHEET_FILE,
    LinedUpBy,
    Rig,
    Sheet,
    View,
    Waiver,
)
from turncheck.sheet.toml_faults import Colour, Entry, Flag, Number, Text, Tolerance, read_toml
from turncheck.sheet.vocabulary import (
    SHIPPED,
    LandmarkEntry,
    Proportion,
    extended,
    read_vocabulary,
    refuse_name,
)


class ViewEntry(Entry):
    """`[views.NAME]`: one drawing."""

    image: Text = Field(min_length=1, description="the drawing's file, inside the sheet's folder")
    yaw: Number = Field(
        ge=-360, le=360, description="degrees; 0 front, 45 three-quarter, 90 side, 180 back"
    )
    flip_of: Text = Field("", description="name of the view that this one may mirror, if any")
    figure: Text = Field("", description="a mask picture of the figure, if it can't be found")
    dots: dict[str, Colour] = Field(
        default_factory=dict, description="colours of dots that differ from [dots], by landmark"
    )
    drawn_by: Text = Field("", description="who drew it, if not who drew the sheet's others")


def _unit(given: Any) -> float:
    if given == "px":
        return 0.0
    if not _is_number(given) or given <= 0:
        raise ValueError('is no unit; write "px", or how many units tall the figure is, as in 170')
    return float(given)


def _origin(given: Any) -> tuple[float, float] | None:
    if given == "ground":
        return None
    if not isinstance(given, list) or len(given) != 2 or not all(map(_is_number, given)):
        raise ValueError('is no origin; write "ground", or [x, y] in px of each drawing')
    return float(given[0]), float(given[1])


def _is_number(given: Any) -> bool:
    return isinstance(given, int | float) and not isinstance(given, bool) and abs(given) <= 1e9


class RigEntry(Entry):
    """`[rig]`: units of the table of pivots."""

    unit: Annotated[float, BeforeValidator(_unit)] = Field(
        0.0,
        description='"px" of the reference drawing, or how many units tall the figure is',
        json_schema_extra={"default": "px", "type": ["number", "string"]},
    )
    origin: Annotated[tuple[float, float] | None, BeforeValidator(_origin)] = Field(
        None,
        description='"ground": the turning axis on the ground; or [x, y] in px of each drawing',
        json_schema_extra={"default": "ground", "anyOf": [{"const": "ground"}, {"type": "array"}]},
    )
    y_up: Flag = Field(True, description="y counts upwards")


class SheetFile(Entry):
    """A turncheck sheet: one character at one revision."""

    character: Text = Field(min_length=1, max_length=CHARACTER_LONGEST)
    revision: Text = Field(min_length=1, max_length=60)
    drawn_by: Text = Field("", description="who drew it, for what a whole show has in common")
    height_cm: Number = Field(
        0,
        ge=0,
        le=100_000,
        description="how tall the character is, for the cast line-up; 0: unknown",
    )
    reference: Text = Field("front", description='a view\'s name, or "consensus"')
    placing: LinedUpBy = Field(
        "ground",
        description="canvas: y compares as it is; ground: each view on its own ground line; "
        "fit: scale and ground by robust fit",
    )
    vocabulary: Text = Field("biped", description="biped, quadruped, or a TOML file beside this")
    placing_sd: Number = Field(
        0.15, ge=0.001, le=10, description="standard uncertainty of one placing, % of figure height"
    )
    symmetric: Flag = Field(True, description="the body is meant mirror-symmetric")
    views: dict[str, ViewEntry] = Field(min_length=1)
    tolerances: dict[str, Tolerance] = Field(default_factory=dict, description="by check")
    landmarks: dict[str, LandmarkEntry] = Field(default_factory=dict)
    proportions: tuple[Proportion, ...] = ()
    waivers: tuple[Waiver, ...] = ()
    dots: dict[str, Colour] = Field(
        default_factory=dict, description="colour of the dot left on each landmark"
    )
    rig: RigEntry | None = Field(None, description="units of the table of pivots")


def json_schema() -> str:
    """Return the JSON Schema of `sheet.toml`, for editors that complete it."""
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema"}
    schema |= SheetFile.model_json_schema()
    return json_text(schema)


def parse_sheet(text: str, faults: FileFaults) -> SheetFile:
    """Return the text of a sheet's file as written; what it names is not looked at.

    Raises
    ------
    TurncheckError
        If it has faults other than unknown keys, which are noted and left out.
    """
    return read_toml(text, SheetFile, faults)


def find_sheet(path: Path) -> Path:
    """Return the sheet file meant by a folder or a file path.

    Raises
    ------
    TurncheckError
        If there is none, or the file is of another kind.
    """
    if is_file(path):
        if path.suffix.lower() != ".toml":
            picture = read_header(path, path.name, "", FileFaults(""))
            kind = "a picture" if picture else f"no {SHEET_FILE}"
            mend = "name the folder of the sheet"
            if is_file(path.parent / SHEET_FILE):
                mend += f', as in "{path.parent}"'
            if is_archive(path):
                kind, mend = "an archive", "unpack it and name the folder of the sheet"
            raise TurncheckError(Fault(f"that is {kind}; {mend}", str(path)))
        return path
    if is_file(path / SHEET_FILE):
        return path / SHEET_FILE
    for other in path.glob("*") if is_folder(path) else ():
        if other.name.lower() == SHEET_FILE:
            raise TurncheckError(Fault(f"rename it to {SHEET_FILE}, in small letters", str(other)))
    if not is_folder(path):
        says = slashes(str(path)) or "check the name"
        raise TurncheckError(Fault(f"there is no such folder; {says}", str(path)))
    mend = 'name a folder that holds one, or start one with "turncheck new"'
    if any(path.glob(f"*/{SHEET_FILE}")):
        mend = 'there are sheets in folders below; name one, or check all with "turncheck survey"'
    raise TurncheckError(Fault(f"there is no {SHEET_FILE} here; {mend}", str(path)))


def read_sheet(
    path: Path,
    check_names: tuple[str, ...],
    further_tolerances: tuple[str, ...] = (),
    further_waived: tuple[str, ...] = (),
) -> Sheet:
    """Read and check a sheet; the drawings' headers are read, not their pixels.

    Parameters
    ----------
    path
        A folder with a `sheet.toml`, or the file itself.
    check_names
        The checks that tolerances and waivers may name.
    further_tolerances, further_waived
        Names of tolerances, and of rows that waivers may name, that are no check's.

    Raises
    ------
    TurncheckError
        Naming every fault of the file and how to mend it.
    """
    file = find_sheet(path)
    faults = FileFaults(str(file))
    tolerance_names = (*check_names, *further_tolerances)
    settings = read_text(file, faults)
    parsed = parse_sheet(settings, faults)
    try:
        vocabulary = read_vocabulary(parsed.vocabulary, file.parent, named_in=file)
        vocabulary = extended(vocabulary, parsed.landmarks, parsed.proportions, faults)
        place = f"vocabulary {vocabulary.name}"
        _refuse_unknown(parsed.dots, vocabulary.landmarks, "a landmark", "[dots]", faults)
        for name, entry in parsed.views.items():
            own = f"[views.{name}.dots]"
            _refuse_unknown(entry.dots, vocabulary.landmarks, "a landmark", own, faults)
        _refuse_unknown(vocabulary.tolerances, tolerance_names, "a check", place, faults)
    except TurncheckError as error:
        faults.include(error)
    views: dict[str, View] = {}
    for name, entry in parsed.views.items():
        picture = _picture(file.parent, entry.image, f"[views.{name}] image", faults)
        mask = None
        if entry.figure:
            mask = _picture(file.parent, entry.figure, f"[views.{name}] figure", faults)
        if picture is not None:
            dots = parsed.dots | entry.dots
            artist = entry.drawn_by or parsed.drawn_by
            yaw = wrapped(entry.yaw)
            views[name] = View(name, picture, yaw, entry.flip_of, mask, dots, artist)
    _refuse_unknown(parsed.tolerances, tolerance_names, "a check", "[tolerances]", faults)
    _cross_check(parsed, (*check_names, *further_waived), faults)
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
        waivers=parsed.waivers,
        rig=Rig(parsed.rig.unit, parsed.rig.origin, parsed.rig.y_up) if parsed.rig else Rig(),
        settings=settings,
        vocabulary_file="" if parsed.vocabulary in SHIPPED else parsed.vocabulary,
        file=file.name,
        height_cm=parsed.height_cm,
    )


def _picture(folder: Path, file: str, place: str, faults: FileFaults) -> Picture | None:
    mend = slashes(file)
    if mend and not is_file(folder / file):
        faults.add(place, f"{quoted(file)} is not there; {mend}")
        return None
    return inspect_picture(folder, file, place, faults)


def _cross_check(parsed: SheetFile, check_names: tuple[str, ...], faults: FileFaults) -> None:
    views = parsed.views
    if parsed.reference != CONSENSUS and parsed.reference not in views:
        says = unknown(parsed.reference, [*views, CONSENSUS], "a view of this sheet")
        faults.add("", f"reference = {says}")
    if len(views) < 2:
        faults.add("", "one view alone can't be checked; add another drawing under [views.NAME]")
    elif len(views) == 2 and parsed.reference == CONSENSUS:
        faults.add(
            "",
            "two views have no consensus, since neither outvotes the other; "
            "name one of them as the reference or add a third drawing",
        )
    at_yaw: dict[float, str] = {}
    with_image: dict[str, str] = {}
    for name, entry in views.items():
        place = f"[views.{name}]"
        refuse_name(name, "[views]", faults)
        if name == CONSENSUS:
            faults.add(place, "this name means all views together; choose another")
        first = at_yaw.setdefault(wrapped(entry.yaw), name)
        if first != name:
            says = f"yaw = {entry.yaw:g} is taken by [views.{first}]; give each drawing its own yaw"
            faults.add(place, says)
        first = with_image.setdefault(posixpath.normpath(entry.image), name)
        if first != name:
            faults.add(
                place,
                f"image = {quoted(entry.image)} is the drawing of [views.{first}] already; "
                "name each view's own",
            )
        other = entry.flip_of
        if other == name:
            faults.add(place, "flip_of names the view itself; name another, or none")
        elif other and other not in views:
            faults.add(place, f"flip_of = {unknown(other, views, 'a view')}")
    for number, waiver in enumerate(parsed.waivers, start=1):
        place = f"[[waivers]] number {number}"
        if waiver.check not in check_names:
            faults.add(place, f"check = {unknown(waiver.check, check_names, 'a check')}")
        if waiver.view not in views:
            faults.add(place, f"view = {unknown(waiver.view, views, 'a view of this sheet')}")


def _refuse_unknown(
    names: Iterable[str], known: Collection[str], what: str, place: str, faults: FileFaults
) -> None:
    for name in names:
        if name not in known:
            faults.add(place, unknown(name, known, what))

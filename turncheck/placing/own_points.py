"""Writes a point of the user's own into `sheet.toml`, or that the character lacks one."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

from pydantic import BaseModel, Field

from turncheck.errors import Fault, FileFaults, TurncheckError
from turncheck.files.atomic import alone_in, not_written, put_in_place
from turncheck.files.user_files import read_encoded
from turncheck.sheet.model import Sheet
from turncheck.sheet.vocabulary import NAME_PATTERN, Kind, LandmarkEntry, extended


class OwnPoint(BaseModel, extra="forbid", frozen=True):
    """A point to add, or `absent` for one to do without; `sides` for one on each side."""

    name: str = Field(max_length=64, pattern=NAME_PATTERN)
    kind: Kind | None = None
    part: str = Field("", max_length=64)
    sides: bool = False
    absent: bool = False


def write_point(sheet: Sheet, file: Path, point: OwnPoint) -> None:
    """Add a point's table at the end of a sheet's file; the rest stays as its owner wrote it.

    Raises
    ------
    TurncheckError
        If the point can't be added or left out, or the file can't be written; nothing is then.
    """
    name = f"{point.name}_*" if point.sides else point.name
    part = point.part
    if point.sides and part.endswith(("_l", "_r")):
        part = f"{part[:-1]}*"
    known = {name, *(name.replace("*", side) for side in "lr")} & set(sheet.vocabulary.landmarks)
    if bool(known) != point.absent:
        why = "there is no such point" if point.absent else "there is a point of this name already"
        raise TurncheckError(Fault(f"{why}; choose another", str(file), f"[landmarks.{name}]"))
    keys: dict[str, object] = {"absent": True} if point.absent else {"kind": point.kind}
    keys |= {"part": part} if part and not point.absent else {}
    faults = FileFaults(str(file))
    extended(sheet.vocabulary, {name: LandmarkEntry.model_validate(keys)}, (), faults)
    faults.raise_any()
    table = "".join(f"{key} = {json.dumps(value)}\n" for key, value in keys.items())
    try:
        with alone_in(file.resolve().parent):
            text, encoding = read_encoded(file, faults)
            end = "" if not text or text.endswith("\n") else "\n"
            more = f"{text}{end}\n[landmarks.{json.dumps(name)}]\n{table}"
            _refuse_any_other_change(text, more, name, keys, file)
            put_in_place({file.resolve(): more.encode(encoding)}, new=(), lasting=True)
    except OSError as error:
        raise not_written(error) from error


def _refuse_any_other_change(
    text: str, more: str, name: str, keys: dict[str, object], file: Path
) -> None:
    """Raise where the longer text does not say just this more."""
    try:
        was, now = tomllib.loads(text), tomllib.loads(more)
    except tomllib.TOMLDecodeError:
        was, now = {}, {}
    if now != {**was, "landmarks": {**was.get("landmarks", {}), name: keys}}:
        says = "can't be added to; write it there yourself"
        raise TurncheckError(Fault(says, str(file), f"[landmarks.{name}]"))

"""Starts a sheet: guesses views from file names and writes a commented `sheet.toml`."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from turncheck.errors import UNSHOWN, FileFaults, TurncheckError
from turncheck.files import is_file, is_inside
from turncheck.pictures.reading import read_header
from turncheck.saving import save_together
from turncheck.sheet import LONGEST_CHARACTER, SHEET_FILE, Placing, parse_sheet

_QUARTERS = r"(?:three|3)_?(?:quarters?|4|q)|tq"
#: Names that drawings go by and their nominal yaw in degrees; the first that fits wins.
#: Common practice, no source.
_NAMED: tuple[tuple[str, str, float], ...] = (
    (rf"(back|rear)_?({_QUARTERS})|({_QUARTERS})_?(back|rear)", "back_three_quarter", 135.0),
    (_QUARTERS, "three_quarter", 45.0),
    (r"front", "front", 0.0),
    (r"back|rear", "back", 180.0),
    (r"side|profile", "side", 90.0),
)  # fmt: skip
_BY_YAW = {yaw: name for _, name, yaw in _NAMED}


@dataclass(frozen=True)
class Started:
    """A new sheet: its file, and each view's drawing and nominal yaw."""

    file: Path
    views: dict[str, tuple[str, float]]


def new(
    folder: str | Path,
    images: Iterable[str | Path],
    *,
    character: str | None = None,
    revision: str = "A",
) -> Started:
    """Start a sheet folder from drawings.

    Parameters
    ----------
    folder
        Where the sheet goes; made if need be.
    images
        The drawings. Those that lie outside the folder are copied into it.

    Raises
    ------
    TurncheckError
        If a drawing can't be read or the folder holds a sheet; nothing is written then.
    """
    folder = Path(folder)
    drawings = [Path(image) for image in images]
    if os.path.lexists(folder / SHEET_FILE):
        raise TurncheckError(
            f"{folder / SHEET_FILE}: there is a sheet already; edit it, or name a new folder"
        )
    if character is None:
        character = titled(folder.absolute().name)
    faults = FileFaults(str(folder))
    places = _places(folder, drawings, faults)
    faults.raise_any()
    views = name_views(places)
    text = sheet_text(character, revision, views)
    parse_sheet(text, faults)  # refuses a character or a revision that no sheet may have
    copies = {file: path for file, path in places.items() if not is_file(folder / file)}
    save_together(folder, {**copies, SHEET_FILE: text})
    return Started(folder / SHEET_FILE, views)


def name_views(files: Iterable[str]) -> dict[str, tuple[str, float]]:
    """Guess a view's name and yaw for each file; what can't be guessed gets a free yaw.

    Returns
    -------
    dict
        view: (file, yaw in degrees), by yaw. A yaw in the name (`odo_yaw30`) wins over a word,
        a word over a bare number of degrees (`odo-045`); a second drawing of one yaw gets the
        next free one.

    Raises
    ------
    TurncheckError
        If there are more drawings than whole degrees of turn.

    Examples
    --------
    >>> name_views(["odo_front.png", "odo 3-4.png", "odo_yaw30.png"])
    {'front': ('odo_front.png', 0.0), 'yaw_30': ('odo_yaw30.png', 30.0), 'three_quarter': ('odo 3-4.png', 45.0)}
    """  # noqa: E501
    guessed: list[tuple[str, float | None]] = [(file, _guess(file)) for file in files]
    taken = {yaw for _, yaw in guessed if yaw is not None}
    steps = (0, 45, 90, 180, 135, *range(15, 180, 15), *range(-15, -180, -15), *range(-179, 180))
    free = [float(yaw) for yaw in dict.fromkeys(steps) if yaw not in taken]
    if len(guessed) > len(taken) + len(free):
        raise TurncheckError(
            f"{len(guessed)} drawings are more than one sheet can hold; name fewer"
        )
    used: set[float] = set()
    found: list[tuple[str, str, float]] = []
    for file, guess in guessed:
        yaw = guess if guess is not None and guess not in used else free.pop(0)
        used.add(yaw)
        name = _BY_YAW.get(yaw, f"yaw_{yaw:g}".replace("-", "minus_").replace(".", "_"))
        found.append((name, file, yaw))
    return {name: (file, yaw) for name, file, yaw in sorted(found, key=lambda view: view[2])}


def _guess(file: str) -> float | None:
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Za-z]{4})(?=\d)", "_", Path(file).stem)
    stem = re.sub(r"[^a-z0-9+-]+", "_", parted.lower())
    angle = re.search(r"(?:[_-]|^)(yaw_?)?([+-]?\d{1,3})(?:_?deg)?$", stem)
    turned = 180.0 - (180.0 - float(angle[2])) % 360.0 if angle else None
    if angle and angle[1]:
        return turned
    words = stem.replace("-", "_")
    for pattern, _, yaw in _NAMED:
        if re.search(rf"(?<![a-z0-9])({pattern})(?![a-z0-9])", words):
            return yaw
    return turned if angle and int(angle[2]) % 15 == 0 else None


def titled(name: str) -> str:
    """Return a character's name after a folder's."""
    return UNSHOWN.sub("", name).strip()[:LONGEST_CHARACTER].strip() or "Unnamed"


def _places(folder: Path, drawings: list[Path], faults: FileFaults) -> dict[str, Path]:
    """Return each drawing by the name that it has or will have in the folder."""
    if not drawings:
        faults.add("", "no drawing is named; name at least one")
    places: dict[str, Path] = {}
    for path in drawings:
        place = str(path)
        if UNSHOWN.search(path.name):
            faults.add(place, "its name holds a character that can't be shown; rename it")
        elif not is_file(path):
            faults.add(place, "there is no such drawing; check the name")
        elif read_header(path, path.name, "", faults):
            inside = is_inside(path, folder)
            file = path.resolve().relative_to(folder.resolve()).as_posix() if inside else path.name
            if file in places and path.resolve() == places[file].resolve():
                faults.add(place, "this drawing is named twice; name it once")
            elif file in places:
                faults.add(place, "another drawing has the same file name; rename one")
            elif not inside and os.path.lexists(folder / file):
                faults.add(place, "the folder has a file of this name; rename the drawing")
            places[file] = path
    return places


def sheet_text(
    character: str,
    revision: str,
    views: dict[str, tuple[str, float]],
    placing: Placing = "ground",
) -> str:
    """Return a commented `sheet.toml` of views: (file, yaw in degrees) by name."""
    reference = "front" if "front" in views else next(iter(views))
    lines = [
        "# A turncheck sheet: one character at one revision.",
        f"character = {_quoted(character)}",
        f"revision = {_quoted(revision)}",
        f"reference = {_quoted(reference)}      # the view that the others are held against, "
        'or "consensus"',
        f"{f'placing = {_quoted(placing)}':25} # ground: each view stands on its own ground line",
        "                          # canvas: all drawings share one canvas, y compares as it is",
        "                          # fit: drawings of different sizes",
        'vocabulary = "biped"      # biped or quadruped',
        "placing_sd = 0.15         # how sure a placing is, % of the figure height",
        "symmetric = true          # the body is meant mirror-symmetric",
        "",
        "# Degrees of turn: 0 front, 45 three-quarter, 90 side, 180 back; positive turns the nose",
        "# to the picture's right.",
    ]
    for name, (file, yaw) in views.items():
        lines += [f"[views.{name}]", f"image = {_quoted(file)}", f"yaw = {yaw:g}", ""]
    lines += [
        "# What may pass, in % of the figure height. Delete the # to change one.",
        "[tolerances]",
        "# height = 1.0",
        "# eye_line = 0.5",
        "# pivot = 0.75",
        "",
    ]
    return "\n".join(lines)


def _quoted(text: str) -> str:
    # a JSON string is a TOML basic string, but for the delete character (TOML 1.0, String)
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")

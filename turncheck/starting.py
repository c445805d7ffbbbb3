"""Starts a sheet: guesses views from file names and writes a commented `sheet.toml`."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from turncheck.errors import FileFaults, TurncheckError
from turncheck.pictures.reading import inspect_picture
from turncheck.saving import save_together
from turncheck.sheet import SHEET_FILE

#: Names that drawings go by and their nominal yaw in degrees; the first that fits wins.
#: Common practice, no source.
_NAMED: tuple[tuple[str, str, float], ...] = (
    (r"(back|rear)_?(three_?quarters?|3_?4|3q)|(three_?quarters?|3_?4|3q)_?(back|rear)",
     "back_three_quarter", 135.0),
    (r"three_?quarters?|3_?4|3q|tq", "three_quarter", 45.0),
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
    if (folder / SHEET_FILE).exists():
        raise TurncheckError(
            f"{folder / SHEET_FILE}: there is a sheet already; edit it, or name a new folder"
        )
    outside = [p for p in drawings if not p.resolve().is_relative_to(folder.resolve())]
    _refuse(folder, drawings, outside)
    files = [p.name if p in outside else _inside(p, folder) for p in drawings]
    views = name_views(files)
    text = _sheet_text(character or folder.resolve().name, revision, views)
    folder.mkdir(parents=True, exist_ok=True)
    for path in outside:
        shutil.copyfile(path, folder / path.name)
    save_together(folder, {SHEET_FILE: text})
    return Started(folder / SHEET_FILE, views)


def name_views(files: Iterable[str]) -> dict[str, tuple[str, float]]:
    """Guess a view's name and yaw for each file; what can't be guessed gets a free yaw.

    Returns
    -------
    dict
        view: (file, yaw in degrees), by yaw. An angle in the name (`odo_yaw30`, `odo-045`)
        wins over a word; a second drawing of one yaw gets the next free one.

    Examples
    --------
    >>> name_views(["odo_front.png", "odo 3-4.png", "odo_yaw30.png"])
    {'front': ('odo_front.png', 0.0), 'yaw_30': ('odo_yaw30.png', 30.0), 'three_quarter': ('odo 3-4.png', 45.0)}
    """  # noqa: E501
    guessed: list[tuple[str, float | None]] = [(file, _guess(file)) for file in files]
    taken = {yaw for _, yaw in guessed if yaw is not None}
    free = [yaw for yaw in (0.0, 45.0, 90.0, 180.0, 135.0) if yaw not in taken]
    free += [float(yaw) for yaw in range(15, 180, 15) if yaw not in taken and yaw not in free]
    used: set[float] = set()
    found: list[tuple[str, str, float]] = []
    for file, guess in guessed:
        yaw = guess if guess is not None and guess not in used else free.pop(0)
        used.add(yaw)
        name = _BY_YAW.get(yaw, f"yaw_{yaw:g}".replace("-", "minus_").replace(".", "_"))
        found.append((name, file, yaw))
    return {name: (file, yaw) for name, file, yaw in sorted(found, key=lambda view: view[2])}


def _guess(file: str) -> float | None:
    stem = re.sub(r"[^a-z0-9+-]+", "_", Path(file).stem.lower())
    angle = re.search(r"(?:yaw_?|[_-]|^)([+-]?\d{1,3})(?:_?deg)?$", stem)
    words = stem.replace("-", "_")
    for pattern, _, yaw in _NAMED:
        if re.search(rf"(?<![a-z0-9])({pattern})(?![a-z0-9])", words):
            return yaw
    if angle and ("yaw" in stem or int(angle[1]) % 15 == 0):
        return 180.0 - (180.0 - float(angle[1])) % 360.0
    return None


def _refuse(folder: Path, drawings: list[Path], outside: list[Path]) -> None:
    faults = FileFaults(str(folder))
    if len({path.resolve() for path in drawings}) < len(drawings):
        faults.add("", "a drawing is named twice; name each once")
    names = [path.name for path in outside]
    for path in drawings:
        if not path.is_file():
            faults.add(str(path), "there is no such drawing; check the name")
            continue
        inspect_picture(path.resolve().parent, path.name, "", faults)
        clash = (folder / path.name).exists() or names.count(path.name) > 1
        if path in outside and clash:
            faults.add(str(path), "the folder has a file of this name; rename the drawing")
    faults.raise_any()


def _inside(path: Path, folder: Path) -> str:
    return path.resolve().relative_to(folder.resolve()).as_posix()


def _sheet_text(character: str, revision: str, views: dict[str, tuple[str, float]]) -> str:
    reference = "front" if "front" in views else next(iter(views))
    lines = [
        "# A turncheck sheet: one character at one revision.",
        f"character = {_quoted(character)}",
        f"revision = {_quoted(revision)}",
        f"reference = {_quoted(reference)}      # the view that the others are held against, "
        'or "consensus"',
        'placing = "ground"        # ground: each view stands on its own ground line',
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
    return json.dumps(text, ensure_ascii=False)  # a JSON string is a TOML basic string

"""Starts a sheet: guesses views from file names and writes a commented `sheet.toml`."""

from __future__ import annotations

import difflib
import json
import os
import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib import resources
from itertools import pairwise
from pathlib import Path

import numpy as np

from turncheck.errors import UNSHOWN, Fault, FileFaults, TurncheckError
from turncheck.files.atomic import save_new
from turncheck.files.user_files import is_file, is_inside, why_missing
from turncheck.images.figure_mask import figure_mask
from turncheck.images.picture_file import Picture, decode, read_header
from turncheck.numerics.angles import wrapped
from turncheck.sheet.model import CHARACTER_LONGEST, SHEET_FILE, LinedUpBy
from turncheck.sheet.sheet_file import parse_sheet

#: Words in file names, also of those who write German, French, Spanish, Italian, Portuguese and
#: Japanese (romaji); from memory. What is another thing as well stays out: "Seite" is a page,
#: "retro" a style, "dos" two, "face" a face, "avant" before, "Yoko" a name.
_QUARTERS = (
    "(?:three|3)_?(?:quarters?|4|q)|tq"
    "|(?:drei|3)_?viertel(?:ansicht|profil)?|halbprofil"
    "|(?:trois|tres|tre|3)_?(?:quarts?|cuartos|quarti|quartos)"
    "|naname(?:_?mae)?"
)
_BACK = (
    "back|rear|hinten|hinteransicht|rue?ck(?:seite|ansicht)|de_?dos|derriere|vue_?arriere"
    "|espalda|detras|atras|trasera|posterior|costas|dietro|schiena|dorso|ushiro|haimen"
)
_FRONT = (
    "front|frontal|frontansicht|vorne?|vorder(?:seite|ansicht)|de_?face|devant"
    "|frente|delantera|fronte|davanti|shou?men|syoumen"
)
_SIDE = (
    "side|profile|profil|seiten(?:ansicht|profil)|seitlich|de_?cote"
    "|perfil|lado|lateral|profilo|lato|laterale|sokumen|yokomuki"
)
#: Names that drawings go by and their nominal yaw in degrees; the first that fits wins.
#: Common practice, no source.
_NAMED: tuple[tuple[str, str, float], ...] = (
    (f"({_BACK})_?({_QUARTERS})|({_QUARTERS})_?({_BACK})", "back_three_quarter", 135.0),
    (_QUARTERS, "three_quarter", 45.0),
    (_FRONT, "front", 0.0),
    (_BACK, "back", 180.0),
    (_SIDE, "side", 90.0),
)
_BY_YAW = {yaw: name for _, name, yaw in _NAMED}
#: Words that a mistyped name may have meant, and how near it must come to one (the ratio of
#: Python's difflib, 0 to 1): a letter too many or too few in four, but neither "wide" nor
#: "backpack"; common practice, no source.
_WORDS = {"front": 0.0, "back": 180.0, "rear": 180.0, "side": 90.0, "profile": 90.0}
_WORDS |= {name: yaw for _, name, yaw in _NAMED} | {"threequarter": 45.0}
_LIKENESS_LEAST = 0.8
#: Figures of which one is taller than another by this factor were drawn at different sizes; common
#: practice, no source.
SIZES_DIFFER = 1.2
_BY_ORDER = "guessed from the order of the drawings alone"


@dataclass(frozen=True)
class GuessedView:
    """A drawing's view after the name of its file.

    Attributes
    ----------
    yaw
        Nominal, degrees.
    doubt
        How it was guessed, where the file's name does not plainly tell; else ''.
    """

    name: str
    file: str
    yaw: float
    doubt: str = ""


@dataclass(frozen=True)
class Started:
    """A new sheet: its file, its views by yaw, its drawings and how they are lined up."""

    file: Path
    views: tuple[GuessedView, ...]
    pictures: tuple[Picture, ...]
    placing: LinedUpBy = "ground"


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
    refuse_second_sheet(folder)
    if is_file(folder):
        says = "is a file; name a folder for the new sheet first, then the drawings"
        raise TurncheckError(Fault(says, str(folder)))
    if character is None:
        character = titled(folder.absolute().name)
    places = _places(folder, drawings)
    views = name_views(places)
    placing = _lined_up_by(places.values())
    text = sheet_text(character, revision, views, placing)
    # refuses a character or a revision that no sheet may have
    parse_sheet(text, FileFaults(str(folder / SHEET_FILE)))
    copies = {file: one.path for file, one in places.items() if not is_file(folder / file)}
    # the sheet first: whoever names that one starts the sheet
    save_new({folder / SHEET_FILE: text, **{folder / file: path for file, path in copies.items()}})
    return Started(folder / SHEET_FILE, tuple(views), tuple(places.values()), placing)


def _lined_up_by(drawings: Iterable[Picture]) -> LinedUpBy:
    """Return "fit" where the drawings' figures differ too much in height to be of one size."""
    tall = []
    for picture in drawings:
        rows = np.flatnonzero(figure_mask(decode(picture)).pixels.any(axis=1))
        tall += [rows[-1] - rows[0] + 1] if len(rows) else []
    return "fit" if tall and max(tall) > SIZES_DIFFER * min(tall) else "ground"


def refuse_second_sheet(folder: Path) -> None:
    """Refuse to start a sheet where there is one.

    Raises
    ------
    TurncheckError
        If there is.
    """
    if os.path.lexists(folder / SHEET_FILE):
        says = "there is a sheet already; edit it, or name a new folder"
        raise TurncheckError(Fault(says, str(folder / SHEET_FILE)))


def name_views(files: Iterable[str]) -> list[GuessedView]:
    """Guess a view's name and yaw for each file; what can't be guessed gets a free yaw.

    A yaw in the name (`odo_yaw30`) wins over a word, a word over a bare number of degrees
    (`odo-045`), and that over a mistyped word; a second drawing of one yaw gets the next free one.

    Returns
    -------
    list
        By yaw.

    Raises
    ------
    TurncheckError
        If there are more drawings than whole degrees of turn.

    Examples
    --------
    >>> guessed = name_views(["odo_front.png", "odo 3-4.png", "odo_yaw30.png"])
    >>> [(view.name, view.yaw) for view in guessed]
    [('front', 0.0), ('yaw_30', 30.0), ('three_quarter', 45.0)]
    """
    guessed: list[tuple[str, float | None, str]] = [(file, _guess(file), "") for file in files]
    taken = {yaw for _, yaw, _ in guessed if yaw is not None}
    for number, (file, _, _) in enumerate(guessed):
        word = mistyped(file)
        if word and _WORDS[word] not in taken:
            taken.add(_WORDS[word])
            guessed[number] = (file, _WORDS[word], f'its name was taken for "{word}"')
    steps = (0, 45, 90, 180, 135, *range(15, 180, 15), *range(-15, -180, -15), *range(-179, 180))
    free = [float(yaw) for yaw in dict.fromkeys(steps) if yaw not in taken]
    if len(guessed) > len(taken) + len(free):
        raise TurncheckError(
            f"{len(guessed)} drawings are more than one sheet can hold; name fewer"
        )
    used: set[float] = set()
    found: list[GuessedView] = []
    for file, guess, doubt in guessed:
        if guess is None or guess in used:
            guess, doubt = free.pop(0), _BY_ORDER
        used.add(guess)
        name = _BY_YAW.get(guess, f"yaw_{guess:g}".replace("-", "minus_").replace(".", "_"))
        found.append(GuessedView(name, file, guess, doubt))
    return sorted(found, key=lambda view: view.yaw)


def _stem(file: str) -> str:
    bare = re.sub("[\u0300-\u036f]", "", unicodedata.normalize("NFKD", Path(file).stem))
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Za-z]{4})(?=\d)", "_", bare)
    return re.sub(r"[^a-z0-9+-]+", "_", parted.lower())


def mistyped(file: str) -> str:
    """Return the view's word that a file's name comes near to, '' where it is none or plain.

    >>> [mistyped(name) for name in ("odo_siide.png", "three_qarter.png", "bakc", "backpack.png")]
    ['side', 'three_quarter', 'back', '']
    """
    if _guess(file) is not None:
        return ""
    words = re.findall("[a-z]+", _stem(file))
    tried = ["_".join(words), *map("_".join, pairwise(words)), *words]
    return next(filter(None, map(_near, tried)), "")


def _near(word: str) -> str:
    exchanged = (known for known in _WORDS if sorted(known) == sorted(word))
    close = difflib.get_close_matches(word, _WORDS, n=1, cutoff=_LIKENESS_LEAST)
    return next(exchanged, close[0] if close else "")


def _guess(file: str) -> float | None:
    stem = _stem(file)
    angle = re.search(r"(?:[_-]|^)(yaw_?)?([+-]?\d{1,3})(?:_?deg)?$", stem)
    turned = wrapped(float(angle[2])) if angle else None
    if angle and angle[1]:
        return turned
    words = stem.replace("-", "_")
    for pattern, _, yaw in _NAMED:
        if re.search(rf"(?<![a-z0-9])({pattern})(?![a-z0-9])", words):
            return yaw
    return turned if angle and int(angle[2]) % 15 == 0 else None


def titled(name: str) -> str:
    """Return a character's name after a folder's."""
    return UNSHOWN.sub("", name).strip()[:CHARACTER_LONGEST].strip() or "Unnamed"


def _places(folder: Path, drawings: list[Path]) -> dict[str, Picture]:
    """Return each drawing by the name that it has or will have in the folder."""
    faults = FileFaults("")
    if not drawings:
        faults.add(str(folder / SHEET_FILE), "no drawing is named; name at least one")
    places: dict[str, Picture] = {}
    for path in drawings:
        place = str(path)
        if UNSHOWN.search(path.name):
            faults.add(place, "its name holds a character that can't be shown; rename it")
        elif not is_file(path):
            faults.add(place, why_missing(path, "drawing"))
        elif (picture := _read_to_its_end(path, faults)) is not None:
            inside = is_inside(path, folder)
            file = path.resolve().relative_to(folder.resolve()).as_posix() if inside else path.name
            if file in places and path.resolve() == places[file].path.resolve():
                faults.add(place, "this drawing is named twice; name it once")
            elif file in places:
                faults.add(place, "another drawing has the same file name; rename one")
            elif not inside and os.path.lexists(folder / file):
                faults.add(place, "the folder has a file of this name; rename the drawing")
            places[file] = picture
    faults.raise_any()
    return places


def _read_to_its_end(path: Path, faults: FileFaults) -> Picture | None:
    """Return a drawing that can be read to its end; note a fault where it can't."""
    picture = read_header(path, path.name, str(path), faults)
    try:
        if picture is not None:
            decode(picture)
    except TurncheckError as error:
        faults.include(error)
        return None
    return picture


def sheet_text(
    character: str, revision: str, views: Sequence[GuessedView], placing: LinedUpBy = "ground"
) -> str:
    """Return a commented `sheet.toml` of some views."""
    names = [view.name for view in views]
    reference = "front" if "front" in names else names[0]
    blocks = []
    for view in views:
        yaw = f"yaw = {view.yaw:g}"
        doubt = f"{yaw:25} # {view.doubt}; set it right" if view.doubt else yaw
        blocks.append(f"[views.{view.name}]\nimage = {_quoted(view.file)}\n{doubt}\n")
    blank = resources.files("turncheck.sheet").joinpath("new_sheet.txt").read_text("utf-8")
    return blank.format(
        character=_quoted(character),
        revision=_quoted(revision),
        reference=_quoted(reference),
        placing=f"placing = {_quoted(placing)}",
        views="\n".join(blocks),
    )


def _quoted(text: str) -> str:
    # a JSON string is a TOML basic string, but for the delete character (TOML 1.0, String)
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")

"""Cuts one wide sheet into views and starts the sheet's folder with them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from turncheck.errors import Fault, FileFaults, TurncheckError, quoted
from turncheck.files.atomic import Content, refuse_existing, save_new
from turncheck.files.user_files import is_file, why_missing
from turncheck.images.picture_file import decode, read_header
from turncheck.numerics.arrays import Bytes
from turncheck.sheet.create import (
    GuessedView,
    mistyped,
    name_views,
    refuse_second_sheet,
    sheet_text,
    titled,
)
from turncheck.sheet.model import CONSENSUS, SHEET_FILE
from turncheck.sheet.sheet_file import parse_sheet
from turncheck.sheet.vocabulary import refuse_name

if TYPE_CHECKING:
    from turncheck.images.wide_sheet.splitting import Split

PREVIEW_FILE = "preview.png"
#: The order in which views stand on a wide sheet, by their number; common practice, no source.
USUAL_ORDER: dict[int, tuple[str, ...]] = {
    3: ("front", "three_quarter", "side"),
    4: ("front", "three_quarter", "side", "back"),
    5: ("front", "three_quarter", "side", "back_three_quarter", "back"),
}


@dataclass(frozen=True, kw_only=True)
class CutView(GuessedView):
    """One view cut from a wide sheet.

    `box` is the figure's first and last column and row there: left, top, right, bottom, px.
    """

    box: tuple[int, int, int, int]


@dataclass(frozen=True)
class Cut:
    """A wide sheet cut up: the new sheet's file, its views from left to right, the preview."""

    file: Path
    views: tuple[CutView, ...]
    preview: Path
    doubts: tuple[str, ...]


def split(
    wide: str | Path,
    folder: str | Path,
    *,
    views: Sequence[str] = (),
    count: int | None = None,
    character: str | None = None,
    revision: str = "A",
    preview: str | Path | None = None,
) -> Cut:
    """Cut a wide sheet into one drawing a view and start a sheet with them.

    The drawings are PNG, all on the same rows of the wide sheet, so that heights compare as they
    are (`placing = "canvas"`).

    Parameters
    ----------
    views
        The views' names from left to right; by default `USUAL_ORDER` for their number.
    count
        How many figures there are, where that can't be seen; the number of `views` says it too.
    preview
        Where to show what was found; by default `preview.png` in the folder, and nowhere when
        the sheet can't be cut.

    Raises
    ------
    TurncheckError
        If the sheet can't be read, its figures can't be counted or named, or a file is in the
        way; nothing but a `preview` that was asked for is written then.
    """
    wide, folder = Path(wide), Path(folder)
    shown = Path(preview) if preview is not None else folder / PREVIEW_FILE
    text_character = character if character is not None else titled(folder.absolute().name)
    _check_told(folder, shown, views, count, text_character, revision)
    _refuse_same(folder, shown, [f"{name}.png" for name in views], preview is not None)
    pixels, frames = _read(wide)

    from turncheck.images.wide_sheet.splitting import cut_out, find_figures

    split, asked = find_figures(pixels, count), count
    if count is None and views and (split.unsure or len(split.boxes) < len(views)):
        split, asked = find_figures(pixels, len(views)), len(views)
    unsettled = _unsettled(split, asked, views)
    names = list(views) or list(USUAL_ORDER.get(len(split.boxes), ()))
    picture = _preview(pixels, split, names)
    if unsettled:
        if preview is not None:
            save_new({shown: picture})
        raise TurncheckError(Fault(unsettled, str(wide)))
    files = {name: f"{name}.png" for name in names}
    _refuse_same(folder, shown, files.values(), preview is not None)
    refuse_existing(folder / file for file in files.values())
    yaws = {view.file: view.yaw for view in name_views(files.values())}
    named = [GuessedView(name, file, yaws[file]) for name, file in files.items()]
    text = sheet_text(text_character, revision, named, "canvas")
    drawings = zip(files.values(), map(_png, cut_out(pixels, split)), strict=True)
    several = [f"{wide.name} holds {frames} pictures, and the first was cut"] if frames > 1 else []
    # the sheet first: whoever names that one starts the sheet
    contents: dict[Path, Content] = {folder / SHEET_FILE: text, shown: picture}
    save_new(contents | {folder / file: drawing for file, drawing in drawings})
    return Cut(
        file=folder / SHEET_FILE,
        views=tuple(
            CutView(**vars(view), box=(box.left, box.top, box.right, box.bottom))
            for view, box in zip(named, split.boxes, strict=True)
        ),
        preview=shown,
        doubts=(*split.doubts, *several),
    )


def _check_told(
    folder: Path,
    preview: Path,
    views: Sequence[str],
    count: int | None,
    character: str,
    revision: str,
) -> None:
    """Refuse what is wrong with the request before anything is read."""
    refuse_second_sheet(folder)
    faults = FileFaults("--views")
    for name in views:
        refuse_name(name, "", faults)
        if name == CONSENSUS:
            faults.add("", f"{quoted(name)} means all views together; choose another name")
        elif meant := mistyped(name):
            faults.add("", f"{quoted(name)} is near to {meant}; did you mean that?")
    for name in dict.fromkeys(views):
        if [other.casefold() for other in views].count(name.casefold()) > 1:
            faults.add("", f"{quoted(name)} stands twice; give each view its own name")
    if count is not None and views and count != len(views):
        faults.add("", f"{len(views)} names for --count {count}; give one name to each figure")
    faults.raise_any()
    if count is not None and count < 2:
        raise TurncheckError("--count: a sheet needs two views or more")
    plain = sheet_text(character, revision, [GuessedView("front", "front.png", 0.0)])
    parse_sheet(plain, FileFaults(str(folder)))
    refuse_existing([preview])


def _refuse_same(folder: Path, preview: Path, drawings: Iterable[str], asked: bool) -> None:
    """Refuse a preview in the place of a drawing or of the sheet; `asked`: by --preview."""
    for file in (SHEET_FILE, *drawings):
        if preview.resolve() != (folder / file).resolve():
            continue
        what = "the sheet itself" if file == SHEET_FILE else "one of the drawings"
        mend = "name another picture" if asked else "name that view otherwise, or use --preview"
        raise TurncheckError(Fault(f"is the place of {what}; {mend}", str(preview)))


def _read(wide: Path) -> tuple[Bytes, int]:
    """Return the first picture of a file, and how many it holds."""
    if not is_file(wide):
        raise TurncheckError(Fault(why_missing(wide, "picture"), str(wide)))
    faults = FileFaults(str(wide))
    picture = read_header(wide, wide.name, "", faults)
    faults.raise_any()
    assert picture is not None
    return decode(picture), picture.frames


def _unsettled(split: Split, asked: int | None, views: Sequence[str]) -> str:
    """Return what can't be settled and how to settle it, '' where all can.

    `asked` is how many figures were asked for, None where they were counted.
    """
    found = len(split.boxes)
    if split.stacked:
        return "figures stand one above the other; cut the picture so that there is one row of them"
    if split.unsure and asked is None:
        return f"{split.unsure}; say how many figures there are with --count"
    if split.unsure:
        return f"{split.unsure}; see where with --preview, part them in the picture"
    if found < 2:
        few = "no figure was" if not found else "only one figure was"
        return f"{few} found; name a sheet with figures in a row, or use --count"
    if views and found != len(views):
        return (
            f"{found} figures were found for {len(views)} names in --views; name each, "
            f"or say --count {len(views)} if the smallest are props"
        )
    if not views and found not in USUAL_ORDER:
        return (
            f"{found} figures were found, and no order is usual for so many; "
            "name them from left to right, as in --views front,side"
        )
    return ""


def _preview(pixels: Bytes, split: Split, names: Sequence[str]) -> bytes:
    from turncheck.images.previewing import with_boxes

    words = [f"{k} {name}" for k, name in enumerate(names, start=1)]
    words += [str(k) for k in range(len(words) + 1, len(split.boxes) + 1)]
    return with_boxes(pixels, zip(split.boxes, words, strict=False))


def _png(drawing: Bytes) -> bytes:
    import cv2

    _, encoded = cv2.imencode(".png", drawing)
    return encoded.tobytes()

"""One sheet being marked: reads its table, makes changes to it, saves each one at once."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from math import isnan, nan
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from turncheck.checks.register import open_sheet
from turncheck.errors import UNSHOWN, TurncheckError
from turncheck.images.picture_file import Picture
from turncheck.placing.drawings import Drawings
from turncheck.placing.live_verdicts import as_message, read_so_far
from turncheck.placing.proposing import propose
from turncheck.plain import spoken
from turncheck.sheet.landmark_edit import ChangedError, edited, save_table
from turncheck.sheet.landmark_table import Key, LandmarkTable, Placing, read_table
from turncheck.sheet.model import CONSENSUS, LANDMARKS_FILE, Sheet
from turncheck.sheet.sheet_file import find_sheet
from turncheck.sheet.vocabulary import Landmark, Vocabulary

LONGEST_NAME = 60
#: Most placings that one change may hold: every landmark of a large vocabulary at once.
MOST_STEPS = 500
#: Room round a figure in the line-up, as a share of its height; common practice, no source.
ROOM = 0.03


class Step(BaseModel):
    """One placing to make or to move (`delete` false), or to take out; px of the drawing."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    view: str = Field(max_length=100)
    landmark: str = Field(max_length=100)
    by: str = Field("", max_length=LONGEST_NAME)
    x: float = 0.0
    y: float = 0.0
    hidden: bool = False
    sd: float | None = None
    delete: bool = False


class Change(BaseModel):
    """Steps that belong together, made to the file with this hash."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    base: str = Field(max_length=64)
    steps: list[Step] = Field(min_length=1, max_length=MOST_STEPS)


class Session:
    """A sheet and its landmark table; safe to use from several threads."""

    def __init__(self, folder: str | Path) -> None:
        self._file = find_sheet(Path(folder))
        self._lock = threading.Lock()
        self._open()

    def _open(self) -> None:
        """Read the sheet and its table; where they have faults, what was read before stays."""
        sheet = open_sheet(self._file)
        path = sheet.folder / LANDMARKS_FILE
        kept = read_table(path, sheet)
        self.sheet, self.path, self._kept = sheet, path, kept
        self.drawings = Drawings(sheet)
        self._read = self.stamp()

    def stamp(self) -> str:
        """Return what tells the sheet's file and drawings on disk from others saved since."""
        views = self.sheet.views.values()
        pictures = [p for view in views for p in (view.picture, view.figure) if p is not None]
        return ",".join(map(_saved_at, (self._file, *(picture.path for picture in pictures))))

    def setting(self) -> dict[str, object]:
        """Return what does not change until the page is loaded again.

        Raises
        ------
        TurncheckError
            If the sheet was saved since it was read, and has faults now.
        """
        with self._lock:
            if self.stamp() != self._read:
                self._open()
            sheet, drawings, stamp = self.sheet, self.drawings, self._read
            placed = list(self._kept.placings.values())
        straight = sheet.straight_on
        views = []
        for name, view in sheet.views.items():
            box = drawings[name].box  # of its figure, None where none is told from the ground
            mine = [p for p in placed if p.view == name and p.landmark != "ground"]
            views.append(
                {
                    "name": name,
                    "title": spoken(name),
                    "yaw": view.yaw,
                    "width": view.picture.width,
                    "height": view.picture.height,
                    "straight": name in straight,
                    "crop": _crop(box, view.picture, mine),
                    "foot": box[3] if box else view.picture.height - 0.5,
                }
            )
        return {
            "character": sheet.character,
            "revision": sheet.revision,
            "reference": "" if sheet.reference == CONSENSUS else sheet.reference,
            "base": sheet.base,
            "file": LANDMARKS_FILE,
            "stamp": stamp,
            "views": views,
            "landmarks": [
                {name: getattr(mark, name) for name in ("name", "title", "kind", "says", "twin")}
                | {"part": _part_title(sheet.vocabulary, mark)}
                for mark in _by_part(sheet.vocabulary)
            ],
        }

    def state(self) -> dict[str, object]:
        """Return the placings on disk and what the measuring says of them."""
        with self._lock:
            self._kept = read_table(self.path, self.sheet)
            return self._told(self._kept)

    def hash(self) -> str:
        """Return the hash of the table on disk."""
        with self._lock:
            return read_table(self.path, self.sheet).hash

    def change(self, change: Change) -> dict[str, object]:
        """Make a change and save it; return the new state.

        Raises
        ------
        ChangedError
            If the table on disk is not the one that the change was made to.
        TurncheckError
            If a step can't be made or the table can't be saved.
        """
        with self._lock:
            table = read_table(self.path, self.sheet)
            if table.hash != change.base:
                raise ChangedError
            table = _applied(self.sheet, table, change.steps)
            save_table(self.path, table, change.base)
            self._kept = table
            return self._told(table)

    def attempt(self, change: Change) -> dict[str, object]:
        """Return what would be said of the landmarks of a change, saving nothing."""
        with self._lock:
            sheet, table = self.sheet, self._kept
        placings = tuple(_applied(sheet, table, change.steps).placings.values())
        names = list({step.landmark for step in change.steps})
        tells_all = {"ground", "crown"} & set(names)
        return as_message(read_so_far(sheet, placings, None if tells_all else names))

    def proposals(self) -> list[dict[str, object]]:
        """Return where the drawings themselves say that landmarks might lie."""
        with self._lock:
            sheet, table, drawings = self.sheet, self._kept, self.drawings
        placings = tuple(table.placings.values())
        return [vars(found) for found in propose(sheet, placings, drawings)]

    def finish(self) -> None:
        """Wait for a save that is under way and let none begin after it."""
        self._lock.acquire()

    def _told(self, table: LandmarkTable) -> dict[str, object]:
        return {
            "hash": table.hash,
            "stamp": self.stamp(),
            "placings": [
                {name: getattr(placing, name) for name in ("view", "landmark", "x", "y", "hidden")}
                | {"by": placing.placed_by, "sd": None if isnan(placing.sd) else placing.sd}
                for placing in table.placings.values()
            ],
            "readings": as_message(read_so_far(self.sheet, tuple(table.placings.values()))),
        }


def _applied(sheet: Sheet, table: LandmarkTable, steps: Sequence[Step]) -> LandmarkTable:
    changes: dict[Key, Placing | None] = {}
    for step in steps:
        key = (step.view, step.landmark, step.by)
        if step.delete:
            changes[key] = None
            continue
        _refuse_name(step.by)
        sd = nan if step.sd is None else step.sd
        changes[key] = Placing(step.view, step.landmark, step.x, step.y, step.hidden, sd, step.by)
    return edited(table, changes, sheet, LANDMARKS_FILE)


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


def _saved_at(path: Path) -> str:
    """Return when a file was last saved, in ns, and its size; '' where there is none."""
    try:
        found = path.stat()
    except OSError:
        return ""
    return f"{found.st_mtime_ns}:{found.st_size}"


def _by_part(vocabulary: Vocabulary) -> list[Landmark]:
    """Return the landmarks part by part, the ground first and what has no part last."""
    marks = vocabulary.landmarks.values()
    parts = [*dict.fromkeys(mark.part for mark in marks if mark.part), ""]
    return sorted(marks, key=lambda mark: (mark.name != "ground", parts.index(mark.part)))


def _part_title(vocabulary: Vocabulary, mark: Landmark) -> str:
    if mark.part:
        return vocabulary.part_title(mark.part)
    return "the whole figure" if mark.name == "ground" else "other"


def _refuse_name(name: str) -> None:
    if UNSHOWN.search(name) or name != name.strip():
        raise TurncheckError("The name holds a character that can't be shown; write a short name.")
    if name.startswith(("=", "+", "-", "@")):
        raise TurncheckError("A name starts with a letter or a digit, so that no table calculates.")

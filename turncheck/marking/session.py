"""One sheet being marked: reads its table, makes changes to it, saves each one at once."""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field

from turncheck.errors import UNSHOWN, TurncheckError
from turncheck.landmarks import Placing
from turncheck.marking.drawings import Drawings
from turncheck.marking.proposing import propose
from turncheck.marking.readings import as_message, read_so_far
from turncheck.opening import open_sheet
from turncheck.placing_file import (
    ChangedError,
    PlacingFile,
    load_placings,
    save_placings,
    with_placing,
    without_placing,
)
from turncheck.redraw import spoken
from turncheck.sheet import CONSENSUS, LANDMARKS_FILE, Sheet
from turncheck.vocabulary import Landmark, Vocabulary

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
        self.sheet: Sheet = open_sheet(folder)
        self.path = self.sheet.folder / LANDMARKS_FILE
        self.drawings = Drawings(self.sheet)
        self._lock = threading.Lock()
        self._kept: PlacingFile = load_placings(self.path, self.sheet)

    def setting(self) -> dict[str, object]:
        """Return what does not change while the sheet is marked."""
        sheet = self.sheet
        straight = sheet.straight_on
        placed = list(self._kept.placings.values())
        views = []
        for name, view in sheet.views.items():
            mine = [p for p in placed if p.view == name and p.landmark != "ground"]
            views.append(
                {
                    "name": name,
                    "title": spoken(name),
                    "yaw": view.yaw,
                    "width": view.picture.width,
                    "height": view.picture.height,
                    "straight": name in straight,
                    "crop": self._crop(name, mine),
                    "foot": self._foot(name),
                }
            )
        return {
            "character": sheet.character,
            "revision": sheet.revision,
            "reference": "" if sheet.reference == CONSENSUS else sheet.reference,
            "base": sheet.base,
            "file": LANDMARKS_FILE,
            "views": views,
            "landmarks": [
                {
                    "name": mark.name,
                    "title": mark.title,
                    "kind": mark.kind,
                    "part": _part_title(sheet.vocabulary, mark),
                    "says": mark.says,
                    "twin": mark.twin,
                }
                for mark in _by_part(sheet.vocabulary)
            ],
        }

    def state(self) -> dict[str, object]:
        """Return the placings on disk and what the measuring says of them."""
        with self._lock:
            self._kept = load_placings(self.path, self.sheet)
            return self._told(self._kept)

    def hash(self) -> str:
        """Return the hash of the table on disk."""
        with self._lock:
            return load_placings(self.path, self.sheet).hash

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
            file = load_placings(self.path, self.sheet)
            if file.hash != change.base:
                raise ChangedError
            file = self._applied(file, change.steps)
            save_placings(self.path, file, change.base)
            self._kept = file
            return self._told(file)

    def attempt(self, change: Change) -> dict[str, object]:
        """Return what would be said of the landmarks of a change, saving nothing."""
        with self._lock:
            file = self._kept
        file = self._applied(file, change.steps)
        names = list({step.landmark for step in change.steps})
        tells_all = {"ground", "crown"} & set(names)
        return as_message(read_so_far(self.sheet, file.table, None if tells_all else names))

    def proposals(self) -> list[dict[str, object]]:
        """Return where the drawings themselves say that landmarks might lie."""
        with self._lock:
            file = self._kept
        return [vars(found) for found in propose(self.sheet, file.table, self.drawings)]

    def finish(self) -> None:
        """Wait for a save that is under way and let none begin after it."""
        self._lock.acquire()

    def _applied(self, file: PlacingFile, steps: Sequence[Step]) -> PlacingFile:
        for step in steps:
            if step.delete:
                key = (step.view, step.landmark, step.by)
                file = without_placing(file, key, self.sheet, LANDMARKS_FILE)
                continue
            _refuse_name(step.by)
            file = with_placing(
                file,
                Placing(
                    step.view,
                    step.landmark,
                    step.x,
                    step.y,
                    step.hidden,
                    math.nan if step.sd is None else step.sd,
                    step.by,
                ),
                self.sheet,
                LANDMARKS_FILE,
            )
        return file

    def _told(self, file: PlacingFile) -> dict[str, object]:
        return {
            "hash": file.hash,
            "placings": [
                {
                    "view": placing.view,
                    "landmark": placing.landmark,
                    "by": placing.placed_by,
                    "x": placing.x,
                    "y": placing.y,
                    "hidden": placing.hidden,
                    "sd": None if math.isnan(placing.sd) else placing.sd,
                }
                for placing in file.placings.values()
            ],
            "readings": as_message(read_so_far(self.sheet, file.table)),
        }

    def _foot(self, view: str) -> float:
        """Return y of the figure's lowest edge, or of the picture's; px."""
        box = self.drawings[view].box
        return self.sheet.views[view].picture.height - 0.5 if box is None else box[3]

    def _crop(self, view: str, placed: Sequence[Placing]) -> list[float]:
        """Return left, top, right and bottom of what the line-up shows of a drawing, px."""
        picture = self.sheet.views[view].picture
        whole = [-0.5, -0.5, picture.width - 0.5, picture.height - 0.5]
        box = self.drawings[view].box
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


def _by_part(vocabulary: Vocabulary) -> list[Landmark]:
    """Return the landmarks part by part, the ground first and what has no part last."""
    marks = list(vocabulary.landmarks.values())
    parts = list(dict.fromkeys(mark.part for mark in marks if mark.part))
    order = {part: number for number, part in enumerate(parts, start=1)}
    return sorted(
        marks, key=lambda mark: 0 if mark.name == "ground" else order.get(mark.part, len(marks))
    )


def _part_title(vocabulary: Vocabulary, mark: Landmark) -> str:
    if mark.part:
        return vocabulary.part_title(mark.part)
    return "the whole figure" if mark.name == "ground" else "other"


def _refuse_name(name: str) -> None:
    if UNSHOWN.search(name) or name != name.strip():
        raise TurncheckError("The name holds a character that can't be shown; write a short name.")
    if name.startswith(("=", "+", "-", "@")):
        raise TurncheckError("A name starts with a letter or a digit, so that no table calculates.")

"""One sheet being marked: reads its table, makes changes to it, saves each one at once."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache, partial
from math import isnan, nan
from pathlib import Path

from pydantic import BaseModel, Field

from turncheck.checks.register import open_sheet
from turncheck.errors import UNSHOWN, TurncheckError, unknown
from turncheck.files.user_files import fingerprint, is_file
from turncheck.instructions.result import Result
from turncheck.placing.drawings import Drawings
from turncheck.placing.earlier import proposals_from
from turncheck.placing.learned.model import LearnedPoints
from turncheck.placing.learned.model_file import find_model
from turncheck.placing.live_verdicts import Readings, as_message, read_so_far
from turncheck.placing.not_seen import NOT_SEEN_FILE, NotSeen, read_not_seen, say_not_seen
from turncheck.placing.own_points import OwnPoint, write_point
from turncheck.placing.proposing import Proposal, propose
from turncheck.placing.remembered import Remembered
from turncheck.placing.setting import first_of, setting_of
from turncheck.plain import spoken
from turncheck.sheet.landmark_edit import ChangedError, edited, save_table
from turncheck.sheet.landmark_table import Key, LandmarkTable, Placing, read_table
from turncheck.sheet.model import LANDMARKS_FILE, Sheet
from turncheck.sheet.sheet_file import find_sheet

LONGEST_NAME = 60
#: Most placings that one change may hold: every landmark of a large vocabulary at once.
MOST_STEPS = 500


class Step(BaseModel, extra="forbid", frozen=True, allow_inf_nan=False):
    """One placing to make or to move (`delete` false), or to take out; px of the drawing.

    An `unseen` one is no placing: it says that the point is not seen there, or is (`delete`).
    """

    view: str = Field(max_length=100)
    landmark: str = Field(max_length=100)
    by: str = Field("", max_length=LONGEST_NAME)
    x: float = 0.0
    y: float = 0.0
    hidden: bool = False
    sd: float | None = None
    delete: bool = False
    unseen: bool = False


class Change(BaseModel, extra="forbid", frozen=True):
    """Steps that belong together, made to the files with this hash."""

    base: str = Field(max_length=128)
    steps: list[Step] = Field(min_length=1, max_length=MOST_STEPS)


class Person(BaseModel, extra="forbid", frozen=True):
    """Who places from now on."""

    by: str = Field(max_length=LONGEST_NAME)


class NotNowError(TurncheckError):
    """What is on disk stands in the way of a change, which can be made as soon as it is mended."""


class Session:
    """A sheet and its landmark table; safe to use from several threads.

    Parameters
    ----------
    folder
        The sheet's, or its file.
    known
        What is remembered from the last time.
    earlier
        A revision of the sheet whose points are proposed.
    """

    def __init__(
        self,
        folder: str | Path,
        known: Remembered | None = None,
        earlier: Result | None = None,
    ) -> None:
        self._file = find_sheet(Path(folder))
        self._unseen_file = self._file.parent / NOT_SEEN_FILE
        self.known = known or Remembered()
        self._earlier = earlier
        self._lock = threading.Lock()
        self._open()

    def _open(self) -> None:
        """Read the sheet and its table; where they have faults, what was read before stays."""
        sheet = open_sheet(self._file)
        path = sheet.folder / LANDMARKS_FILE
        kept, unseen = read_table(path, sheet), read_not_seen(self._unseen_file)
        self.sheet, self.path, self._kept, self._unseen = sheet, path, kept, unseen
        self._readings: Readings | None = None
        self._ahead: Callable[[], Mapping[tuple[str, str], Proposal]] = dict
        if self._earlier is not None:  # the drawings are compared when that is first asked for
            self._ahead = cache(partial(proposals_from, self._earlier, sheet))
        self.drawings = Drawings(sheet)
        found = find_model(sheet.folder, sheet.vocabulary.name)
        self.learned_says = "" if found is None else found.says
        model = None if found is None else found.model
        self._learned = None if model is None else LearnedPoints(model, sheet, self.drawings)
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
            placed, unseen, ahead = self._kept.placings.values(), self._unseen.points, self._ahead
        setting = setting_of(sheet, drawings, list(placed))
        settled = unseen | {(one.view, one.landmark) for one in placed}
        begin = first_of(setting, ahead().keys() - settled)
        return {**setting, "begin": begin, "stamp": stamp, "by": self.known.by}

    def state(self) -> dict[str, object]:
        """Return the placings on disk and what the measuring says of them."""
        with self._lock:
            return self._told(*self._on_disk())

    def hash(self) -> str:
        """Return what tells the files on disk that the page changes from others."""
        with self._lock:
            return _hash(*self._on_disk())

    def _on_disk(self) -> tuple[LandmarkTable, NotSeen]:
        """Return both files as they are now; a table that is as it was is not parsed anew."""
        data = self.path.read_bytes() if is_file(self.path) else b""
        known = data and fingerprint(data) == self._kept.hash
        table = self._kept if known else read_table(self.path, self.sheet)
        return table, read_not_seen(self._unseen_file)

    def change(self, change: Change) -> dict[str, object]:
        """Make a change and save it; return the new state.

        Raises
        ------
        ChangedError
            If the table on disk is not the one that the change was made to.
        NotNowError
            If the table can't be read or saved.
        TurncheckError
            If a step can't be made.
        """
        with self._lock:
            with _not_now():
                table, unseen = self._on_disk()
            if _hash(table, unseen) != change.base:
                raise ChangedError
            before, table = table.hash, _applied(self.sheet, table, change.steps)
            said = {(one.view, one.landmark): not one.delete for one in change.steps if one.unseen}
            self._refuse_unknown(said)
            with _not_now():
                if table.hash != before:
                    save_table(self.path, table, before)
                if said:
                    unseen = say_not_seen(self._unseen_file, said)
            return self._told(table, unseen)

    def _refuse_unknown(self, points: Iterable[tuple[str, str]]) -> None:
        for view, name in points:
            if view not in self.sheet.views:
                raise TurncheckError(unknown(view, self.sheet.views, "a view of this sheet"))
            if name not in self.sheet.vocabulary.landmarks:
                raise TurncheckError(unknown(name, self.sheet.vocabulary.landmarks, "a landmark"))

    def remember(self, person: Person) -> dict[str, object]:
        """Remember who places, for the next time that the page is opened."""
        _refuse_name(person.by)
        with self._lock:
            self.known.placed_by(person.by)
        return {}

    def write_point(self, point: OwnPoint) -> dict[str, object]:
        """Add a point of the user's own to the sheet's file, or leave one out, see `write_point`.

        Raises
        ------
        TurncheckError
            If it can't be, or one to be left out is placed or has a dot.
        """
        with self._lock:
            if self.stamp() != self._read:
                raise TurncheckError("sheet.toml or a drawing was changed; reload the page first")
            placed = read_table(self.path, self.sheet).placings.values()
            on = [spoken(p.view) for p in placed if p.landmark == point.name]
            on += [
                spoken(view.name) for view in self.sheet.views.values() if point.name in view.dots
            ]
            if point.absent and on:
                where = ", ".join(dict.fromkeys(on))
                raise TurncheckError(f"{point.name} is placed on {where}; take it out there first")
            write_point(self.sheet, self._file, point)
            return {"stamp": self.stamp()}

    def attempt(self, change: Change) -> dict[str, object]:
        """Return what would be said of the landmarks of a change, saving nothing."""
        with self._lock:
            sheet, table = self.sheet, self._kept
        placings = tuple(_applied(sheet, table, change.steps).placings.values())
        names = list({step.landmark for step in change.steps})
        tells_all = {"ground", "crown"} & set(names)
        return as_message(read_so_far(sheet, placings, None if tells_all else names))

    def proposals(self) -> list[dict[str, object]]:
        """Return where the drawings themselves, or an earlier revision, say that landmarks lie.

        What only hints at a place gives way to the earlier revision.
        """
        with self._lock:
            sheet, drawings, learned = self.sheet, self.drawings, self._learned
            placings, readings = tuple(self._kept.placings.values()), self._readings
            ahead = self._ahead
        found = propose(sheet, placings, drawings, learned, readings)
        own, earlier = {(one.view, one.landmark): one for one in found}, ahead()
        shown = {**own, **earlier, **{key: one for key, one in own.items() if not one.doubtful}}
        shown |= {key: one for key, one in earlier.items() if not one.doubtful}
        placed = {(one.view, one.landmark) for one in placings}
        return [vars(one) for key, one in shown.items() if key not in placed]

    def finish(self) -> None:
        """Wait for a save that is under way and let none begin after it."""
        self._lock.acquire()
        self.drawings.end()

    def _told(self, table: LandmarkTable, unseen: NotSeen) -> dict[str, object]:
        """Keep what is on disk and what is measured of it, and return both for the page."""
        if self._readings is None or table.hash != self._kept.hash:
            self._readings = read_so_far(self.sheet, table.placings.values())
        self._kept, self._unseen = table, unseen
        return {
            "hash": _hash(table, unseen),
            "table": table.hash,
            "stamp": self.stamp(),
            "unseen": sorted(unseen.points),
            "placings": [
                {name: getattr(placing, name) for name in ("view", "landmark", "x", "y", "hidden")}
                | {"by": placing.placed_by, "sd": None if isnan(placing.sd) else placing.sd}
                for placing in table.placings.values()
            ],
            "readings": as_message(self._readings),
        }


def _hash(table: LandmarkTable, unseen: NotSeen) -> str:
    return table.hash + unseen.hash


@contextmanager
def _not_now() -> Iterator[None]:
    try:
        yield
    except TurncheckError as error:
        raise NotNowError(*error.faults) from error


def _applied(sheet: Sheet, table: LandmarkTable, steps: Sequence[Step]) -> LandmarkTable:
    changes: dict[Key, Placing | None] = {}
    for step in steps:
        if step.unseen:
            continue
        key = (step.view, step.landmark, step.by)
        if step.delete:
            changes[key] = None
            continue
        _refuse_name(step.by)
        sd = nan if step.sd is None else step.sd
        changes[key] = Placing(step.view, step.landmark, step.x, step.y, step.hidden, sd, step.by)
    return edited(table, changes, sheet, LANDMARKS_FILE)


def _saved_at(path: Path) -> str:
    """Return when a file was last saved, in ns, and its size; '' where there is none."""
    try:
        found = path.stat()
    except OSError:
        return ""
    return f"{found.st_mtime_ns}:{found.st_size}"


def _refuse_name(name: str) -> None:
    if UNSHOWN.search(name) or name != name.strip():
        raise TurncheckError("The name holds a character that can't be shown; write a short name.")
    if name.startswith(("=", "+", "-", "@")):
        raise TurncheckError("A name starts with a letter or a digit, so that no table calculates.")

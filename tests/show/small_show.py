"""A small show: sheets that are on model and off, several in one folder, and some of no use."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path

import cv2
import pytest

from tests.sheets import Row, edit, make_sheet, placed
from turncheck.sheet.model import LANDMARKS_FILE, SHEET_FILE

#: By path, the verdict of each sheet, '' for those of no use.
VERDICTS = {
    "pair": "on_model",
    "pair/tub.toml": "on_model",
    "reel/low": "off_model",
    "torn": "",
    "unplaced": "",
}
#: What hands out the work of a survey on one machine.
WORKERS = "turncheck.show.survey.on_this_machine"
#: What is in the show's folders and no sheet.
STRAY = ("notes.toml", ".old/sheet.toml", "pair/own.toml")


def make_show(folder: Path) -> Path:
    """Write the show and return its folder."""
    pair = make_sheet(folder / "pair")
    tub = (pair / SHEET_FILE).read_text("utf-8").replace('"Tib"', '"=Tub, of the mill"')
    (pair / "tub.toml").write_text(f"height_cm = 90\n{tub}", "utf-8")
    (pair / "approval.json").write_text("{}", "utf-8")  # of no use, so it approves nothing
    make_sheet(folder / "reel" / "low", placings=lowered("chin", "side", 4.0))
    torn = make_sheet(folder / "torn")
    edit(torn / SHEET_FILE, "yaw = 45", "yaw = 45 degrees")
    unplaced = make_sheet(folder / "unplaced")
    (unplaced / LANDMARKS_FILE).unlink()
    (folder / "notes.toml").write_text('title = "views"\n', "utf-8")
    shutil.copytree(pair, folder / ".old")
    (pair / "own.toml").write_text('[landmarks.badge]\nkind = "width"\n', "utf-8")
    return folder


def lowered(landmark: str, view: str, px: float) -> list[Row]:
    """The placings of a clean sheet, one of them px further down."""
    rows = placed()
    for row in rows:
        if (row["view"], row["landmark"]) == (view, landmark):
            row["y"] = f"{float(row['y']) + px:.3f}"
    return rows


class Here:
    """A worker that is this process, which starts nothing."""

    size = 1

    def submit(self, call: Callable[..., object], /, *given: object) -> Future[object]:
        done: Future[object] = Future()
        done.set_result(call(*given))
        return done

    def renew(self) -> None:
        raise AssertionError("this process has not died")


@contextmanager
def here(size: int) -> Iterator[Here]:
    """Stand in for `on_this_machine`."""
    threads = cv2.getNumThreads()
    yield Here()
    cv2.setNumThreads(threads)


@contextmanager
def surveyed_here() -> Iterator[None]:
    """Survey without any process of its own."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(WORKERS, here)
        yield

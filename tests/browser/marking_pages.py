"""Starts `turncheck mark` and points at things on its page."""

from __future__ import annotations

import csv
import json
import math
import os
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from threading import Thread
from typing import Any, TypeVar

from playwright.sync_api import Page, expect

from tests.browser.letters import in_letters
from tests.browser.pages import NewPage, Opened
from tests.places import ROOT, SAMPLES
from tests.samples import copied
from turncheck import assets
from turncheck.instructions.result import Result
from turncheck.placing.server import MarkingServer
from turncheck.placing.session import Session

Run = TypeVar("Run", bound="Running")
VIEWS = ("front", "three_quarter", "side", "back", "back_three_quarter")


class Serving(MarkingServer):
    """Ends when the answers under way are made, though the browser may hold its lines open."""

    daemon_threads = False

    def __init__(self, session: Session) -> None:
        self._lines: list[socket.socket] = []
        super().__init__(session)

    def get_request(self) -> tuple[socket.socket, Any]:
        line, address = super().get_request()
        self._lines.append(line)
        return line, address

    def server_close(self) -> None:
        for line in self._lines:
            with suppress(OSError):  # it is closed
                line.shutdown(socket.SHUT_RD)
        super().server_close()


class Running:
    """`turncheck mark` in a thread of this process, on a folder of its own."""

    def __init__(self, folder: Path, earlier: Result | None = None) -> None:
        self.folder = folder
        self.begin(earlier)

    def begin(self, earlier: Result | None) -> None:
        self.server = Serving(Session(self.folder, earlier=earlier))
        self.thread = Thread(target=self.server.serve_forever, kwargs={"poll_interval": 0.02})
        self.thread.start()
        self.url = self.server.url

    @property
    def rows(self) -> dict[tuple[str, str, str], dict[str, str]]:
        """What is on disk, by view, landmark and name."""
        table = self.folder / "landmarks.csv"
        if not table.exists():
            return {}
        with table.open(encoding="utf-8", newline="") as file:
            return {(r["view"], r["landmark"], r["placed_by"]): r for r in csv.DictReader(file)}

    def at(self, view: str, landmark: str, by: str = "") -> tuple[float, float]:
        row = self.rows[view, landmark, by]
        return float(row["x"]), float(row["y"])

    def end(self) -> None:
        self.server.shutdown()
        self.thread.join()
        self.server.server_close()


class RunningAlone(Running):
    """`turncheck mark` as a person starts it, in a process of its own."""

    def begin(self, earlier: Result | None) -> None:
        assert earlier is None
        command = [sys.executable, "-m", "turncheck", "mark", str(self.folder), "--no-browser"]
        self.process = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            env={**os.environ, "XDG_CONFIG_HOME": str(self.folder.parent / "settings")},
        )
        assert self.process.stdout is not None
        self.url = self.process.stdout.readline().strip()
        assert self.url.startswith("http://127.0.0.1:")

    def stop(self, how: signal.Signals = signal.SIGINT) -> str:
        if self.process.poll() is None:
            self.process.send_signal(how)
        return self.process.communicate(timeout=20)[0]

    def end(self) -> None:
        self.stop(signal.SIGKILL)


def starting(tmp_path: Path, kind: type[Run]) -> Iterator[Callable[..., Run]]:
    """Start marking a copy of a sample, or of some of its drawings; without its landmarks unless
    they are kept.
    """
    started: list[Run] = []

    def begin(
        sample: str = "odo",
        keep: bool = False,
        views: Sequence[str] = (),
        folder: Path | None = None,
        earlier: Result | None = None,
    ) -> Run:
        if folder is None:
            folder = tmp_path / f"{sample}-{len(started)}"
            if views:
                copied(sample, views, folder)
            else:
                shutil.copytree(SAMPLES / sample, folder)
            if not keep:
                (folder / "landmarks.csv").unlink()
        started.append(kind(folder, earlier))
        return started[-1]

    yield begin
    for running in started:
        running.end()


def truth(sample: str = "odo") -> dict[str, Any]:
    found: dict[str, Any] = json.loads((SAMPLES / sample / "truth.json").read_text("utf-8"))
    return found["views"]


def open_page(
    new_page: NewPage, running: Running, letters: str = "usual", **options: Any
) -> Opened:
    opened = new_page(**options)
    if letters != "usual":
        wear(opened.page, letters)
    opened.page.goto(running.url)
    opened.page.wait_for_selector("body[data-ready]", timeout=20_000)
    return opened


def wear(page: Page, letters: str) -> None:
    """Have pages laid out in other letters from here on."""
    style = in_letters(assets.text("fonts.css"), letters)
    page.unroute_all()
    page.route("**/fonts.css", lambda route: route.fulfill(content_type="text/css", body=style))


def spot(page: Page, view: str, x: float, y: float) -> tuple[float, float]:
    """Where a drawing's px is on the screen, from the drawing's own element."""
    found = page.evaluate(
        """([view, x, y]) => {
          const shown = document.querySelector(`[data-view="${view}"] svg`);
          const [left, top, w, h] = shown.getAttribute("viewBox").split(" ").map(Number);
          const box = document.querySelector(`[data-view="${view}"] .edge`).getBoundingClientRect();
          return [box.left + (x - left) / w * box.width, box.top + (y - top) / h * box.height];
        }""",
        [view, x, y],
    )
    return float(found[0]), float(found[1])


def go_to(page: Page, view: str) -> None:
    """Work on a drawing, unless all are shown."""
    chip = page.locator(f".chip[data-on='{view}']")
    one = page.locator("#whole").get_attribute("aria-pressed") == "false"
    if one and chip.get_attribute("aria-current") is None:
        chip.click()


def show_all(page: Page) -> None:
    """Show all drawings, so that they are gone through point by point."""
    if page.locator("#whole").get_attribute("aria-pressed") == "false":
        page.locator("#whole").click()


def choose(page: Page, title: str, view: str | None = None) -> None:
    """Choose a point of the list, on a drawing if one is named."""
    if view is not None:
        go_to(page, view)
    if page.locator("#points").get_attribute("aria-expanded") == "false":
        page.locator("#points").click()
    page.locator(".landmark", has=page.get_by_text(title, exact=True)).click()


#: How near a second click is one on the same spot, px of the screen, and for how long, s.
SAME_SPOT, TWICE = 8.0, 0.42
_clicked: tuple[float, tuple[float, float]] = -math.inf, (0.0, 0.0)


def click(page: Page, view: str, x: float, y: float) -> None:
    """Click on a spot of a drawing, and never twice on the same at once."""
    click_at(page, *spot(page, view, x, y))


def click_at(page: Page, x: float, y: float) -> None:
    global _clicked
    when, where = _clicked
    if math.dist(where, (x, y)) < SAME_SPOT:
        page.wait_for_timeout(1000.0 * max(when + TWICE - time.monotonic(), 0.0))
    page.mouse.click(x, y)
    _clicked = time.monotonic(), (x, y)


def mark(page: Page, view: str, landmark: str, by: str = "") -> Any:
    key = json.dumps([view, landmark, by], separators=(",", ":"), ensure_ascii=False)
    return page.locator(f"[data-key='{key}']")


def saved(page: Page, words: str) -> None:
    expect(page.locator("#saved")).to_contain_text(words)
    rests(page)


def rests(page: Page) -> None:
    """Wait until all is saved, and the proposals for it have come."""
    page.wait_for_selector("#lineup[data-rests=true]", timeout=20_000)


def close_to(found: tuple[float, float], x: float, y: float, px: float) -> bool:
    return abs(found[0] - x) <= px and abs(found[1] - y) <= px


def width_shown(page: Page) -> float:
    """How much of the line-up the page shows, in its own unit."""
    return float((page.locator("#lineup").get_attribute("viewBox") or "").split()[2])


#: What is up, and where on the screen a spot of it is and the proposal that can be taken.
UP = """() => {
  const centre = (box) => (box ? [box.x + box.width / 2, box.y + box.height / 2] : null);
  const [view, name] = JSON.parse(document.querySelector("#lineup").dataset.up);
  const offered = document.querySelector(".proposal.up:not(.doubtful) .hit");
  return { view, name, hidden: document.querySelector("#hide").ariaPressed === "true",
    offered: centre(offered?.getBoundingClientRect()) };
}"""


def place_by_hand(
    page: Page,
    seen: Mapping[tuple[str, str], Mapping[str, str]],
    where: Mapping[str, Any],
    put: Callable[[str, str, tuple[float, float], tuple[float, float] | None], None],
) -> Counter[str]:
    """Go through all points: X where there is none, H where it is hidden otherwise than expected.

    Parameters
    ----------
    seen
        The rows of the sample's table by view and landmark.
    put
        Places one: view, landmark, where it truly is and where it is proposed, px of the screen.
    """
    did: Counter[str] = Counter()
    for _ in range(250):
        up = page.evaluate(UP)
        view, name = up["view"], up["name"]
        if name is None:
            return did
        if (view, name) not in seen:
            page.keyboard.press("x")
            did["key"] += 1
            continue
        if up["hidden"] != (seen[view, name]["visibility"] == "hidden"):
            page.keyboard.press("h")
            did["key"] += 1
        drawn = where[view]
        ground = {"x": drawn["axis"], "y": drawn["ground"]}
        true = ground if name == "ground" else drawn["landmarks"][name]
        put(view, name, spot(page, view, true["x"], true["y"]), up["offered"])
        did["key"] += 1
    raise AssertionError("the points have no end")


#: The words on the drawings that the stage's edge cuts or that lie over one another.
UNREADABLE = """() => {
  const room = document.querySelector(".stage").getBoundingClientRect();
  const shared = (a, b) => [
    Math.min(a.right, b.right) - Math.max(a.left, b.left),
    Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top),
  ];
  const texts = [...document.querySelectorAll("#lineup text")]
    .filter((text) => text.textContent && getComputedStyle(text).visibility === "visible")
    .map((text) => ({ says: text.textContent, at: text.getBoundingClientRect() }))
    .filter(({ at }) => Math.min(...shared(at, room)) > 0);
  const cut = texts.filter(({ at }) => {
    const [wide, high] = shared(at, room);
    return wide < at.width - 1 || high < at.height - 1;
  });
  const over = texts.flatMap((one, i) => texts.slice(i + 1)
    .filter((other) => Math.min(...shared(one.at, other.at)) > 2)
    .map((other) => `${one.says} over ${other.says}`));
  return [...cut.map(({ says }) => `${says} is cut`), ...over];
}"""


def unreadable(page: Page) -> list[str]:
    """What can't be read on the drawings as the page stands."""
    found: list[str] = page.evaluate(UNREADABLE)
    return found


def unreadable_going_through(page: Page, then: str, number: int = 0) -> tuple[int, list[str]]:
    """Choose each landmark of the list in turn, click on something, and look.

    Returns how many landmarks there were, and what could not be read after which.
    """
    count, found = page.evaluate(
        f"""([then, number]) => {{
          const unreadable = {UNREADABLE};
          const rows = [...document.querySelectorAll(".landmark")];
          return [rows.length, rows.flatMap((row) => {{
            row.click();
            document.querySelectorAll(then)[number].click();
            const title = document.querySelector("#what").textContent;
            return unreadable().map((words) => `${{title}}: ${{words}}`);
          }})];
        }}""",
        [then, number],
    )
    return int(count), list(found)

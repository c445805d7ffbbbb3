"""Speed and memory of what people run, as ratios to the bare work on the same machine."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np

from tests.bench.crowd import crowd
from tests.outside.bodies import body_or_skip
from tests.outside.outlined import drawn
from tests.outside.rendering import write_sheet
from tests.simulations.turning_bodies import HEIGHT, biped, draw
from turncheck.checks.register import run_checks
from turncheck.geometry.measurement import measure
from turncheck.geometry.outlines import compare_outlines
from turncheck.geometry.turn import solve_turn
from turncheck.images.features import row_extents
from turncheck.images.figure_mask import figure_mask

YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
DECODE = (
    "import sys, pandas, cv2\n"
    "for p in sys.argv[1:]: assert cv2.imread(p, cv2.IMREAD_UNCHANGED) is not None\n"
)
CLICK = "import click\n@click.command()\ndef main(): 'A bare program.'\nmain()\n"
PEAK = (
    "import sys\n"
    "from turncheck.cli import main\n"
    "try: main(sys.argv[1:])\n"
    "finally:\n"
    "    status = dict(line.split(':', 1) for line in open('/proc/self/status'))\n"
    "    print(int(status['VmHWM'].split()[0]) / 1024)\n"
)


@dataclass(frozen=True)
class Figure:
    """What something took, over the bare work; the goal, and the limit that a test holds.

    A limit is twice what is measured or wanted: a machine with other work to do passes, and what
    has become twice as slow does not.
    """

    what: str
    bare: str
    times: float
    goal: float
    limit: float

    def __str__(self) -> str:
        said = f"{self.times:.2f} times {self.bare} (goal {self.goal:g}, limit {self.limit:g})"
        return f"{self.what}: {said}"


def program(*command: str) -> Callable[[], object]:
    """Return a job that runs a Python program as people do: what it compiled once it keeps."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    line = [sys.executable, *command]
    return lambda: subprocess.run(line, env=env, capture_output=True, check=True)


def ratio(job: Callable[[], object], bare: Callable[[], object], rounds: int = 5) -> float:
    """Return the quickest of a few runs over that of the bare work, run in turns."""
    taken = [[seconds(each) for each in (job, bare)] for _ in range(rounds)]
    ours, theirs = map(min, zip(*taken, strict=True))
    return ours / theirs


def seconds(job: Callable[[], object]) -> float:
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def sheet_of(folder: Path, width: int, height: int) -> list[str]:
    """Write four drawings of a size with their placings and return the drawings' paths."""
    write_sheet(folder, body_or_skip("adult_male"), YAWS, height_px=0.92 * height)
    paths = sorted(folder.glob("*.png"))
    for path in paths:
        drawing = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
        more = [
            max(0, size - has) for size, has in zip((height, width), drawing.shape, strict=False)
        ]
        drawing = cv2.copyMakeBorder(drawing, 0, more[0], 0, more[1], cv2.BORDER_CONSTANT)
        cv2.imwrite(str(path), drawing[:height, :width])
    return [str(path) for path in paths]


def check(folder: Path, width: int, height: int) -> Figure:
    drawings = sheet_of(folder, width, height)
    job = program("-m", "turncheck", "check", str(folder), "--out", str(folder / "out"), "--quiet")
    times = ratio(job, program("-c", DECODE, *drawings))
    what = f"`turncheck check`, four drawings of {width} × {height} px"
    return Figure(what, "decoding and importing pandas", times, 2.0, 4.0)


def help_page() -> Figure:
    times = ratio(program("-m", "turncheck", "--help"), program("-c", CLICK, "--help"), 15)
    return Figure("`turncheck --help`", "a bare click program", times, 1.2, 2.4)


def peak_memory(folder: Path) -> Figure:
    drawings = sheet_of(folder, 3000, 4000)
    command = [sys.executable, "-c", PEAK, "check", str(folder), "--out", str(folder / "out"), "-q"]
    ran = subprocess.run(command, capture_output=True, text=True, check=True)
    one = max(cv2.imread(path, cv2.IMREAD_UNCHANGED).nbytes for path in drawings) / 2**20
    bare = f"one drawing of {one:.0f} MiB and 250 MiB"
    return Figure("peak memory of that", bare, float(ran.stdout) / (one + 250.0), 1.0, 1.5)


def turn() -> Figure:
    """Of 5 views and 40 landmarks, one drawing's arm cheated; bare: 100 solutions of one system."""
    body = biped(pairs=16, midline=8)
    rng = np.random.default_rng(0)
    nominal = np.array([0.0, 45.0, 90.0, 135.0, 180.0])
    sd = np.full((5, 40), 0.0015 * HEIGHT)
    x = draw(body, nominal + np.r_[0.0, rng.normal(0.0, 3.0, 4)])
    x += rng.normal(0.0, 1.0, sd.shape) * sd
    x[2, :4] += 0.03 * HEIGHT
    system = rng.normal(size=(90, 90)) + 90.0 * np.eye(90)

    def solve() -> object:
        return solve_turn(
            x,
            sd,
            np.ones(5),
            nominal,
            figure_height=HEIGHT,
            pairs=body.pairs,
            midline=body.midline,
        )

    assert solve()

    def bare() -> object:
        return [np.linalg.solve(system, system[0]) for _ in range(100)]

    what = "turn of 5 views and 40 landmarks"
    return Figure(what, "100 systems of 90 unknowns", ratio(solve, bare, 20), 2.5, 5.0)


def load() -> Figure:
    """Of measuring and checking placings: 50 drawings of 50 points; bare: 12 drawings of 50."""

    def run(views: int) -> Callable[[], object]:
        sheet, placings = crowd(views, 50)
        return lambda: run_checks(measure(sheet, placings, {}))

    what = "checks of 50 drawings with 50 points"
    return Figure(what, "those of 12 drawings", ratio(run(50), run(12), 1), 10.0, 20.0)


def outlines(folder: Path) -> Figure:
    """Of five drawings of 3000 × 4000 px, from their pixels to what contradicts what."""
    yaws = (0.0, 45.0, 90.0, 135.0, 180.0)
    sheet = drawn(body_or_skip("adult_male"), yaws)
    paths = sheet_of(folder, 3000, 4000)
    drawings = [cv2.imread(path, cv2.IMREAD_UNCHANGED) for path in (*paths, paths[1])]

    def read() -> None:
        for pixels in drawings:
            row_extents(figure_mask(pixels).pixels)
        assert compare_outlines(sheet.outlines, sheet.height, symmetric=True)

    def decode() -> object:
        return [cv2.imread(path, cv2.IMREAD_UNCHANGED) for path in (*paths, paths[1])]

    what = "outlines of five drawings of 3000 × 4000 px"
    return Figure(what, "decoding them", ratio(read, decode), 0.5, 1.0)

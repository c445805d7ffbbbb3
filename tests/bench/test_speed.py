"""Speed and memory, outside the timed suite: `pytest tests/bench -s`.

Limits are ratios to the bare work on the same machine in the same minute, so that a slow
machine does not fail them.
"""

from __future__ import annotations

import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from tests.outside.bodies import body_or_skip
from tests.outside.rendering import write_sheet
from tests.simulations import figures
from tests.simulations.turning_bodies import HEIGHT, biped, draw
from turncheck.checks.register import open_sheet, run_checks
from turncheck.geometry.measurement import measure
from turncheck.geometry.turn import solve_turn
from turncheck.images.features import row_extents
from turncheck.images.figure_mask import figure_mask
from turncheck.images.picture_file import decode
from turncheck.instructions import what_to_redraw
from turncheck.sheet.landmark_table import landmarks_path, read_placings
from turncheck.sheet.vocabulary import read_vocabulary

YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
DECODE = (
    "import sys, pandas, cv2\n"
    "for p in sys.argv[1:]: assert cv2.imread(p, cv2.IMREAD_UNCHANGED) is not None\n"
)
CLICK = "import click\n@click.command()\ndef main(): 'A bare program.'\nmain()\n"
#: The whole job but what is read off the drawings' pixels, and what only that needs.
SPINE = (
    "import turncheck.checking as checking, turncheck.images.describing as looking\n"
    "nothing = lambda *given: None\n"
    "looking.sample_drawing = looking.study = nothing\n"
    "checking.differences = checking.cheapest_pairs = checking.to_lab = nothing\n"
    "checking.refuse_misplaced_points, checking.replace = nothing, lambda measured, features: measured\n"
    "from turncheck.cli import start\n"
    "start()\n"
)
PEAK = (
    "import sys\n"
    "from turncheck.cli import main\n"
    "try: main(sys.argv[1:])\n"
    "finally:\n"
    "    status = dict(line.split(':', 1) for line in open('/proc/self/status'))\n"
    "    print(int(status['VmHWM'].split()[0]) / 1024)\n"
)


def seconds(*command: str, rounds: int = 5, status: int = 0) -> float:
    """The quickest of a few runs of a command."""
    best = float("inf")
    for _ in range(rounds):
        start = time.perf_counter()
        ran = subprocess.run([sys.executable, *command], capture_output=True, text=True)
        best = min(best, time.perf_counter() - start)
        assert ran.returncode == status, ran.stderr
    return best


@pytest.fixture(scope="module")
def large_sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four drawings of about 3000 × 4000 px."""
    import cv2

    folder = tmp_path_factory.mktemp("large")
    write_sheet(folder, body_or_skip("adult_male"), YAWS, height_px=3700.0)
    for path in folder.glob("*.png"):
        drawn = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
        more = max(0, 3000 - drawn.shape[1]), max(0, 4000 - drawn.shape[0])
        drawn = cv2.copyMakeBorder(drawn, 0, more[1], 0, more[0], cv2.BORDER_CONSTANT)
        cv2.imwrite(str(path), drawn)
        assert drawn.shape[0] >= 4000 and drawn.shape[1] >= 3000
    return folder


def test_check_takes_at_most_three_times_decoding_and_importing(large_sheet, tmp_path):
    drawings = sorted(str(path) for path in large_sheet.glob("*.png"))
    job = ("check", str(large_sheet), "--out", str(tmp_path), "--quiet")
    bare = seconds("-c", DECODE, *drawings)
    whole, spine = seconds("-m", "turncheck", *job), seconds("-c", SPINE, *job)
    print(
        f"\ncheck {whole:.2f} s, decoding and importing {bare:.2f} s: {whole / bare:.2f} times; "
        f"without what is read off the pixels {spine:.2f} s: {spine / bare:.2f} times"
    )
    assert whole <= 3.0 * bare
    assert spine <= 2.0 * bare


def test_help_takes_at_most_one_and_a_half_times_a_bare_click_program():
    bare = seconds("-c", CLICK, "--help", rounds=15)
    ours = seconds("-m", "turncheck", "--help", rounds=15)
    print(f"\n--help {ours * 1e3:.0f} ms, bare click {bare * 1e3:.0f} ms: {ours / bare:.2f} times")
    assert ours <= 1.5 * bare


def test_peak_memory_is_one_decoded_drawing_and_250_megabytes(large_sheet, tmp_path):
    ran = subprocess.run(
        [sys.executable, "-c", PEAK, "check", str(large_sheet), "--out", str(tmp_path), "-q"],
        capture_output=True,
        text=True,
        check=True,
    )
    import cv2

    one = max(
        cv2.imread(str(path), cv2.IMREAD_UNCHANGED).nbytes for path in large_sheet.glob("*.png")
    )
    peak, allowed = float(ran.stdout), one / 2**20 + 250
    print(f"\npeak {peak:.0f} MiB, one drawing {one / 2**20:.0f} MiB, allowed {allowed:.0f} MiB")
    assert peak <= allowed


def test_landmarks_of_5_views_of_40_take_under_50_ms(benchmark, monkeypatch):
    names = list(read_vocabulary("biped", Path()).landmarks)[:40]
    rng = np.random.default_rng(0)
    heights = figures.HEIGHTS | {n: rng.uniform(5, 95) for n in names if n not in figures.HEIGHTS}
    monkeypatch.setattr(figures, "HEIGHTS", heights)
    sheet = figures.sheet(5)
    placings = figures.placings(sheet, rng, {("side", "knee_l"): 3.0, ("side", "ankle_l"): 3.0})

    def job():
        measured = measure(sheet, placings)
        return what_to_redraw(measured, run_checks(measured))

    assert benchmark(job)
    assert benchmark.stats.stats.median < 0.050


def test_turn_of_5_views_of_40_landmarks_takes_under_100_ms(benchmark):
    body = biped(pairs=16, midline=8)
    rng = np.random.default_rng(0)
    nominal = np.array([0.0, 45.0, 90.0, 135.0, 180.0])
    sd = np.full((5, 40), 0.0015 * HEIGHT)
    x = draw(body, nominal + np.r_[0.0, rng.normal(0.0, 3.0, 4)])
    x += rng.normal(0.0, 1.0, sd.shape) * sd
    x[2, :4] += 0.03 * HEIGHT

    def job():
        return solve_turn(
            x,
            sd,
            np.ones(5),
            nominal,
            figure_height=HEIGHT,
            pairs=body.pairs,
            midline=body.midline,
        )

    assert benchmark(job)
    assert benchmark.stats.stats.median < 0.100


def test_outlines_of_five_masks_take_under_a_second_beyond_decoding(tmp_path):
    yaws = YAWS | {"three_quarter_back": 135.0}
    write_sheet(tmp_path, body_or_skip("adult_male"), yaws, height_px=3700.0)
    sheet = open_sheet(tmp_path)
    measured = measure(sheet, read_placings(landmarks_path(sheet), sheet))
    assert measured.turn
    drawings = [decode(view.picture) for view in sheet.views.values()]
    start = time.perf_counter()
    extents = [row_extents(figure_mask(drawing).pixels) for drawing in drawings]
    features = tuple(SimpleNamespace(left=left, right=right) for left, right in extents)
    reading = replace(measured, features=features).outlines
    taken = time.perf_counter() - start
    print(f"\noutlines of five masks {taken * 1e3:.0f} ms")
    assert reading
    assert taken < 1.0

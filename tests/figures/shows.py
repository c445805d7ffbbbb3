"""The page on whole shows: what their survey costs, and what one of 10,000 sheets would.

On an idle machine with two cores it takes some five minutes. `SHOWS_KEPT=FOLDER` keeps what is
measured there, so that a run that was stopped goes on; `SHOWS_LARGEST=100` leaves out larger shows.
"""

from __future__ import annotations

import csv
import json
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from playwright.sync_api import sync_playwright

from tests.bench.generated_show import write_show
from tests.bench.show_timing import Run, hashed, surveyed, unchanged
from tests.figures.markdown import table
from tests.places import ROOT
from tests.sheets import VIEWS, placed

#: Sheets of the shows that are surveyed, and of the one that is told of.
SIZES, FAR = (10, 100, 1000), 10_000
#: How often one worker and two are held against each other.
TIMES = 3
#: Sheets that are real drawings, and how often each is taken.
SAMPLES, COPIES = ("odo", "pim", "brindle"), 4
#: Rows that a spreadsheet holds, from memory.
SPREADSHEET = 2**20
#: Writes all that is over a show's sheets, as if it had more: the same ones under further names.
ENDED = """
import json, sys, time
from dataclasses import replace
from pathlib import Path
from turncheck.files.own import save_own
from turncheck.show import survey
from turncheck.show.cache import kept_record, open_cache
from turncheck.show.gathering import Gathered
from turncheck.show.one_sheet import Job
from turncheck.show.search import sheets_below
root, out, times = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
cache, found = open_cache(out), sheets_below(root, out)
jobs = [Job(one, 0, root, out, cache, magnified=False).now() for one in found]
started = time.process_time()
with Gathered(cache, times * len(jobs), None) as gathered:
    for n in range(times):
        for at, job in enumerate(jobs, start=n * len(jobs)):
            one = kept_record(cache, job.key)
            one = replace(one, path=f"{n}/{one.path}", character=f"{one.character}, {n}")
            gathered.add(at, job.key, one, checked=False)
    save_own(out, survey._own(""), gathered.contents("show", ""))
taken = time.process_time() - started
status = dict(line.split(":", 1) for line in open("/proc/self/status"))
sizes = {file.name: file.stat().st_size for file in out.iterdir() if file.is_file()}
print(json.dumps({"sheets": times * len(jobs), "cpu": taken,
                  "mib": int(status["VmHWM"].split()[0]) / 1024, "sizes": sizes}))
"""


class Measured:
    """What was measured, kept in a folder so that a stopped run goes on."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._file = folder / "measured.json"
        self._known = json.loads(self._file.read_text("utf-8")) if self._file.exists() else {}

    def once(self, name: str, measure: Callable[[], Any]) -> Any:
        """Return what is known by a name; measure it where it is not."""
        if name not in self._known:
            self._known[name] = measure()
            self._file.write_text(json.dumps(self._known, indent=1), "utf-8")
        return self._known[name]

    def show(self, sheets: int) -> Path:
        """Return the folder of a show of so many sheets."""
        folder = self.folder / f"s{sheets}"
        return folder if folder.exists() else write_show(folder, sheets)

    def run(self, show: Path, workers: int, number: int = 0) -> Run:
        """Return what the survey of a show took, done with so many workers, one time of several."""
        out = self.out(show, workers, number)

        def measure() -> dict[str, float]:
            shutil.rmtree(out, ignore_errors=True)
            return surveyed(show, out, workers).as_json()

        return Run(**self.once(f"{show.name}, {workers} workers, {number}", measure))

    def again(self, show: Path) -> Run:
        """Return what a second survey took."""
        out = self.out(show, 2)
        measure = lambda: surveyed(show, out, 2).as_json()  # noqa: E731
        return Run(**self.once(f"{show.name}, again", measure))

    def out(self, show: Path, workers: int, number: int = 0) -> Path:
        return self.folder / f"{show.name}-out-{workers}-{number}"


def page() -> str:
    kept = os.environ.get("SHOWS_KEPT")
    with tempfile.TemporaryDirectory() as name:
        return written(Measured(Path(kept or name).absolute()))


def written(measured: Measured) -> str:
    most = int(os.environ.get("SHOWS_LARGEST", SIZES[-1]))
    shows = [measured.show(size) for size in SIZES if size <= most]
    runs = [measured.run(show, 2) for show in shows]
    again = [measured.again(show) for show in shows]
    pairs = [[measured.run(shows[1], workers, n) for workers in (1, 2)] for n in range(TIMES)]
    out, copies = measured.out(shows[-1], 2), FAR // runs[-1].sheets
    small = measured.once("small", lambda: _of_a_sheet(shows[-1], out))
    real = measured.once("real", lambda: _of_a_sheet(*_surveyed_samples(measured.folder)))
    kept_ms = measured.once("unchanged", lambda: _unchanged(measured, shows[:2]))
    end = measured.once("end", lambda: _ended(shows[-1], out, copies))
    opened = measured.once("opened", lambda: _opened(out / "index.html"))
    load = measured.once("load", lambda: os.getloadavg()[0])
    few, more, most_sheets = runs[0], runs[-2], runs[-1]
    a_sheet, before = _each(more, most_sheets), _each(few, runs[1])
    start = few.cpu - few.sheets * a_sheet
    kib = 1024 * (most_sheets.own_mib - more.own_mib) / (most_sheets.sheets - more.sheets)
    faster = statistics.median(one.wall / two.wall for one, two in pairs)
    real_ms = kept_ms + real["hash_ms"] - small["hash_ms"]
    real_sheet = a_sheet - small["seconds"] + real["seconds"]
    hours = FAR * a_sheet / 3600, FAR * real_sheet / 3600
    rest = (FAR * (real["cache"] + real["pictures"]) + sum(end["sizes"].values())) / 1e9
    full = [round(SPREADSHEET / each["rows"], -2) for each in (small, real)]
    points = len(placed()) // len(VIEWS)
    index, reports = end["sizes"]["index.html"] / 1e6, FAR * real["report"] / 1e9
    return f"""# Whole shows

Generated shows of small drawings, no two alike: four of 240 × 360 px a sheet with {points} points
each, two revisions a character. Processor seconds are those of the survey and of its workers,
their start among them. Two cores, and {load:.0f} programs that wanted one: what is by the clock
says little where that is more than two, and processor seconds are then up to a third too many.

## Shows that grow, two workers

{table(_row(run, again) for run, again in zip(runs, again, strict=True))}

- **A further sheet** takes {a_sheet:.3f} s of a processor from {more.sheets} to
  {most_sheets.sheets} sheets and {before:.3f} s from {few.sheets} to {runs[1].sheets},
  {a_sheet / before:.2f} times as much. The start takes {start:.1f} s.
- **An unchanged sheet** takes {kept_ms:.1f} ms, the start left out, and {real_ms:.1f} ms with
  real drawings.
- **Memory**: a worker has the same whatever the show; the survey itself, which writes the tables
  over all, has {kib:.0f} KiB more for each further sheet.
- **Two workers** are {faster:.2f} times as fast by the clock as one on {runs[1].sheets} sheets, the
  median of {TIMES} runs of each in turn. A worker has one core and one thread.

## 10,000 sheets

{table(_far(hours, (kept_ms, real_ms), (small, real), end, opened))}

Real drawings are those of {len(SAMPLES)} sheets of `sample_views`, 4 or 5 each, 1400 to 1500 px
high. What is a sheet's own is measured on these and multiplied; what is over all sheets is
measured, on the {most_sheets.sheets} surveyed ones {copies} times under other names.

## Where it breaks first

1. **The findings in a spreadsheet.** One holds {SPREADSHEET:,} rows at most (from memory), which
   {full[0]:,.0f} small sheets fill, or {full[1]:,.0f} real ones. `findings.parquet` knows no such
   end, and `sheets.csv` has a row a sheet.
2. **The page.** {index:.0f} MB with all sheets in one line-up and one table: {opened["cpu"]:.1f} s
   of a processor until it is there, and {opened["ordered"]:.1f} s more to put it in another order.
   A survey for each reel or season is the better page.
3. **The disk.** Reports have their sheets' drawings in them: {reports:.0f} GB, and {rest:.1f} GB
   for all else.
4. **The first survey.** {hours[1]:.1f} hours of one processor, half of that on two; a cluster
   shortens it. Later ones take {FAR * real_ms / 1000:.0f} s, and what has changed.

Memory is no limit: {end["mib"]:.0f} MiB at the end.
"""


def _each(fewer: Run, more: Run) -> float:
    """Return the processor seconds of a further sheet."""
    return (more.cpu - fewer.cpu) / (more.sheets - fewer.sheets)


def _row(run: Run, later: Run) -> dict[str, object]:
    return {
        "sheets": run.sheets,
        "processor s": f"{run.cpu:.1f}",
        "a sheet": f"{run.cpu / run.sheets:.3f}",
        "of the survey itself": f"{run.own:.1f}",
        "by the clock, s": f"{run.wall:.0f}",
        "survey, MiB": f"{run.own_mib:.0f}",
        "a worker, MiB": f"{run.worker_mib:.0f}",
        "nothing changed, s": f"{later.cpu:.2f}",
        "its MiB": f"{later.own_mib:.0f}",
    }


def _far(
    hours: tuple[float, float],
    kept_ms: tuple[float, float],
    sheets: tuple[dict[str, float], dict[str, float]],
    end: dict[str, Any],
    opened: dict[str, float],
) -> list[dict[str, str]]:
    def each(name: str, unit: str, by: float) -> list[str]:
        return [f"{FAR * sheet[name] / by:.1f} {unit}" for sheet in sheets]

    both = {
        "first survey, of one processor": [f"{each_of:.1f} h" for each_of in hours],
        "a later one, nothing changed": [f"{FAR * ms / 1000:.0f} s" for ms in kept_ms],
        "reports": each("report", "GB", 1e9),
        "cache": each("cache", "GB", 1e9),
        "pictures": each("pictures", "MB", 1e6),
        "rows of findings": each("rows", "million", 1e6),
    }
    over_all = {name: f"{size / 1e6:.0f} MB" for name, size in end["sizes"].items()}
    over_all |= {
        "page and tables over all, written": f"{end['cpu']:.0f} s of a processor",
        "memory of that, at its peak": f"{end['mib']:.0f} MiB",
        "the page opened": f"{opened['seconds']:.0f} s by the clock",
        "that, of a processor": f"{opened['cpu']:.1f} s",
        "that, put in another order": f"{opened['ordered']:.1f} s of a processor",
    }
    return [
        {"what": what, "small drawings": small, "real drawings": real}
        for what, (small, real) in (both | {w: [t, ""] for w, t in over_all.items()}).items()
    ]


def _of_a_sheet(show: Path, out: Path) -> dict[str, float]:
    """Return what a surveyed sheet took: seconds, rows, ms to hash it, and bytes."""
    with (out / "sheets.csv").open(encoding="utf-8") as file:
        seconds = [float(row["seconds"]) for row in csv.DictReader(file)]
    sizes = {
        what: sum(file.stat().st_size for file in (out / folder).rglob("*") if file.is_file())
        for what, folder in (("report", "sheets"), ("cache", ".cache"), ("pictures", "pictures"))
    }
    rows = (out / "findings.csv").read_bytes().count(b"\n") - 1
    count = len(seconds)
    hash_ms = 1000 * hashed([file for file in show.rglob("*.*") if file.is_file()], 3)
    each = {"rows": rows, "hash_ms": hash_ms, **sizes}
    return {"seconds": float(np.median(seconds)), **{n: v / count for n, v in each.items()}}


def _surveyed_samples(folder: Path) -> tuple[Path, Path]:
    show, out = folder / "samples", folder / "samples-out"
    for copy in range(COPIES):
        for name in SAMPLES:
            shutil.copytree(
                ROOT / "sample_views" / name, show / str(copy) / name, dirs_exist_ok=True
            )
    surveyed(show, out, 1)
    return show, out


def _unchanged(measured: Measured, shows: list[Path]) -> float:
    """Return ms of a further sheet that is not changed."""
    fewer, more = (unchanged(show, measured.out(show, 2), 4) for show in shows)
    return 1000 * (more - fewer) / (SIZES[1] - SIZES[0])


def _ended(show: Path, out: Path, times: int) -> Any:
    ran = subprocess.run(
        [sys.executable, "-c", ENDED, show, out, str(times)],
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(ran.stdout)


def _opened(page: Path) -> dict[str, float]:
    """Return what a browser takes to draw a page, and to put its sheets in another order."""
    program = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chrome")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        tab = browser.new_page(viewport={"width": 1440, "height": 900})
        tab.set_default_timeout(300_000)
        tools = tab.context.new_cdp_session(tab)
        tools.send("Performance.enable")

        def spent() -> float:
            tab.evaluate("() => new Promise(done => requestAnimationFrame(() => setTimeout(done)))")
            told = tools.send("Performance.getMetrics")["metrics"]
            return next(one["value"] for one in told if one["name"] == "ProcessTime")

        begun, started = spent(), time.perf_counter()
        tab.goto(page.as_uri())
        there = spent()
        seconds = time.perf_counter() - started
        tab.click("[data-by=height]")
        ordered = spent() - there
        browser.close()
    return {"seconds": seconds, "cpu": there - begun, "ordered": ordered}

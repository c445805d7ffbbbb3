"""What surveys of shows take: processor seconds and memory of the survey and of its workers."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
import time
from dataclasses import asdict, dataclass
from pathlib import Path

from tests.bench.generated_show import write_show
from tests.bench.timing import Figure
from turncheck.show.survey import survey

#: Runs a survey, then prints what it and the workers that it has waited for have used.
SURVEYED = """
import json, resource, sys, time
from turncheck.show.survey import survey
started = time.perf_counter()
done = survey(sys.argv[1], sys.argv[2], workers=int(sys.argv[3]))
wall = time.perf_counter() - started
own, theirs = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
status = dict(line.split(":", 1) for line in open("/proc/self/status"))
print(json.dumps({
    "sheets": len(done.records), "checked": done.checked, "workers": int(sys.argv[3]), "wall": wall,
    "own": own.ru_utime + own.ru_stime, "theirs": theirs.ru_utime + theirs.ru_stime,
    "own_mib": int(status["VmHWM"].split()[0]) / 1024, "worker_mib": theirs.ru_maxrss / 1024,
}))
"""
#: Checks sheets and saves their reports as one process alone, and prints processor seconds a sheet.
CHECKED = """
import sys, time
from pathlib import Path
import cv2
from turncheck import check
cv2.setNumThreads(1)
for number, folder in enumerate(sys.argv[2:]):
    if number == 1:  # the first one reads in all that there is to read
        started = time.process_time()
    check(folder).save(Path(sys.argv[1]) / str(number))
print((time.process_time() - started) / number)
"""
#: As turncheck runs where it is installed: small matrices by one thread, modules compiled once.
_ENVIRONMENT = {
    **{name: text for name, text in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"},
    **dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), "1"),
}


@dataclass(frozen=True)
class Run:
    """What a survey took.

    Attributes
    ----------
    sheets, checked, workers
        How many there were, were checked, and worked.
    wall, own, theirs
        Seconds by the clock, and of processors: the survey's own and its workers'.
    own_mib, worker_mib
        Peak memory of the survey, and of its largest worker; 0 where none was needed.
    """

    sheets: int
    checked: int
    workers: int
    wall: float
    own: float
    theirs: float
    own_mib: float
    worker_mib: float

    @property
    def cpu(self) -> float:
        """Processor seconds in all."""
        return self.own + self.theirs

    @property
    def scheduled(self) -> float:
        """Seconds that it takes where each process has a core of its own, at worst.

        As if no worker had anything to do while the survey itself works, and the last sheet were
        half a sheet's time late for each further worker.
        """
        late = self.theirs / max(self.checked, 1) * (1.0 - 1.0 / self.workers)
        return self.own + self.theirs / self.workers + late

    def as_json(self) -> dict[str, float]:
        return asdict(self)


def surveyed(show: Path, out: Path, workers: int) -> Run:
    """Survey a show in a process of its own."""
    return Run(**json.loads(_printed(SURVEYED, show, out, workers)))


def _printed(program: str, *given: object) -> str:
    line = [sys.executable, "-c", program, *map(str, given)]
    ran = subprocess.run(line, env=_ENVIRONMENT, capture_output=True, text=True, check=True)
    return ran.stdout


def checked_alone(sheets: list[Path], out: Path) -> float:
    """Return processor seconds that a sheet takes to check and save, without a survey."""
    return float(_printed(CHECKED, out, *sheets))


def unchanged(show: Path, out: Path, rounds: int) -> float:
    """Return processor seconds of a survey of which nothing has changed, the quickest of some."""
    taken = []
    for _ in range(rounds):
        started = time.process_time()
        assert survey(show, out, workers=1).checked == 0
        taken.append(time.process_time() - started)
    return min(taken)


def hashed(files: list[Path], rounds: int) -> float:
    """Return processor seconds that reading files and hashing them takes, the quickest of some."""
    taken = []
    for _ in range(rounds):
        started = time.process_time()
        assert len({hashlib.sha256(file.read_bytes()).digest() for file in files}) > 1
        taken.append(time.process_time() - started)
    return min(taken)


def growing(folder: Path, first: int) -> list[Figure]:
    """Return the figures of a show that grows to twice as many sheets as it had at first."""
    show, out = folder / "show", folder / "out"
    write_show(show, 1)
    begun = surveyed(show, out, 1)
    write_show(show, first - 1, 1)
    small = surveyed(show, out, 1)
    unchanged_small = unchanged(show, out, 4)
    pair = surveyed(show, folder / "pair", 2)
    write_show(show, first, first)
    large = surveyed(show, out, 1)
    unchanged_large = unchanged(show, out, 4)
    alone = checked_alone(sorted(show.glob("*/*"))[:9], folder / "alone")
    a_sheet = (large.cpu - begun.cpu) / (large.checked - 1)
    before = (small.cpu - begun.cpu) / (small.checked - 1)
    again = (unchanged_large - unchanged_small) / first
    bare = hashed([file for file in show.rglob("*.*") if file.is_file()], 4) / (2 * first)
    print(f"\na sheet: {a_sheet:.3f} s, in a show of half the size {before:.3f} s")
    print(f"unchanged: {1000 * again:.2f} ms, reading and hashing it {1000 * bare:.2f} ms")
    print(f"by the clock: two workers {pair.wall:.1f} s, one {small.wall:.1f} s")
    return [
        Figure(f"a sheet of {2 * first}", f"one of {first}", a_sheet / before, 1.1, 1.6),
        Figure("a sheet in a survey", "checking and saving it", a_sheet / alone, 1.2, 2.0),
        Figure("an unchanged sheet", "reading and hashing its files", again / bare, 8.0, 16.0),
        Figure(
            f"memory of a survey of {2 * first} sheets",
            f"that of {first}",
            large.own_mib / small.own_mib,
            1.1,
            1.3,
        ),
        Figure(
            f"memory of a worker after {first} sheets",
            "that after one",
            large.worker_mib / begun.worker_mib,
            1.1,
            1.3,
        ),
        Figure(
            f"two workers with a core each, {first} sheets",
            "one",
            pair.scheduled / small.cpu,
            0.65,
            0.85,
        ),
    ]

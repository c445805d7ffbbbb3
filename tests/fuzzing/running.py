"""Runs a case in a forked child and says which of the promises to a user it breaks."""

from __future__ import annotations

import io
import os
import re
import resource
import shlex
import signal
import stat
import sys
import tempfile
import time
import traceback
from dataclasses import dataclass
from pathlib import Path

import cv2

from tests.fuzzing.cases import Case, make_case
from tests.fuzzing.visiting import serve_and_visit
from turncheck.cli import start
from turncheck.errors import TurncheckError, shown
from turncheck.placing.server import MarkingServer

#: What a run may take at most: s, and bytes of memory.
LONGEST, MOST_MEMORY = 20.0, 1_000_000_000
_BYTES = 1 if sys.platform == "darwin" else 1024  # what ru_maxrss counts in, getrusage(2)
#: What a child can't get beyond, so that the machine lives, bytes.
_HARD_LIMIT = 8_000_000_000
_TORN = 70
_NO_NUMBER = re.compile(r"\b(nan|inf)( px| ?%|°)")

Tree = dict[str, bytes | str]

cv2.setNumThreads(0)  # a child has no threads of its parent's


@dataclass(frozen=True)
class Ran:
    """How a run went: what it said, its files before and after, s and bytes that it took."""

    status: int
    stdout: str
    stderr: str
    before: Tree
    after: Tree
    took: float
    memory: int


def try_case(seed: int, number: int, kept: Path | None = None) -> tuple[Case, Ran, list[str]]:
    """Run a case; return it, how it went, and every promise that it breaks.

    Parameters
    ----------
    kept
        Where to keep the files and the command of one that breaks any.
    """
    with tempfile.TemporaryDirectory(prefix="turncheck-fuzzing-") as folder:
        root = Path(folder)
        case = make_case(root, seed, number)
        ran = run(case, root)
    broken = broken_promises(case, ran)
    if broken and kept is not None:
        again = kept / f"{seed}-{number}"
        again.mkdir(parents=True, exist_ok=True)
        if not any(again.iterdir()):
            make_case(again, seed, number)
        command = shlex.join(("turncheck", *case.words)).encode("utf-8", "surrogateescape")
        said = "\n".join([*broken, "", ran.stdout, ran.stderr]).encode("utf-8", "replace")
        (again / "command.txt").write_bytes(command + b"\n\n" + said)
    return case, ran, broken


def run(case: Case, root: Path) -> Ran:
    """Run a command in a folder, in a child of this process."""
    before, started = tree(root), time.monotonic()
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as errors:
        child = os.fork()
        if not child:
            _be_turncheck(case, root, out.fileno(), errors.fileno())
        done, status, used = os.wait4(child, os.WNOHANG)
        while not done:
            if time.monotonic() - started > LONGEST:
                os.kill(child, signal.SIGKILL)
            time.sleep(0.002)
            done, status, used = os.wait4(child, os.WNOHANG)
        said = []
        for file in (out, errors):
            file.seek(0)
            said.append(file.read().decode("utf-8", "replace"))
    took = time.monotonic() - started
    code = os.waitstatus_to_exitcode(status)
    return Ran(code, *said, before, tree(root), took, used.ru_maxrss * _BYTES)


def _be_turncheck(case: Case, root: Path, out: int, errors: int) -> None:
    """Run the command with everything that it prints in two files; never return."""
    status: object = _TORN
    try:
        resource.setrlimit(resource.RLIMIT_AS, (_HARD_LIMIT, _HARD_LIMIT))
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.dup2(out, 1)
        os.dup2(errors, 2)
        sys.stdout, sys.stderr = map(_printing_to, (1, 2))
        os.chdir(root)
        sys.argv = ["turncheck", *case.words]
        serve = MarkingServer.serve_forever
        MarkingServer.serve_forever = serve_and_visit(serve, case.seed)  # type: ignore[method-assign]
        start()
    except SystemExit as ended:
        status = ended.code or 0
    except BaseException:
        traceback.print_exc()
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(status if isinstance(status, int) else _TORN)


def _printing_to(number: int) -> io.TextIOWrapper:
    return io.TextIOWrapper(io.FileIO(number, "w", closefd=False), encoding="utf-8")


def tree(root: Path) -> Tree:
    """Everything below a folder: files with their bytes, the rest with what it is."""
    found: Tree = {}
    for path in sorted(root.rglob("*")):
        kind = path.lstat().st_mode
        name = path.relative_to(root).as_posix()
        found[name] = path.read_bytes() if stat.S_ISREG(kind) else f"{stat.S_IFMT(kind):o}"
    return found


def broken_promises(case: Case, ran: Ran) -> list[str]:
    """Return what a user may count on and did not get, a sentence each."""
    broken = []
    if ran.status not in ((0, 1, 2) if case.words[0] in ("check", "approve") else (0, 2)):
        broken.append(f"exit status {ran.status}")
    if "Traceback" in ran.stderr or "Warning" in ran.stderr:
        broken.append("a traceback or a warning")
    if any(shown(line) != line for line in (ran.stdout + ran.stderr).split("\n")):
        broken.append("a character that can't be shown is shown")
    new = [data for name, data in ran.after.items() if name not in ran.before]
    files = [data for data in new if isinstance(data, bytes) and not data.startswith(b"\x89PNG")]
    texts = [ran.stdout, *(data.decode("utf-8", "replace") for data in files)]
    if any(_NO_NUMBER.search(text) for text in texts):
        broken.append("a length or an angle that is no number is told")
    if ran.took > LONGEST:
        broken.append(f"took {ran.took:.0f} s")
    if ran.memory > MOST_MEMORY:
        broken.append(f"took {ran.memory / 1e6:.0f} MB")
    if ran.status == TurncheckError.exit_code and (ran.stdout or not ran.stderr):
        broken.append("a refusal that says nothing, or more than why")
    for name in sorted({*ran.before, *ran.after}):
        was, now = ran.before.get(name), ran.after.get(name)
        if was == now or name in case.may_write:
            continue
        if was is not None:
            broken.append(f"{name} is not what it was")
        elif ran.status == TurncheckError.exit_code:
            broken.append(f"refused, and yet {name} is written")
        elif Path(name).name.startswith("."):
            broken.append(f"{name} is left over")
    return broken

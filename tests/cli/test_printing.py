"""An answer that can't be printed, for a full disk or as nobody reads it, is no crash."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pytest
from PIL import Image

from tests.places import SAMPLES
from tests.sheets import make_sheet
from turncheck.cli import main
from turncheck.errors import NOBODY_LISTENS

#: Longer than any run here takes, s.
PATIENCE = 60
FULL = Path("/dev/full")
COMMANDS = (
    ("check", "tib"), ("check", "tib", "--json"), ("check", "--help"), ("--help",), ("--version",),
    ("new", "k", "tib/front.png"), ("split", "wide.png", "k"),
    ("dots", "tib"), ("export", "tib", "there.json"), ("mark", "tib", "--no-browser"),
    ("import", "tib", "placed.json"),
)  # fmt: skip
#: Those that write files, and have written them before they answer.
WRITE = ("check", "new", "split", "export")
#: Does each command in a child of its own, which prints and ends as a program that is started for
#: it, but has the imports behind it. A line says where it runs, what it does, and where its answer
#: and its faults go: into a file, to nobody, or here; its exit status and its faults are answered.
CHILDREN = """
import json, os, sys, tempfile
import turncheck.checking, turncheck.placing.server, turncheck.report
from turncheck.cli import start
for line in sys.stdin:
    folder, command, answer, faults = json.loads(line)
    told = tempfile.TemporaryFile()
    child = os.fork()
    if child:
        status = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
        told.seek(0)
        print(json.dumps([status, told.read().decode()]), flush=True)
        continue
    os.chdir(folder)
    reading, nobody = os.pipe()
    os.close(reading)
    os.dup2(os.open(answer, os.O_WRONLY) if answer else nobody, 1)
    os.dup2(os.open(faults, os.O_WRONLY) if faults else told.fileno(), 2)
    sys.argv = ["turncheck", *command]
    start()
"""

Command = tuple[str, ...]
full_disk = pytest.mark.skipif(not FULL.exists(), reason="no disk that is always full")


@pytest.fixture(scope="module")
def pattern(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What the commands are given, to be copied for each."""
    folder = tmp_path_factory.mktemp("pattern") / "pattern"
    make_sheet(folder / "tib", toml_extra='[dots]\nneck = "#ff0000"')
    with Image.open(SAMPLES / "wide" / "wide.png") as wide:
        wide.reduce(4).save(folder / "wide.png")
    main(["export", str(folder / "tib"), str(folder / "placed.json")], standalone_mode=False)
    return folder


def ran(
    commands: Iterable[Command], pattern: Path, answer: Path | None, faults: Path | None = None
) -> list[tuple[int, str]]:
    """The exit status of each command, done in a folder of its own, and the faults it told."""
    lines = []
    for number, command in enumerate(commands):
        folder = shutil.copytree(pattern, pattern.with_name(f"{number}"))
        into = [path and str(path) for path in (answer, faults)]
        lines.append(json.dumps([str(folder), command, *into]))
    done = subprocess.run(
        [sys.executable, "-c", CHILDREN],
        input="\n".join(lines),
        capture_output=True,
        text=True,
        timeout=PATIENCE,
        check=True,
    )
    for number in range(len(lines)):
        shutil.rmtree(pattern.with_name(f"{number}"))
    return [(status, told) for status, told in map(json.loads, done.stdout.splitlines())]


def is_told_in_one_sentence(command: Command, status: int, faults: str) -> bool:
    """Whether a command said rightly that its answer could not be printed."""
    (line,) = faults.splitlines()
    assert status == 2 and line.startswith("turncheck: the answer can't be printed ("), command
    written = command[0] in WRITE and "--help" not in command
    return line.endswith("; what it had to write is written") == written


@full_disk
def test_a_full_disk_is_told_in_one_sentence(pattern: Path) -> None:
    for command, found in zip(COMMANDS, ran(COMMANDS, pattern, FULL), strict=True):
        assert is_told_in_one_sentence(command, *found), (command, found)


def test_an_answer_that_nobody_reads_is_left_quietly(pattern: Path) -> None:
    found = dict(zip(COMMANDS, ran(COMMANDS, pattern, None), strict=True))
    assert found == dict.fromkeys(COMMANDS, (NOBODY_LISTENS, ""))


@full_disk
def test_where_nothing_can_be_told_the_exit_status_says_it(pattern: Path) -> None:
    commands = [("check", "nowhere"), ("nope",), ("check", "tib")]
    assert ran(commands, pattern, FULL, FULL) == 3 * [(2, "")]


def alone(pattern: Path, out: Path, answer: int, **environment: str) -> tuple[int, str]:
    """A check as it is started: its exit status, and the faults it told."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    done = subprocess.run(
        [sys.executable, "-m", "turncheck", "check", "tib", "--out", str(out)],
        cwd=pattern,
        env=env | environment,
        stdout=answer,
        stderr=subprocess.PIPE,
        text=True,
        timeout=PATIENCE,
        check=False,
    )
    return done.returncode, done.stderr


@full_disk
@pytest.mark.parametrize("environment", [{}, {"PYTHONUNBUFFERED": "1"}], ids=str)
def test_so_it_is_in_a_program_of_its_own_and_where_each_word_is_printed_at_once(
    pattern: Path, tmp_path: Path, environment: dict[str, str]
) -> None:
    with FULL.open("w") as full:
        found = alone(pattern, tmp_path, full.fileno(), **environment)
    assert found[0] == 2 and len(found[1].splitlines()) == 1
    assert "can't be printed" in found[1]


def test_a_program_of_its_own_leaves_quietly_too(pattern: Path, tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    found = alone(pattern, tmp_path, writing)
    os.close(writing)
    assert found == (NOBODY_LISTENS, "")

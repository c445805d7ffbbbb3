"""An answer that can't be printed, for a full disk or as nobody reads it, is no crash."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
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

Run = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    make_sheet(tmp_path / "tib", toml_extra='[dots]\nneck = "#ff0000"')
    with Image.open(SAMPLES / "wide" / "wide.png") as wide:
        wide.reduce(4).save(tmp_path / "wide.png")
    main(["export", str(tmp_path / "tib"), str(tmp_path / "placed.json")], standalone_mode=False)

    def run(
        *command: object, unbuffered: bool = False, **streams: object
    ) -> subprocess.CompletedProcess[str]:
        env = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
        env |= {"PYTHONUNBUFFERED": "1"} if unbuffered else {}
        line = [sys.executable, "-m", "turncheck", *map(str, command)]
        options = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | streams
        return subprocess.run(
            line, cwd=tmp_path, env=env, text=True, timeout=PATIENCE, check=False, **options
        )

    return run


@pytest.mark.skipif(not FULL.exists(), reason="no disk that is always full")
@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: " ".join(map(str, command[:2])))
def test_a_full_disk_is_told_in_one_sentence(run: Run, command: tuple[object, ...]) -> None:
    with FULL.open("w") as full:
        ran = run(*command, stdout=full)
    (line,) = ran.stderr.splitlines()
    assert ran.returncode == 2 and line.startswith("turncheck: the answer can't be printed (")
    written = command[0] in WRITE and "--help" not in command
    assert line.endswith("; what it had to write is written") == written


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: " ".join(map(str, command[:2])))
def test_an_answer_that_nobody_reads_is_left_quietly(run: Run, command: tuple[object, ...]) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    ran = run(*command, stdout=writing)
    os.close(writing)
    assert (ran.returncode, ran.stderr) == (NOBODY_LISTENS, "")


@pytest.mark.skipif(not FULL.exists(), reason="no disk that is always full")
def test_so_it_is_where_each_word_is_printed_at_once(run: Run) -> None:
    with FULL.open("w") as full:
        ran = run("check", "tib", stdout=full, unbuffered=True)
    assert ran.returncode == 2 and "can't be printed" in ran.stderr
    assert len(ran.stderr.splitlines()) == 1


@pytest.mark.skipif(not FULL.exists(), reason="no disk that is always full")
@pytest.mark.parametrize("command", [("check", "nowhere"), ("nope",), ("check", "tib")])
def test_where_nothing_can_be_told_the_exit_status_says_it(
    run: Run, command: tuple[object, ...]
) -> None:
    with FULL.open("w") as full:
        assert run(*command, stdout=full, stderr=full).returncode == 2

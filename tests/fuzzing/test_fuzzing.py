"""A short run of the fuzzer, and that it notices what it is there for."""

from __future__ import annotations

import dataclasses
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.fuzzing.cases import Case, make_case
from tests.places import ROOT

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="a run is a forked child")

#: How many are tried, and how many of them at least on a machine that is slow, in s.
CASES, CASES_LEAST, LONGEST = 60, 10, 18


def test_no_random_input_breaks_a_promise(tmp_path: Path) -> None:
    """In a process of its own, which has no threads when it forks."""
    limits = ["--seed", "1", "--cases", str(CASES), "--minutes", str(LONGEST / 60)]
    ran = subprocess.run(
        [sys.executable, "-m", "tests.fuzzing", *limits, "--kept", str(tmp_path)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    told = re.search(r"(\d+) cases of seed 1, 0 failed", ran.stdout)
    assert told is not None and int(told[1]) >= CASES_LEAST
    assert not list(tmp_path.iterdir())


def test_a_seed_and_a_number_are_one_case(tmp_path: Path) -> None:
    from tests.fuzzing.running import tree

    made = []
    for name in "ab":
        (tmp_path / name).mkdir()
        made.append([make_case(tmp_path / name, 7, 0), tree(tmp_path / name)])
    assert made[0] == made[1]


def test_what_breaks_a_promise_is_told() -> None:
    from tests.fuzzing.running import Ran, broken_promises

    files = {"tib": "40000", "tib/front.png": b"drawn", "tib/landmarks.csv": b"placed"}
    fine = Ran(0, "Report: out", "", files, files | {"out": "40000"}, 1.0, 10**8)
    refused = Ran(2, "", "turncheck: no", files, files, 1.0, 10**8)
    case = Case(("check", "tib"), 1)
    assert broken_promises(case, fine) == broken_promises(case, refused) == []
    placing = Case(("import",), 1, ("tib/landmarks.csv",))
    taken_in = dataclasses.replace(fine, after=files | {"tib/landmarks.csv": b""})
    assert broken_promises(placing, taken_in) == []
    wrong: list[tuple[Ran, dict[str, object], str]] = [
        (fine, {"status": 3}, "exit status 3"),
        (fine, {"status": -9}, "exit status -9"),
        (fine, {"stderr": "Traceback (most recent call last)"}, "traceback"),
        (fine, {"stdout": "a\x1b[31m"}, "can't be shown"),
        (fine, {"stdout": "move it up nan px"}, "no number"),
        (fine, {"after": files | {"out/report.html": "by inf°".encode()}}, "no number"),
        (fine, {"took": 30.0}, "took 30 s"),
        (fine, {"memory": 2 * 10**9}, "took 2000 MB"),
        (fine, {"after": files | {"tib/front.png": b"redrawn"}}, "not what it was"),
        (fine, {"after": {"tib": "40000"}}, "not what it was"),
        (fine, {"after": files | {"tib/.turncheck-1": b""}}, "left over"),
        (refused, {"after": files | {"out": "40000"}}, "and yet out is written"),
        (refused, {"stdout": "Report: out"}, "more than why"),
        (refused, {"stderr": ""}, "says nothing"),
    ]
    for ran, changed, said in wrong:
        told = broken_promises(case, dataclasses.replace(ran, **changed))  # type: ignore[arg-type]
        assert any(said in one for one in told), (changed, told)

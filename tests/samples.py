"""The sample sheets: checked once for all the tests that only read the result, or copied."""

from __future__ import annotations

import re
import shutil
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import turncheck
from tests.places import SAMPLES
from turncheck.checking import Checked


@cache
def checked(name: str) -> Checked:
    """A sample sheet as `turncheck.check` gives it."""
    return turncheck.check(SAMPLES / name)


def copied(name: str, views: Sequence[str], folder: Path) -> Path:
    """Copy a sample with some of its drawings alone, and return the folder."""
    folder.mkdir(exist_ok=True)
    head, *tables = re.split(r"(?m)^(?=\[)", (SAMPLES / name / "sheet.toml").read_text("utf-8"))
    names = [f"[views.{view}]" for view in views]
    kept = [one for one in tables if not one.startswith("[views.") or one.split()[0] in names]
    (folder / "sheet.toml").write_text("".join([head, *kept]), "utf-8")
    lines = (SAMPLES / name / "landmarks.csv").read_text("utf-8").splitlines(keepends=True)
    of = ("view,", *(f"{view}," for view in views))
    (folder / "landmarks.csv").write_text("".join(x for x in lines if x.startswith(of)), "utf-8")
    for view in views:
        shutil.copy(SAMPLES / name / f"{view}.png", folder)
    return folder

"""A warning stands first in terminal, report and summary, and no sheet is on model under one."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner
from PIL import Image, ImageOps

from tests.mistakes.planting import OTHER_SIDE
from tests.places import SAMPLES
from tests.sheets import edit
from turncheck.cli import main


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    return shutil.copytree(SAMPLES / "odo", tmp_path / "odo")


def placed(sheet: Path, change: Callable[[pd.DataFrame], None]) -> None:
    table = pd.read_csv(sheet / "landmarks.csv")
    change(table)
    table.to_csv(sheet / "landmarks.csv", index=False)


def viewers_left(sheet: Path) -> None:
    def rename(table: pd.DataFrame) -> None:
        table["landmark"] = [n[:-2] + OTHER_SIDE.get(n[-2:], n[-2:]) for n in table["landmark"]]

    placed(sheet, rename)


def pictures_mirrored(sheet: Path) -> None:
    def mirror(table: pd.DataFrame) -> None:
        for file in sheet.glob("*.png"):
            picture = Image.open(file)
            ImageOps.mirror(picture).save(file)
            here = table["view"] == file.stem
            table.loc[here, "x"] = picture.width - 1 - table.loc[here, "x"]

    placed(sheet, mirror)


def front_given_twice(sheet: Path) -> None:
    shutil.copy(sheet / "front.png", sheet / "back.png")


def yaws_of_front_and_back_exchanged(sheet: Path) -> None:
    edit(sheet / "sheet.toml", "yaw = 180", "yaw = 1")
    edit(sheet / "sheet.toml", "yaw = 0", "yaw = 180")
    edit(sheet / "sheet.toml", "yaw = 1\n", "yaw = 0\n")


def smaller_export(sheet: Path) -> None:
    def scale(table: pd.DataFrame) -> None:
        table[["x", "y"]] *= 0.95

    placed(sheet, scale)


def radians(sheet: Path) -> None:
    for degrees, yaw in (("180", "3.142"), ("45", "0.785"), ("90", "1.571"), ("135", "2.356")):
        edit(sheet / "sheet.toml", f"yaw = {degrees}", f"yaw = {yaw}")


def one_pixel(sheet: Path) -> None:
    def gather(table: pd.DataFrame) -> None:
        table.loc[table["view"] == "side", ["x", "y"]] = 400.0

    placed(sheet, gather)


def checked(sheet: Path, *options: str) -> tuple[int, str, dict, str]:
    out = sheet.parent / "out"
    ran = CliRunner().invoke(main, ["check", str(sheet), "--out", str(out), *options])
    page = (out / "report.html").read_text("utf-8")
    return ran.exit_code, ran.stdout, json.loads((out / "summary.json").read_text("utf-8")), page


#: The mistake, its code, and the verdict where the points are read as they stand.
TOLD = {
    viewers_left: ("left_and_right", "off_model"),
    pictures_mirrored: ("mirrored", "undecided"),
    front_given_twice: ("same_drawing", "undecided"),
    yaws_of_front_and_back_exchanged: ("front_and_back", "undecided"),
    smaller_export: ("another_size", "off_model"),
}


@pytest.mark.parametrize("mistake", TOLD, ids=lambda mistake: mistake.__name__)
def test_a_warning_stands_before_any_finding(sheet, mistake):
    code, verdict = TOLD[mistake]
    mistake(sheet)
    status, said, summary, page = checked(sheet)
    (warning,) = summary["warnings"]
    assert warning["code"] == code
    assert summary["verdict"] == verdict and status == (verdict == "off_model")
    lines = said.splitlines()
    assert lines[1] == f"  First: {warning['says']}."
    plain = page.replace("&#39;", "'")
    assert plain.index(warning["says"]) < plain.index('<svg class="lineup"')
    for view in warning["views"]:
        assert summary["verdicts"]["views"][view] != "on_model"


def test_what_a_warning_says_is_not_said_again_or_otherwise_below(sheet):
    yaws_of_front_and_back_exchanged(sheet)
    _, said, summary, page = checked(sheet)
    assert not summary["instructions"]
    assert "names look exchanged" not in said + page


def test_strict_counts_a_warning_as_off_model(sheet):
    pictures_mirrored(sheet)
    assert checked(sheet)[0] == 0
    assert checked(sheet, "--strict")[0] == 1


def test_without_a_mistake_the_summary_has_no_warning(sheet):
    status, said, summary, _ = checked(sheet)
    assert (status, summary["verdict"], summary["warnings"]) == (0, "on_model", [])
    assert "First:" not in said


@pytest.mark.parametrize(("mistake", "words"), [(radians, "degrees"), (one_pixel, "one spot")])
def test_what_can_not_be_meant_is_refused_and_nothing_written(sheet, mistake, words):
    mistake(sheet)
    ran = CliRunner().invoke(main, ["check", str(sheet), "--out", str(sheet.parent / "out")])
    assert ran.exit_code == 2 and ran.stdout == "" and words in ran.stderr
    assert len(ran.stderr.splitlines()) == 1
    assert not (sheet.parent / "out").exists()

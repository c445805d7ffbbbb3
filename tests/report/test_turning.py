"""The turn slider: the whole turn that lies beside a report, as long as it is of the same sheet."""

from __future__ import annotations

import base64
import io
import json
import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner
from PIL import Image

import turncheck
from tests.sheets import edit, make_sheet
from turncheck.cli import main
from turncheck.handover.turning import TurnStrip, turn_in

SHOWN, STALE = 'id="turned"', "Not shown: it was drawn of other drawings, points or settings."


def guided(sheet: Path, report: Path, *more: object) -> str:
    words = ["guides", sheet, "--every", 90, "--out", report / "guides", *more]
    done = CliRunner().invoke(main, [*map(str, words)])
    assert done.exit_code == 0, done.output
    return done.output


@pytest.fixture(scope="module")
def turned(tmp_path_factory) -> Path:
    """A folder with a small sheet, and its report beside a whole turn."""
    folder = tmp_path_factory.mktemp("turned")
    sheet = make_sheet(folder / "tib")
    turncheck.check(sheet).save(folder / "report")
    before = (folder / "report/report.html").read_text("utf-8")
    assert 'id="turning"' not in before
    assert f"Report updated: {folder / 'report/report.html'}" in guided(sheet, folder / "report")
    return folder


@pytest.fixture
def copy(turned, tmp_path) -> Path:
    shutil.copytree(turned, tmp_path / "copy")
    return tmp_path / "copy"


def test_the_report_has_each_angle_of_the_turn_in_one_picture(turned):
    html = (turned / "report/report.html").read_text("utf-8")
    assert html.count(SHOWN) == 1
    assert 'data-angles="−90° 0° 90° 180°"' in html
    assert re.search(r'<input type="range" min="0" max="3" value="1"', html)
    (uri,) = re.findall(r'id="turned".*?href="data:image/webp;base64,(.*?)"', html)
    with Image.open(io.BytesIO(base64.b64decode(uri))) as picture:
        told = json.loads((turned / "report/guides/guides.json").read_text("utf-8"))["turn"]
        assert picture.size == TurnStrip(**told).size
        cells = [
            picture.convert("L").crop((x, y, x + told["cell"][0], y + told["cell"][1]))
            for x, y in map(TurnStrip(**told).corner, range(4))
        ]
    assert all(cell.getextrema()[0] < 128 < cell.getextrema()[1] for cell in cells)


def test_a_check_shows_it_again_and_the_same_sheet_gives_the_same_bytes(copy):
    before = {path.name: path.read_bytes() for path in (copy / "report").glob("*.*")}
    turn = (copy / "report/guides/turn.webp").read_bytes()
    turncheck.check(copy / "tib").save(copy / "report")
    guided(copy / "tib", copy / "report")
    assert {path.name: path.read_bytes() for path in (copy / "report").glob("*.*")} == before
    assert (copy / "report/guides/turn.webp").read_bytes() == turn


@pytest.mark.parametrize("what", ["landmarks.csv", "sheet.toml", "front.png", "the turn"])
def test_a_turn_of_something_else_is_not_shown_and_that_is_said(copy, what):
    if what == "the turn":
        (copy / "report/guides/turn.webp").write_bytes(b"RIFF")
    elif what.endswith(".png"):
        Image.open(copy / "tib/back.png").convert("RGBA").save(copy / "tib/front.png")
    else:
        with (copy / "tib" / what).open("a", encoding="utf-8") as file:
            file.write("\n")
    turncheck.check(copy / "tib").save(copy / "report")
    html = (copy / "report/report.html").read_text("utf-8")
    assert SHOWN not in html
    assert STALE in html


def test_guides_leave_a_report_of_another_state_as_it_is(copy):
    edit(copy / "tib/sheet.toml", '"A"', '"B"')
    before = (copy / "report/report.html").read_bytes()
    assert "Report updated" not in guided(copy / "tib", copy / "report")
    assert (copy / "report/report.html").read_bytes() == before


@pytest.mark.parametrize("told", [{"yaws": []}, {"columns": 0}, {"cell": [0, 1]}, {"cell": "no"}])
def test_a_turn_that_tells_nonsense_is_none(copy, told):
    file = copy / "report/guides/guides.json"
    known = json.loads(file.read_text("utf-8"))
    file.write_text(json.dumps(known | {"turn": known["turn"] | told}), "utf-8")
    found = turn_in(file.parent, turncheck.check(copy / "tib").sums)
    assert found is not None
    assert found.strip is None

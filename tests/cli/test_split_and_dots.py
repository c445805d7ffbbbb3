"""The commands that start a sheet from a wide one and place landmarks from dots."""

from __future__ import annotations

import re
import shutil

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from tests.images.wide_sheets import wide_file
from tests.places import SAMPLES
from tests.placings import read_placings
from tests.sheets import make_sheet
from turncheck import TurncheckError
from turncheck.checks.register import open_sheet
from turncheck.cli import main
from turncheck.placing.dots import dots
from turncheck.sheet.landmark_table import read_table
from turncheck.sheet.wide_sheet import USUAL_ORDER, split


def run(*arguments):
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def files_of(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir()} if folder.exists() else {}


def test_a_wide_sheet_becomes_a_sheet_that_reads(tmp_path):
    wide, count = wide_file(tmp_path)
    shown = run("split", wide, tmp_path / "kettle")
    assert shown.exit_code == 0, shown.output
    sheet = open_sheet(tmp_path / "kettle")
    assert tuple(sheet.views) == USUAL_ORDER[count] and sheet.placing == "canvas"
    assert len({view.picture.height for view in sheet.views.values()}) == 1
    assert (tmp_path / "kettle" / "preview.png").exists()
    for number, name in enumerate(USUAL_ORDER[count], start=1):
        assert re.search(rf"figure {number}, .*: {name}, ", shown.output)


@pytest.mark.parametrize("ground", ["clear", "uneven"])
def test_the_rows_of_every_drawing_are_the_wide_sheets(tmp_path, ground):
    wide, _ = wide_file(tmp_path, ground=ground)
    cut = split(wide, tmp_path / "kettle")
    pixels = cv2.imread(str(wide), cv2.IMREAD_UNCHANGED)
    tops = set()
    for view in cut.views:
        drawing = cv2.imread(str(tmp_path / "kettle" / view.file), cv2.IMREAD_UNCHANGED)
        x, row = (view.box[0] + view.box[2]) // 2, (view.box[1] + view.box[3]) // 2
        patch = pixels[row - 9 : row + 10, x - 9 : x + 10]
        score = cv2.matchTemplate(drawing[..., :3], patch[..., :3], cv2.TM_SQDIFF)
        tops.add(row - 9 - cv2.minMaxLoc(score)[2][1])
    assert len(tops) == 1


def test_the_views_can_be_named(tmp_path):
    wide, _ = wide_file(tmp_path, first=2)
    assert run("split", wide, tmp_path / "k").exit_code == 2
    shown = run("split", wide, tmp_path / "k", "--views", "back, yaw_30", "--revision", "C")
    assert shown.exit_code == 0, shown.output
    sheet = open_sheet(tmp_path / "k" / "sheet.toml")
    assert {name: view.yaw for name, view in sheet.views.items()} == {"back": 180, "yaw_30": 30}
    assert sheet.revision == "C"


def test_figures_that_touch_are_asked_about_and_only_the_preview_is_written(tmp_path):
    wide, count = wide_file(tmp_path, gap=(0, 1))
    shown = run("split", wide, tmp_path / "k", "--preview", tmp_path / "look.png")
    assert shown.exit_code == 2 and "--count" in shown.output
    assert cv2.imread(str(tmp_path / "look.png")) is not None
    assert not (tmp_path / "k").exists()
    told = run("split", wide, tmp_path / "k", "--count", count)
    assert told.exit_code == 0 and "Look again" in told.output
    names = ",".join(USUAL_ORDER[count])
    assert run("split", wide, tmp_path / "n", "--views", names).exit_code == 0


@pytest.mark.parametrize("there", ["sheet.toml", "side.png", "preview.png"])
def test_split_never_overwrites(tmp_path, there):
    wide, _ = wide_file(tmp_path)
    folder = tmp_path / "k"
    folder.mkdir()
    (folder / there).write_text("mine", "utf-8")
    before = files_of(folder)
    shown = run("split", wide, folder)
    assert shown.exit_code == 2 and there in shown.output
    assert files_of(folder) == before


@pytest.mark.parametrize(
    "arguments, said",
    [
        (["--views", "front,front,side,back"], "stands twice"),
        (["--views", "front,../x,side,back"], "not a usable name"),
        (["--views", "front,consensus,side,back"], "means all views"),
        (["--views", "front,side", "--count", "4"], "--count 4"),
        (["--views", "front,side,back"], "figures were found for 3 names"),
        (["--views", "front,side,bakc,three_quarter"], "near to back"),
        (["--count", "0"], "two views or more"),
        (["--count", "9"], "only"),
        (["--revision", ""], "revision"),
    ],
)
def test_split_refuses_in_a_sentence_and_writes_nothing(tmp_path, arguments, said):
    wide, _ = wide_file(tmp_path)
    shown = run("split", wide, tmp_path / "k", *arguments)
    assert shown.exit_code == 2 and said in shown.output, shown.output
    assert not (tmp_path / "k").exists()


def test_two_rows_are_refused(tmp_path):
    wide, _ = wide_file(tmp_path)
    one = cv2.imread(str(wide))
    cv2.imwrite(str(wide), np.vstack([one, one]))
    shown = run("split", wide, tmp_path / "k")
    assert shown.exit_code == 2 and "one above the other" in shown.output
    assert not (tmp_path / "k").exists()


def test_a_picture_without_figures_is_refused(tmp_path):
    blank = tmp_path / "blank.png"
    cv2.imwrite(str(blank), np.full((90, 200, 3), 250, np.uint8))
    assert "no figure" in run("split", blank, tmp_path / "k").output
    assert "no such picture" in run("split", tmp_path / "none.png", tmp_path / "k").output


@pytest.fixture
def dotted(tmp_path, dots_found_once):
    """The sample sheet with dots, and what each colour means."""
    folder = tmp_path / "dots"
    shutil.copytree(SAMPLES / "dots", folder)
    text = (folder / "sheet.toml").read_text("utf-8")
    if "[dots]" not in text:
        key = re.findall(r"#   (#\w{6})  (\w+)", text)
        text += "\n[dots]\n" + "".join(f'{name} = "{code}"\n' for code, name in key)
        (folder / "sheet.toml").write_text(text, "utf-8")
    return folder


def test_dots_are_shown_before_anything_is_written(dotted):
    before = files_of(dotted)
    shown = run("dots", dotted)
    assert shown.exit_code == 0 and files_of(dotted) == before
    near = r"front +neck +(499\.9|500\.0)\d +(377\.9|378\.0)\d +\d\.\d  sure"
    assert re.search(near, shown.output)
    assert re.search(r"side +knee_l +not found", shown.output)


def test_dots_are_written_when_asked_and_placings_stay(dotted):
    table = dotted / "landmarks.csv"
    table.write_text(table.read_text("utf-8") + "front,neck,490,370,visible,,ana\n", "utf-8")
    shown = run("dots", dotted, "--write", "--preview", dotted / "seen")
    assert shown.exit_code == 0 and "placed already" in shown.output
    assert cv2.imread(str(dotted / "seen" / "front_dots.png")) is not None
    sheet = open_sheet(dotted)
    read = {(p.view, p.landmark): p for p in read_placings(table, sheet)}
    assert read["front", "neck"].x == 490
    assert read["front", "spine"].y == pytest.approx(610, abs=0.05)
    assert read["front", "spine"].placed_by == "dots"
    assert run("dots", dotted, "--write", "--replace", "--quiet").output == ""
    read = {(p.view, p.landmark): p for p in read_placings(table, sheet)}
    assert read["front", "neck"].x == pytest.approx(500, abs=0.05)


def test_dots_are_named_after_a_view_that_is_placed(dotted):
    assert run("dots", dotted, "--write", "--quiet").exit_code == 0
    text = (dotted / "sheet.toml").read_text("utf-8")
    (dotted / "sheet.toml").write_text(text[: text.index("\n[dots]")], "utf-8")
    keyed = {(p.view, p.landmark): (p.x, p.y) for p in dots_placed(dotted)}
    found = dots(dotted, named_on="front")
    read = {(p.view, p.landmark): (p.x, p.y) for p in found.placings}
    assert len(read) > 15 and all(keyed[key] == pytest.approx(at) for key, at in read.items())
    assert "front" not in {reading.view for reading in found.readings}


def dots_placed(folder):
    return read_table(folder / "landmarks.csv", open_sheet(folder)).placings.values()


def test_without_a_key_or_a_view_the_mend_is_named(dotted):
    text = (dotted / "sheet.toml").read_text("utf-8")
    (dotted / "sheet.toml").write_text(text[: text.index("\n[dots]")], "utf-8")
    with pytest.raises(TurncheckError, match="--from"):
        dots(dotted)
    with pytest.raises(TurncheckError, match=r"did you mean \"front\""):
        dots(dotted, named_on="fron")
    with pytest.raises(TurncheckError, match="no landmark of front is placed on a dot"):
        dots(dotted, named_on="front")


@pytest.mark.parametrize(
    "line, said",
    [
        ('nee_l = "#ff0000"', 'did you mean "knee_l"?'),
        ('knee_l = "red"', 'write it as "#ff8800"'),
        ("knee_l = 7", "must be text in quotes"),
    ],
)
def test_a_faulty_key_is_refused_with_the_mend(tmp_path, line, said):
    folder = make_sheet(tmp_path / "tib", toml_extra=f"[dots]\n{line}")
    shown = run("dots", folder)
    assert shown.exit_code == 2 and said in shown.output, shown.output


def test_a_view_may_have_its_own_colours(tmp_path):
    extra = '[dots]\nneck = "#ff0000"\n[views.side.dots]\nneck = "#00FF00"'
    views = open_sheet(make_sheet(tmp_path / "tib", toml_extra=extra)).views
    assert views["front"].dots == {"neck": "#ff0000"}
    assert views["side"].dots == {"neck": "#00ff00"}


def test_placings_go_out_and_come_in(tmp_path):
    folder = make_sheet(tmp_path / "tib")
    out = run("export", folder, tmp_path / "out.json")
    assert out.exit_code == 0 and "keypoints" in out.output
    (folder / "landmarks.csv").unlink()
    assert "placings" in run("import", folder, tmp_path / "out.json").output
    assert run("check", folder, "--out", tmp_path / "report").exit_code in (0, 1)

"""`landmarks.csv` as spreadsheets save it: read as it was meant, and edited in its own kind."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.placings import read_placings
from tests.sheets import csv_text, faults_of, make_sheet, placed
from turncheck.checks.register import open_sheet
from turncheck.sheet.landmark_edit import edited, save_table
from turncheck.sheet.landmark_table import Placing, read_table
from turncheck.sheet.model import Sheet

TEXT = csv_text(placed(visibility="hidden", sd="0.4", placed_by="Zoë"))


def semicolons(text: str) -> str:
    return text.replace(",", ";").replace(".", ",")


def tabs(text: str) -> str:
    return text.replace(",", "\t")


def tabs_and_commas(text: str) -> str:
    return tabs(text).replace(".", ",")


def upper_case(text: str) -> str:
    return text.upper().replace("ZOË", "Zoë")


def title_case(text: str) -> str:
    return text.replace("front", "Front").replace("_l", "_L")


def empty_columns(text: str) -> str:
    return text.replace("\n", ",,\n")


def quoted_comment(text: str) -> str:
    return '"# on Monday, at home",,,\n' + text


KINDS = [
    semicolons, tabs, tabs_and_commas, upper_case, title_case, empty_columns, quoted_comment
]  # fmt: skip
ENCODINGS = ["utf-8", "utf-8-sig", "utf-16"]


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Sheet:
    return open_sheet(make_sheet(tmp_path_factory.mktemp("sheet") / "tib"))


def written(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    file = folder / "landmarks.csv"
    file.write_bytes(text.encode(encoding))
    return file


@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize("kind", KINDS)
def test_what_a_spreadsheet_saves_says_the_same(
    sheet: Sheet, tmp_path: Path, kind: Callable[[str], str], encoding: str
) -> None:
    plain = read_placings(written(tmp_path, TEXT), sheet)
    file = written(tmp_path, kind(TEXT), encoding)
    assert read_placings(file, sheet) == plain
    assert tuple(read_table(file, sheet).placings.values()) == plain


@pytest.mark.parametrize("encoding", ENCODINGS)
@pytest.mark.parametrize("kind", KINDS)
def test_an_edit_changes_one_line_and_leaves_the_file_of_one_kind(
    sheet: Sheet, tmp_path: Path, kind: Callable[[str], str], encoding: str
) -> None:
    path = written(tmp_path, kind(TEXT), encoding)
    before = path.read_bytes()
    file = read_table(path, sheet)
    assert file.data == before
    moved = Placing("side", "knee_l", 40.25, 99.5, True, 1.5, "Zoë")
    added = Placing("back", "waist", 50.5, 60.75, False, math.nan, "Zoë")
    file = edited(file, {moved.key: moved, added.key: added}, sheet, "landmarks.csv")
    save_table(path, file, read_table(path, sheet).hash)
    read = read_table(path, sheet)
    assert read.placings["side", "knee_l", "Zoë"] == moved
    assert read.placings["back", "waist", "Zoë"].x == added.x
    old, new = before.decode(encoding).split("\n"), path.read_bytes().decode(encoding).split("\n")
    assert len(new) == len(old) + 1
    (was,) = set(old) - set(new)
    now = next(line for line in new if line not in old and "waist" not in line)
    assert now.split(read.dialect.separator)[:2] == was.split(read.dialect.separator)[:2]
    comma = kind in (semicolons, tabs_and_commas)
    assert ("40,25" in now and "1,5" in now) if comma else "40.25" in now


def test_a_column_more_takes_the_place_of_an_empty_one(sheet: Sheet, tmp_path: Path) -> None:
    path = written(tmp_path, empty_columns(csv_text(placed())))
    hidden = Placing("side", "chin", 40.0, 50.0, True, math.nan, "")
    file = edited(read_table(path, sheet), {hidden.key: hidden}, sheet, "landmarks.csv")
    assert file.lines[0] == "view,landmark,x,y,visibility,\n"
    assert file.placings["side", "chin", ""].hidden
    gone = edited(file, {hidden.key: None}, sheet, "landmarks.csv")
    assert len(gone.lines) == len(file.lines) - 1


def test_rows_that_differ_in_case_alone_are_one_placing(sheet: Sheet, tmp_path: Path) -> None:
    text = csv_text(placed()) + "SIDE,Chin,1,2\n"
    (fault,) = faults_of(lambda: read_placings(written(tmp_path, text), sheet))
    assert "chin on side stands in row" in fault


@pytest.mark.parametrize("name", ["Front", "frOnt"])
def test_a_name_that_could_be_two_views_is_asked_about(tmp_path: Path, name: str) -> None:
    folder = make_sheet(tmp_path / "tib", views={"FRONT": 0.0, "front": 30.0, "side": 90.0})
    views = open_sheet(folder)
    text = csv_text(placed({"FRONT": 0.0, "front": 30.0, "side": 90.0})) + f"{name},waist,1,2\n"
    (fault,) = faults_of(lambda: read_placings(written(tmp_path, text), views))
    assert f'"{name}" is not a view' in fault


def test_decimal_commas_between_commas_are_one_fault(sheet: Sheet, tmp_path: Path) -> None:
    text = TEXT.replace(".", ",")
    (fault,) = faults_of(lambda: read_placings(written(tmp_path, text), sheet))
    rows = len(placed()) - 1
    assert f"row 2: has 10 cells for 7 columns (and so in {rows} more rows)" in fault
    assert "decimal comma" in fault and "semicolons" in fault


def test_decimal_commas_in_quotes_between_commas_are_one_fault(
    sheet: Sheet, tmp_path: Path
) -> None:
    rows = [row | {"x": f'"{row["x"]}"', "y": f'"{row["y"]}"'} for row in placed()]
    body = "".join(f"{r['view']},{r['landmark']},{r['x']},{r['y']}\n" for r in rows)
    text = "view,landmark,x,y\n" + body.replace(".", ",")
    (fault,) = faults_of(lambda: read_placings(written(tmp_path, text), sheet))
    assert 'row 2: x = "60,000"' in fault and "semicolons" in fault


def test_points_among_decimal_commas_are_one_fault(sheet: Sheet, tmp_path: Path) -> None:
    lines = semicolons(TEXT).split("\n")
    lines[4] = lines[4].replace(",", ".")
    (fault,) = faults_of(lambda: read_placings(written(tmp_path, "\n".join(lines)), sheet))
    assert "row 2" in fault and "row 5 has a decimal point" in fault and "123,4" in fault


def test_a_cell_beyond_the_columns_is_never_dropped(sheet: Sheet, tmp_path: Path) -> None:
    lines = empty_columns(TEXT).split("\n")
    lines[4] = lines[4].replace("Zoë,,", "Zoë,7,")
    (fault,) = faults_of(lambda: read_placings(written(tmp_path, "\n".join(lines)), sheet))
    assert "row 5: has 9 cells for 7 columns" in fault

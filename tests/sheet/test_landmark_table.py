"""`landmarks.csv`: every row that can't be used is named with its mend, in any usual dialect."""

from __future__ import annotations

import csv
import difflib
import io
import math
from collections.abc import Callable
from pathlib import Path
from unittest.mock import Mock

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import turncheck.sheet
from tests.places import loaded_by
from tests.placings import read_placings
from tests.sheets import HEIGHT, WIDTH, csv_text, edit, faults_of, make_sheet, placed
from tests.strategies import landmark_rows, thorough
from turncheck.checks.register import open_sheet
from turncheck.sheet.landmark_table import Placing, landmarks_path
from turncheck.sheet.landmark_text import COLUMNS
from turncheck.sheet.model import Sheet

HEADER = "view,landmark,x,y,visibility,sd,placed_by"


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Sheet:
    return open_sheet(make_sheet(tmp_path_factory.mktemp("sheet") / "tib"))


@pytest.fixture
def told(sheet: Sheet, tmp_path: Path) -> Callable[[str | bytes], tuple[str, ...]]:
    """The sentences that a table's text is refused with."""

    def refused(text: str | bytes) -> tuple[str, ...]:
        file = tmp_path / "landmarks.csv"
        file.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
        faults = faults_of(lambda: read_placings(file, sheet))
        assert all(fault.startswith(str(file)) for fault in faults)
        return faults

    return refused


def read(sheet: Sheet, folder: Path, data: bytes) -> tuple[Placing, ...]:
    file = folder / "landmarks.csv"
    file.write_bytes(data)
    return read_placings(file, sheet)


def with_row(row: str) -> str:
    """A table that lacks only the side's chin, with one row more, which is row 2."""
    rows = placed(visibility="", sd="", placed_by="wren")
    kept = [cells for cells in rows if (cells["view"], cells["landmark"]) != ("side", "chin")]
    lines = csv_text(kept).splitlines()
    return "\n".join([lines[0], row, *lines[1:]])


ROWS = {
    # one row, and words of the one sentence it gives
    "unknown view": ("sde,chin,1,2", ['"sde"', '"side"']),
    "unknown landmark": ("side,chn,1,2", ['"chn"', '"chin"']),
    "NaN": ("side,chin,nan,2", ['x = "nan"', "write it as 123.4"]),
    "infinite": ("side,chin,1,inf", ['y = "inf"', "no number"]),
    "too large for a number": ("side,chin,1,1e999", ['y = "1e999"', "no number"]),
    "out of all reason": ("side,chin,1e308,2", ["outside side.png", "120 × 180"]),
    "grouped digits": ("side,chin,1_0,2", ['x = "1_0"', "no number"]),
    "digits of another script": ("side,chin,１２,2", ["no number"]),
    "decimal comma in quotes": ('side,chin,"1,5",2', ['x = "1,5"', "123.4"]),
    "decimal commas": ("side,chin,1,5,2,5,visible,,wren", ["9 cells for 7", "decimal comma"]),
    "no x": ("side,chin,,2", ["x is missing", "delete the row"]),
    "no y": ("side,chin,1", ["y is missing"]),
    "unit": ("side,chin,1px,2", ["no number"]),
    "left of the picture": ("side,chin,-0.51,2", ["outside side.png"]),
    "right of the picture": ("side,chin,119.51,2", ["outside side.png"]),
    "above the picture": ("side,chin,1,-0.51", ["outside side.png"]),
    "below the picture": ("side,chin,1,179.51", ["outside side.png"]),
    "visibility mistyped": ("side,chin,1,2,visble", ["visble", '"visible"']),
    "sd zero": ("side,chin,1,2,,0", ["sd = 0", "at least"]),
    "sd negative": ("side,chin,1,2,,-1", ["sd = -1", "at least"]),
    "sd of nothing": ("side,chin,1,2,,1e-308", ["sd", "at least"]),
    "sd of everything": ("side,chin,1,2,,1e308", ["sd = 1e+308", "whole of side.png"]),
    "sd no number": ("side,chin,1,2,,nan", ['sd = "nan"', "no number"]),
    "only commas": (",,,,,,", ["is empty", "delete it"]),
    "open quote": ('side,"chin,1,2', ["quotes"]),
    "text after a quote": ('side,"chin"s,1,2', ["quotes"]),
    "endless name": (f"{'s' * 10_000},chin,1,2", ["is not a view"]),
    "endless cell": (f"side,chin,1,2,,,{'x' * 200_000}", ["can't be read"]),
    "endless person": (f"side,chin,1,2,,,{'x' * 10_000}", ["placed_by", "120 characters"]),
    "escape sequence": ("side,chin,1,2,,,\x1b[2J", ["placed_by", "can't be shown"]),
    "right-to-left override": ("side,chin,1,2,,,\u202eana", ["placed_by", "can't be shown"]),
    "script": ("<script>,chin,1,2", ['"<script>"', "is not a view"]),
    "formula": ("side,=cmd(),1,2", ['"=cmd()"', "is not a landmark"]),
    "path": ("../../etc,chin,1,2", ["is not a view"]),
}  # fmt: skip


@pytest.mark.parametrize("case", ROWS)
def test_a_row_that_can_not_be_used_is_named(
    told: Callable[[str | bytes], tuple[str, ...]], case: str
) -> None:
    row, words = ROWS[case]
    faults = told(with_row(row))
    assert len(faults) == 1, faults
    assert ", row 2: " in faults[0] and all(word in faults[0] for word in words), faults[0]
    assert len(faults[0]) < 1500


def test_a_doubled_row_names_both(told: Callable[[str | bytes], tuple[str, ...]]) -> None:
    (fault,) = told(with_row("side,mouth,1,2,,,wren"))
    assert "side" in fault and "stands in row 2 already" in fault and "ana#2" in fault


def test_all_rows_that_can_not_be_used_are_named_at_once(
    told: Callable[[str | bytes], tuple[str, ...]],
) -> None:
    faults = told("\n".join([HEADER, *(row for row, _ in ROWS.values()), "back,ground,1,170"]))
    assert len(faults) >= len(ROWS)
    missing = [fault for fault in faults if "is not placed on" in fault]
    assert len(missing) == 4, "crown, and the ground of three views, are named with the rows"


def test_the_nearest_name_is_looked_for_once_for_all_its_rows(
    told: Callable[[str | bytes], tuple[str, ...]], monkeypatch: pytest.MonkeyPatch
) -> None:
    near = Mock(wraps=difflib.get_close_matches)
    monkeypatch.setattr(difflib, "get_close_matches", near)
    faults = told("\n".join([HEADER, *(f"side,chjn,{k},2,,,p{k}" for k in range(300))]))
    assert sum('did you mean "chin"?' in fault for fault in faults) == 300
    assert near.call_count == 1


def test_reading_a_sheet_needs_no_frames() -> None:
    room = Path(turncheck.sheet.__file__).parent
    modules = ",".join(f"turncheck.sheet.{file.stem}" for file in room.glob("[a-z]*.py"))
    loaded = loaded_by(modules)
    assert "numpy" in loaded and "pandas" not in loaded


def test_a_row_with_a_fault_is_not_said_to_be_missing_as_well(
    told: Callable[[str | bytes], tuple[str, ...]],
) -> None:
    (fault,) = told(csv_text(placed()).replace("front,ground,60.000,172.000", "front,ground,6,x"))
    assert "no number" in fault


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("view,landmark,x,y,x", ["x stands twice"]),
        ("view,landmark,x,y,visiblity", ["visiblity", '"visibility"']),
        ("view,landmark,x", ["column y is missing"]),
        ("view,landmark,,x,y", ['"" is no column']),
        ('view,"landmark,x,y', ["quotes"]),
        ("front,ground,60,172", ["is no column"]),
        ("x" * 200_000, ["can't be read"]),
    ],
)
def test_a_fault_in_the_header_is_named(
    told: Callable[[str | bytes], tuple[str, ...]], header: str, words: list[str]
) -> None:
    faults = told(f"{header}\nfront,ground,60,172\n")
    assert ", row 1: " in faults[0] and all(word in faults[0] for word in words), faults


@pytest.mark.parametrize("text", ["", "\n\n", "# nothing yet\n", "\ufeff"])
def test_an_empty_table_says_how_to_begin(
    told: Callable[[str | bytes], tuple[str, ...]], text: str
) -> None:
    (fault,) = told(text)
    assert HEADER in fault


def test_a_header_alone_lacks_ground_and_crown(
    told: Callable[[str | bytes], tuple[str, ...]],
) -> None:
    faults = told(HEADER)
    assert [fault for fault in faults if "crown is not placed on front" in fault]
    assert sum("ground is not placed on" in fault for fault in faults) == 4


@pytest.mark.parametrize(
    ("view", "landmark"), [("side", "ground"), ("back", "ground"), ("front", "crown")]
)
def test_what_every_sheet_needs_is_asked_for(
    told: Callable[[str | bytes], tuple[str, ...]], view: str, landmark: str
) -> None:
    rows = [row for row in placed() if (row["view"], row["landmark"]) != (view, landmark)]
    (fault,) = told(csv_text(rows))
    assert f"{landmark} is not placed on {view}" in fault


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be", "cp1252"])
def test_another_encoding_is_said(
    told: Callable[[str | bytes], tuple[str, ...]], encoding: str
) -> None:
    (fault,) = told(csv_text(placed(placed_by="Zoë")).encode(encoding))
    assert "UTF-8" in fault


def dialect(text: str, change: str) -> bytes:
    """The table as another program may write it."""
    if change == "semicolons":
        text = text.replace(",", ";")
    elif change == "line ends":
        text = text.replace("\n", "\r\n")
    elif change == "old line ends":
        text = text.replace("\n", "\r")
    elif change == "comments":
        text = "# placed on Monday\n\n" + text.replace("\n", "\n  # a remark, with a comma\n\n")
    elif change == "quotes":
        rows = csv.reader(io.StringIO(text))
        quoted = io.StringIO()
        csv.writer(quoted, quoting=csv.QUOTE_ALL, lineterminator="\n").writerows(rows)
        text = quoted.getvalue()
    elif change == "spaces":
        text = text.replace(",", " , ")
    elif change == "header in capitals":
        header, rest = text.split("\n", 1)
        text = f"{header.upper()}\n{rest}"
    elif change == "columns reordered":
        frame = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
        text = frame[list(reversed(frame.columns))].to_csv(index=False)
    return text.encode("utf-8-sig" if change == "byte-order mark" else "utf-8")


@pytest.mark.parametrize(
    "change",
    ["byte-order mark", "semicolons", "line ends", "old line ends", "comments", "quotes", "spaces",
     "header in capitals", "columns reordered"],
)  # fmt: skip
def test_the_usual_dialects_say_the_same(sheet: Sheet, tmp_path: Path, change: str) -> None:
    text = csv_text(placed(visibility="hidden", sd="0.4", placed_by="Zoë"))
    plain = read(sheet, tmp_path, text.encode("utf-8"))
    assert read(sheet, tmp_path, dialect(text, change)) == plain
    assert len(plain) == len(placed())


@pytest.mark.parametrize(
    ("x", "y"), [(-0.5, -0.5), (WIDTH - 0.5, HEIGHT - 0.5), (0.0, HEIGHT - 0.5)]
)
def test_the_edge_of_the_outermost_pixel_is_inside(
    sheet: Sheet, tmp_path: Path, x: float, y: float
) -> None:
    row = {"view": "side", "landmark": "waist", "x": str(x), "y": str(y)}
    table = read(sheet, tmp_path, csv_text([*placed(), row]).encode())
    assert (table[-1].x, table[-1].y) == (x, y)


@pytest.mark.parametrize("x", ["", "1e308", "-5"])
def test_the_x_of_the_ground_means_nothing(sheet: Sheet, tmp_path: Path, x: str) -> None:
    text = csv_text(placed()).replace("side,ground,60.000", f"side,ground,{x}")
    table = read(sheet, tmp_path, text.encode())
    (ground,) = (p for p in table if (p.view, p.landmark) == ("side", "ground"))
    assert math.isfinite(ground.x) and ground.y == 172.0


def test_repeats_by_others_or_marked_as_such_are_kept(sheet: Sheet, tmp_path: Path) -> None:
    rows = [
        {"view": "side", "landmark": "chin", "x": "1", "y": "2", "placed_by": who}
        for who in ("ana", "ana#2", "wren")
    ]
    table = read(sheet, tmp_path, csv_text([*placed(placed_by=""), *rows]).encode())
    chins = [p.placed_by for p in table if (p.view, p.landmark) == ("side", "chin")]
    assert chins == ["", "ana", "ana#2", "wren"]


@pytest.mark.parametrize("kind", ["missing", "folder", "circle"])
def test_a_sheet_without_a_table_says_so(tmp_path: Path, kind: str) -> None:
    folder = make_sheet(tmp_path / "tib")
    (folder / "landmarks.csv").unlink()
    if kind == "folder":
        (folder / "landmarks.csv").mkdir()
    elif kind == "circle":
        (folder / "landmarks.csv").symlink_to("landmarks.csv")
    (fault,) = faults_of(lambda: landmarks_path(open_sheet(folder)))
    assert "landmarks.csv" in fault and HEADER in fault


def test_a_table_that_may_not_be_read_says_why(
    sheet: Sheet, monkeypatch: pytest.MonkeyPatch
) -> None:
    def denied(*_: object) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", denied)
    (fault,) = faults_of(lambda: read_placings(Path("landmarks.csv"), sheet))
    assert "Permission denied" in fault


def test_a_name_added_by_the_sheet_may_be_placed(tmp_path: Path) -> None:
    folder = make_sheet(tmp_path / "tib", toml_extra="[landmarks.badge]\nkind = 'width'")
    edit(folder / "landmarks.csv", "front,mouth", "front,badge")
    sheet = open_sheet(folder)
    assert "badge" in {p.landmark for p in read_placings(folder / "landmarks.csv", sheet)}


@given(data=st.data())
@thorough
def test_any_valid_table_reads_back_as_it_was_written(
    sheet: Sheet, tmp_path: Path, data: st.DataObject
) -> None:
    names = sorted(sheet.vocabulary.landmarks)
    rows = data.draw(landmark_rows(list(sheet.views), names, WIDTH, HEIGHT))
    columns = data.draw(st.permutations(COLUMNS))
    text = io.StringIO()
    separator = data.draw(st.sampled_from(",;\t"))
    ending = data.draw(st.sampled_from(["\n", "\r\n"]))
    writer = csv.DictWriter(text, columns, delimiter=separator, lineterminator=ending)
    writer.writeheader()
    writer.writerows(rows)
    encoding = data.draw(st.sampled_from(["utf-8", "utf-8-sig"]))
    table = read(sheet, tmp_path, text.getvalue().encode(encoding))
    assert len(table) == len(rows)
    for found, row in zip(table, rows, strict=True):
        said = (found.view, found.landmark, found.x, found.y, found.placed_by)
        assert said == (row["view"], row["landmark"], row["x"], row["y"], row["placed_by"])
        assert found.hidden == (row["visibility"] == "hidden")
        assert found.sd == row["sd"] if row["sd"] != "" else math.isnan(found.sd)

"""landmarks.csv is edited placing by placing; what its owner wrote around them stays."""

from __future__ import annotations

import math
import os
import threading
import time
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from unittest.mock import Mock

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.places import SAMPLES
from tests.placings import read_placings
from turncheck import TurncheckError
from turncheck.checks.register import open_sheet
from turncheck.files.user_files import fingerprint
from turncheck.sheet import landmark_edit
from turncheck.sheet.landmark_edit import ChangedError, edited, save_table
from turncheck.sheet.landmark_table import (
    LandmarkTable,
    Placing,
    parse_table,
    read_table,
)
from turncheck.sheet.model import Sheet

ODO = SAMPLES / "odo"
NOTED = (
    "# placed on a train\r\n"
    "landmark;view;y;x;placed_by\r\n"
    "\r\n"
    "ground;front;1440;500;wren\r\n"
    "# the left leg\r\n"
    'knee_l;front;1066;562;"wren, at home"\r\n'
    "ground;side;1440.0;0500;wren\r\n"
)


@pytest.fixture(scope="module")
def odo() -> Sheet:
    return open_sheet(ODO)


def placed(view: str, landmark: str, x: float, y: float, by: str = "") -> Placing:
    return Placing(view, landmark, x, y, False, math.nan, by)


def parsed(text: str, sheet: Sheet) -> LandmarkTable:
    return parse_table(text, sheet, "landmarks.csv")


def put(table: LandmarkTable, placing: Placing, sheet: Sheet) -> LandmarkTable:
    return edited(table, {placing.key: placing}, sheet, "landmarks.csv")


def text_of(table: LandmarkTable) -> str:
    return "".join(table.lines)


def test_a_moved_placing_changes_its_own_line_and_no_other(odo: Sheet) -> None:
    file = parsed(NOTED, odo)
    moved = put(file, placed("front", "knee_l", 560.5, 1070.25, "wren, at home"), odo)
    assert moved.lines[5] == "knee_l;front;1070.25;560.50;wren, at home\r\n"
    assert moved.lines[:5] + moved.lines[6:] == file.lines[:5] + file.lines[6:]


def test_a_new_placing_goes_below_its_views_last_row(odo: Sheet) -> None:
    file = put(parsed(NOTED, odo), placed("front", "chin", 500, 339, "wren"), odo)
    assert file.lines[6] == "chin;front;339.00;500.00;wren\r\n"
    assert [line for line in file.lines if line not in NOTED] == [file.lines[6]]


def test_a_column_is_added_only_when_it_has_something_to_say(odo: Sheet) -> None:
    file = parsed(NOTED, odo)
    hidden = put(file, replace(placed("front", "chin", 500, 339), hidden=True), odo)
    assert hidden.lines[1] == "landmark;view;y;x;placed_by;visibility\r\n"
    assert hidden.placings["front", "chin", ""].hidden
    assert hidden.placings["front", "ground", "wren"] == file.placings["front", "ground", "wren"]


def test_a_byte_order_mark_and_a_missing_last_line_end_are_kept_in_order(odo: Sheet) -> None:
    text = "\ufeffview,landmark,x,y\nfront,ground,500,1440"
    file = put(parsed(text, odo), placed("front", "crown", 500, 120), odo)
    assert text_of(file) == text + "\nfront,crown,500.00,120.00\n"


def test_an_empty_file_starts_with_all_columns(odo: Sheet) -> None:
    file = put(parsed("", odo), placed("side", "chin", 10, 20, "ana"), odo)
    assert text_of(file) == (
        "view,landmark,x,y,visibility,sd,placed_by\nside,chin,10.00,20.00,visible,,ana\n"
    )


def test_the_checks_own_reader_reads_the_same(odo: Sheet, tmp_path: Path) -> None:
    file = read_table(ODO / "landmarks.csv", odo)
    for placing in list(file.placings.values())[:40]:
        file = put(file, replace(placing, x=placing.x + 1), odo)
    (tmp_path / "landmarks.csv").write_text(text_of(file), "utf-8")
    assert repr(read_placings(tmp_path / "landmarks.csv", odo)) == repr(
        tuple(file.placings.values())
    )


@settings(max_examples=60, deadline=None)
@given(
    view=st.sampled_from(["front", "side", "back"]),
    landmark=st.sampled_from(["chin", "knee_l", "ground", "ear_r"]),
    x=st.floats(0, 999),
    y=st.floats(0, 1499),
    by=st.sampled_from(["", "ana", "ana#2", "Zoë, 'the' \"owl\"", "a;b"]),
)
def test_placing_and_taking_out_again_leaves_the_text_as_it_was(
    view: str, landmark: str, x: float, y: float, by: str
) -> None:
    sheet = open_sheet(ODO)
    start = NOTED.replace("placed_by", "placed_by;visibility;sd")
    file = parsed(start, sheet)
    new = placed(view, landmark, x, y, by)
    there = put(file, new, sheet)
    kept = there.placings[view, landmark, by]
    assert (kept.x, kept.y) == (pytest.approx(x, abs=0.0051), pytest.approx(y, abs=0.0051))
    gone = edited(there, {new.key: None}, sheet, "landmarks.csv")
    assert text_of(gone) == start


@pytest.mark.parametrize(
    ("view", "landmark", "x", "says"),
    [
        ("front", "knee_l", 5000.0, "lies outside front.png"),
        ("frnt", "knee_l", 50.0, 'did you mean "front"'),
        ("front", "nee_l", 50.0, 'did you mean "knee_l"'),
    ],
)
def test_what_the_check_would_refuse_is_refused_here(
    odo: Sheet, view: str, landmark: str, x: float, says: str
) -> None:
    with pytest.raises(TurncheckError, match=says):
        put(parsed(NOTED, odo), placed(view, landmark, x, 100), odo)


def test_a_name_that_would_make_a_comment_of_its_row_is_refused(odo: Sheet) -> None:
    file = parsed("placed_by,view,landmark,x,y\nana,front,ground,500,1440\n", odo)
    with pytest.raises(TurncheckError, match="no # at its start"):
        put(file, placed("front", "chin", 500, 339, "#1"), odo)


def test_a_table_of_comments_alone_is_not_yet_begun(odo: Sheet) -> None:
    file = put(parsed("# to do\n", odo), placed("front", "chin", 500, 339), odo)
    assert text_of(file).startswith("# to do\nview,landmark,x,y,")
    assert list(file.placings) == [("front", "chin", "")]


def test_changes_that_belong_together_are_made_in_one_reading(
    odo: Sheet, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = parsed(NOTED, odo)
    new = [placed("side", "chin", 400, 300 + k, f"ana#{k}") for k in range(50)]
    moved = placed("front", "knee_l", 560, 1070, "wren, at home")
    changes = {p.key: p for p in (*new, moved)} | {("side", "ground", "wren"): None}
    one_by_one = file
    for key, placing in changes.items():
        one_by_one = edited(one_by_one, {key: placing}, odo, "landmarks.csv")
    read = Mock(wraps=parse_table)
    monkeypatch.setattr(landmark_edit, "parse_table", read)
    at_once = edited(file, changes, odo, "landmarks.csv")
    assert read.call_count == 1
    assert at_once.lines == one_by_one.lines


def test_every_broken_row_of_a_file_is_named(odo: Sheet) -> None:
    rows = "front,chin,a,2\nfront,chim,1,2\nside,chin,1,2\nside,chin,1,3\n"
    with pytest.raises(TurncheckError) as caught:
        parsed(f"view,landmark,x,y\n{rows}", odo)
    assert [str(fault).split(":")[0] for fault in caught.value.faults] == [
        "landmarks.csv, row 2",
        "landmarks.csv, row 3",
        "landmarks.csv, row 5",
    ]


def test_a_file_that_changed_since_is_not_overwritten(odo: Sheet, tmp_path: Path) -> None:
    path = tmp_path / "landmarks.csv"
    path.write_text(NOTED, "utf-8", newline="")
    file = read_table(path, odo)
    path.write_text(NOTED + "chin;side;300;500;pen\r\n", "utf-8", newline="")
    with pytest.raises(ChangedError):
        save_table(path, put(file, placed("side", "chin", 1, 2), odo), file.hash)
    assert path.read_bytes().decode("utf-8").endswith("chin;side;300;500;pen\r\n")
    assert os.listdir(tmp_path) == ["landmarks.csv"]


def test_a_file_made_meanwhile_is_not_overwritten(odo: Sheet, tmp_path: Path) -> None:
    path = tmp_path / "landmarks.csv"
    file = read_table(path, odo)
    path.write_text(NOTED, "utf-8")
    with pytest.raises(ChangedError):
        save_table(path, put(file, placed("side", "chin", 1, 2), odo), file.hash)


def test_two_that_write_at_once_lose_nothing(
    odo: Sheet, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "landmarks.csv"
    path.write_bytes(NOTED.encode("utf-8"))

    def slow(data: bytes) -> str:
        time.sleep(0.003)  # between the look at what is there and its replacing
        return fingerprint(data)

    monkeypatch.setattr(landmark_edit, "fingerprint", slow)

    def write(who: str) -> None:
        left = [placed("side", "chin", 300 + k, 500, f"{who}#{k}") for k in range(12)]
        while left:
            file = read_table(path, odo)
            with suppress(ChangedError):
                save_table(path, put(file, left[-1], odo), file.hash)
                left.pop()

    writers = [threading.Thread(target=write, args=(who,)) for who in ("ana", "wren")]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert len(read_table(path, odo).placings) == 3 + 24


def test_a_link_stays_a_link_and_keeps_its_rights(odo: Sheet, tmp_path: Path) -> None:
    (tmp_path / "kept").mkdir()
    real, path = tmp_path / "kept" / "table.csv", tmp_path / "landmarks.csv"
    real.write_bytes(NOTED.encode("utf-8"))
    real.chmod(0o640)
    path.symlink_to(real)
    file = read_table(path, odo)
    save_table(path, put(file, placed("side", "chin", 1, 2), odo), file.hash)
    assert path.is_symlink()
    assert "chin;side;2.00;1.00" in real.read_text("utf-8")
    assert real.stat().st_mode & 0o777 == 0o640


def test_a_folder_that_can_not_be_written_says_so_and_loses_nothing(
    odo: Sheet, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "landmarks.csv"
    path.write_bytes(NOTED.encode("utf-8"))
    file = read_table(path, odo)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(TurncheckError, match="No space left on device"):
        save_table(path, put(file, placed("side", "chin", 1, 2), odo), file.hash)
    assert path.read_bytes() == NOTED.encode("utf-8")
    assert os.listdir(tmp_path) == ["landmarks.csv"]

"""A landmark of any name that a sheet may give survives every way in and out of the table."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from tests.placings import read_placings
from tests.sheets import make_sheet, toml_text
from tests.strategies import thorough
from turncheck.checks.register import open_sheet
from turncheck.images.dots import Dot
from turncheck.placing.naming_dots import Wanted, name_dots, told_apart
from turncheck.sheet.coco import from_coco, to_coco
from turncheck.sheet.landmark_edit import edited, save_table
from turncheck.sheet.landmark_table import Placing, read_table
from turncheck.sheet.merging_placings import merge_placings
from turncheck.sheet.model import LANDMARKS_FILE, SHEET_FILE, Sheet
from turncheck.sheet.vocabulary import NAME_PATTERN

names = st.lists(st.from_regex(NAME_PATTERN, fullmatch=True), min_size=1, max_size=4, unique=True)
#: Names that hold what parts words, cells and sentences elsewhere.
AWKWARD = ["left ear (big)", "Mr. O'Hara's hat", "knee_l as well", "a on b level", "ground_l", "2"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_sheet(tmp_path_factory.mktemp("sheet") / "tib")


def with_landmarks(folder: Path, landmarks: Sequence[str]) -> tuple[Sheet, list[Placing]]:
    """The sheet with these landmarks and dots for them, and a placing of each on the side view."""
    keys = [json.dumps(name, ensure_ascii=False) for name in landmarks]
    own = [f'[landmarks.{key}]\nkind = "pivot"' for key in keys]
    dots = [f'{key} = "#{k:06x}"' for k, key in enumerate(keys)]
    text = toml_text(toml_extra="\n".join([*own, "[dots]", *dots]))
    (folder / SHEET_FILE).write_text(text, "utf-8")
    placings = [
        Placing("side", name, 10.25 + k, 20.5, k % 2 == 1, math.nan, "ana")
        for k, name in enumerate(landmarks)
    ]
    return open_sheet(folder), placings


@given(landmarks=names)
@example(landmarks=AWKWARD)
@thorough
def test_what_is_placed_is_read_back(folder: Path, landmarks: list[str]) -> None:
    sheet, placings = with_landmarks(folder, landmarks)
    path = folder / LANDMARKS_FILE
    before = read_table(path, sheet)
    placed = edited(before, {p.key: p for p in placings}, sheet, LANDMARKS_FILE)
    save_table(path, placed, before.hash)
    assert [p for p in read_placings(path, sheet) if p.placed_by == "ana"] == placings
    gone = edited(placed, dict.fromkeys(p.key for p in placings), sheet, LANDMARKS_FILE)
    assert list(gone.placings) == list(before.placings)
    save_table(path, before, placed.hash)


@given(landmarks=names)
@example(landmarks=AWKWARD)
@thorough
def test_what_is_exported_is_imported_again(folder: Path, landmarks: list[str]) -> None:
    sheet, placings = with_landmarks(folder, landmarks)
    read, passed_over = from_coco(json.dumps(to_coco(sheet, placings)), sheet, "x.json")
    assert not passed_over
    spots = {(p.view, p.landmark, p.x, p.y, p.hidden) for p in placings}
    assert {(p.view, p.landmark, p.x, p.y, p.hidden) for p in read} == spots
    path = folder / LANDMARKS_FILE
    before = path.read_bytes()
    merged = merge_placings(sheet, read, replace=True)
    try:
        assert merged.written == tuple(read) and set(read) <= set(read_placings(path, sheet))
    finally:
        path.write_bytes(before)


@given(landmarks=names)
@example(landmarks=AWKWARD)
@thorough
def test_dots_are_named_by_their_colours(folder: Path, landmarks: list[str]) -> None:
    sheet, placings = with_landmarks(folder, landmarks)
    assert list(sheet.views["side"].dots) == landmarks
    colours = [(50.0, 40.0 * k, -40.0 * k) for k in range(len(placings))]
    dots = [Dot(p.x, p.y, 5.0, c, 60.0, 1.0) for p, c in zip(placings, colours, strict=True)]
    wanted = [Wanted(name, c) for name, c in zip(landmarks, colours, strict=True)]
    named = told_apart(name_dots(dots[::-1], wanted), sheet.vocabulary.landmarks, 0.0)
    assert [(one.landmark, one.dot) for one in named] == list(zip(landmarks, dots, strict=True))
    assert not any(one.rival or one.another for one in named)

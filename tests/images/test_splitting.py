"""A wide sheet comes apart into its figures, whatever else is drawn on it.

The sheets are composed in `wide_sheets.py`, so that the boxes are known exactly. The rates over
more sheets stand in tests/figures/wide_sheets.md.
"""

from __future__ import annotations

import json

import cv2
import numpy as np
import pytest

from tests.images.wide_sheets import CASES, compose, sample_figures, scaled
from tests.places import SAMPLES
from turncheck.images.wide_sheet.splitting import SPLIT_SIDE_MOST, cut_out, find_figures

TALL = 300
#: Drawn smaller than this, an outline is thinner than a pixel and has gaps.
TALL_OUTLINES = 400
#: Cases whose boxes may be off by more, px: a ground line hides under the soles, and what hangs
#: free belongs to a figure by a guess.
LOOSE = {"guides": 5, "guides, clear": 5, "props": 60, "props, clear": 60}


def boxes(split):
    return [(box.left, box.top, box.right, box.bottom) for box in split.boxes]


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("seed", [0, 1])
def test_the_figures_are_counted_and_boxed(case, seed):
    rng = np.random.default_rng(seed)
    tall = TALL_OUTLINES if "pale" in case else TALL
    sheet = compose(sample_figures(rng, tall), rng, **CASES[case])
    split = find_figures(sheet.pixels)
    assert not split.unsure
    assert len(split.boxes) == len(sheet.boxes)
    off = np.abs(np.array(boxes(split)) - sheet.boxes).max()
    assert off <= LOOSE.get(case, 3)


@pytest.mark.parametrize("seed", [0, 4])
@pytest.mark.parametrize("overlap", [0, 3])
def test_figures_that_touch_are_asked_about_and_cut_apart_when_told(seed, overlap):
    rng = np.random.default_rng(seed)
    figures = sample_figures(rng, TALL)
    sheet = compose(figures, rng, ground="flat", gap=(-overlap, 1 - overlap))
    assert "touch" in find_figures(sheet.pixels).unsure
    told = find_figures(sheet.pixels, len(figures))
    assert not told.unsure and len(told.boxes) == len(figures)
    assert any("touch" in doubt for doubt in told.doubts)


def test_two_rows_of_figures_are_told_and_one_row_is_not():
    rng = np.random.default_rng(2)
    sheet = compose(sample_figures(rng, TALL), rng).pixels
    assert find_figures(sheet).stacked == ()
    two = find_figures(np.vstack([sheet, sheet]))
    assert two.stacked == tuple(range(1, len(two.boxes) + 1))


def test_one_figure_is_never_taken_for_two_that_touch():
    for character in ("odo", "pim", "brindle"):
        for file in (SAMPLES / character).glob("*.png"):
            figure = scaled(cv2.imread(str(file), -1), 0.25)
            sheet = compose([figure, figure], np.random.default_rng(0))
            assert not find_figures(sheet.pixels).unsure, file


@pytest.fixture(scope="module")
def wide():
    """The sample sheet, what was found on it, and the truth."""
    pixels = cv2.imread(str(SAMPLES / "wide" / "wide.png"))
    truth = json.loads((SAMPLES / "wide" / "truth.json").read_text("utf-8"))
    return pixels, find_figures(pixels), truth["figures"]


def test_the_sample_sheets_boxes_are_right_to_3_px(wide):
    _, split, truth = wide
    assert not split.unsure
    assert np.abs(np.array(boxes(split)) - [figure["box"] for figure in truth]).max() <= 3


def test_no_foot_and_no_hair_is_cut(wide):
    pixels, split, truth = wide
    rows = {drawing.shape[0] for drawing in cut_out(pixels, split)}
    assert len(rows) == 1
    tall = max(f["box"][3] for f in truth) - min(f["box"][1] for f in truth) + 1
    assert rows.pop() >= tall + 40


def test_ruled_lines_stay_and_lettering_goes(wide):
    pixels, split, _ = wide
    drawing = next(cut_out(pixels, split))
    top = split.boxes[0].top - round(0.05 * (split.boxes[0].bottom - split.boxes[0].top + 1))
    line = drawing[round(564.0) - top - 3 : round(564.0) - top + 4, 20].astype(int)
    assert line.sum(axis=1).max() - line.sum(axis=1).min() > 60


def test_where_boxes_overlap_a_drawing_holds_its_own_pixels_alone():
    clear = np.zeros((300, 300, 4), np.uint8)
    cv2.line(clear, (60, 40), (120, 260), (40, 40, 200, 255), 12)
    cv2.line(clear, (110, 40), (170, 260), (200, 40, 40, 255), 12)
    split = find_figures(clear)
    one, other = cut_out(clear, split)
    assert split.boxes[0].right > split.boxes[1].left
    assert (one[..., 0][one[..., 3] > 0] == 40).all()
    assert (other[..., 2][other[..., 3] > 0] == 40).all()
    on_paper = np.full((300, 300, 3), 240, np.uint8)
    solid = clear[..., 3] > 0
    on_paper[solid] = clear[solid][:, :3]
    one, other = cut_out(on_paper, find_figures(on_paper))
    assert not (one[..., 0] == 200).any() and not (other[..., 2] == 200).any()


@pytest.mark.parametrize("factor", [0.5, 2.0])
def test_the_size_of_the_scan_changes_no_count(factor):
    rng = np.random.default_rng(4)
    sheet = compose(sample_figures(rng, TALL), rng, ground="uneven", guides=True)
    other = cv2.resize(sheet.pixels, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    split = find_figures(other)
    assert len(split.boxes) == len(sheet.boxes)
    assert np.abs(np.array(boxes(split)) / factor - sheet.boxes).max() <= 6


def test_an_empty_sheet_has_no_figures():
    assert not find_figures(np.full((120, 300, 3), 240, np.uint8)).boxes
    assert not find_figures(np.zeros((120, 300, 4), np.uint8)).boxes


def test_a_picture_beyond_the_working_size_has_the_boxes_of_its_own_pixels():
    sheet = np.full((700, 5003, 3), 245, np.uint8)
    true = [(307, 101, 1206, 650), (2011, 99, 2703, 651), (3809, 120, 4710, 649)]
    for left, top, right, bottom in true:
        sheet[top : bottom + 1, left : right + 1] = (40, 60, 120)
    split = find_figures(sheet)
    assert np.abs(np.array(boxes(split)) - true).max() <= 2  # a working pixel is 1.6 px
    assert split.owners.shape[1] == SPLIT_SIDE_MOST
    for drawing in cut_out(sheet, split):
        figure = (drawing == (40, 60, 120)).all(axis=2)
        assert figure.any() and (drawing[~figure] == 245).all()

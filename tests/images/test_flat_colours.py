"""Flat fills: what was painted is found, with its colour, its share and its place."""

import cv2
import numpy as np
import pytest

from tests.images.papers import drawing
from turncheck.images.colour import difference, hexadecimal, name_of
from turncheck.images.flat_colours import find_fills
from turncheck.images.paper.paper import to_lab

PAINTS = {"#a23b2c": 0.30, "#2f6f78": 0.25, "#e9b44c": 0.20, "#6b4230": 0.15, "#f0b98d": 0.10}


def bgr(name):
    return tuple(int(name[i : i + 2], 16) for i in (5, 3, 1))


def lab(name):
    return to_lab(np.array(bgr(name), np.uint8).reshape(1, 1, 3))[0, 0]


def striped(outline=True):
    """Bands of paint on white, as high as their shares, in a black outline."""
    page = np.full((800, 300, 3), 255, np.uint8)
    edges = np.rint(100 + 600 * np.cumsum([0.0, *PAINTS.values()])).astype(int)
    for name, top, bottom in zip(PAINTS, edges[:-1], edges[1:], strict=True):
        page[top:bottom, 50:250] = bgr(name)
        if outline:
            cv2.rectangle(page, (50, int(top)), (249, int(bottom)), (30, 25, 30), 5, cv2.LINE_AA)
    return page, (page != 255).any(axis=2)


def test_every_paint_is_found_with_its_colour_share_and_place():
    page, figure = striped()
    found = find_fills(page, figure, 5.0)
    assert [hexadecimal(fill.lab) for fill in found] == list(PAINTS)
    assert [fill.share for fill in found] == pytest.approx(list(PAINTS.values()), abs=0.03)
    for fill in found:
        x, y = (round(value) for value in fill.at)
        assert tuple(page[y, x]) == bgr(hexadecimal(fill.lab))


@pytest.mark.parametrize("quality", [95, 85])
def test_jpeg_and_grain_leave_the_paints_what_they_are(quality):
    page, figure = striped()
    grain = np.random.default_rng(3).normal(0.0, 2.0, page.shape)
    noisy = np.clip(np.rint(page + grain), 0, 255).astype(np.uint8)
    _, data = cv2.imencode(".jpg", noisy, [cv2.IMWRITE_JPEG_QUALITY, quality])
    found = find_fills(np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR)), figure, 5.0)
    for name in PAINTS:
        assert min(difference(lab(name), fill.lab) for fill in found) < 1.0
    assert sum(fill.share > 0.01 for fill in found) == len(PAINTS)


def test_a_graded_fill_is_less_sure_of_its_colour():
    page, figure = striped()
    light = np.linspace(0.95, 1.05, page.shape[1])[None, :, None]
    graded = np.clip(np.rint(page * light), 0, 255).astype(np.uint8)
    even, uneven = (find_fills(p, figure, 5.0)[0].sd for p in (page, graded))
    assert uneven > even


def test_the_outline_is_no_fill_but_a_black_boot_is():
    page, figure = striped()
    assert all(
        difference(fill.lab, lab("#1e191e")) > 10.0 for fill in find_fills(page, figure, 5.0)
    )
    page[640:700, 50:250] = (30, 25, 30)
    found = find_fills(page, figure, 5.0)
    assert min(difference(fill.lab, lab("#1e191e")) for fill in found) < 1.0


@pytest.mark.parametrize(
    ("name", "coat"), [("odo/front", "#2f6f78"), ("odo/side", "#2f6f78"), ("pim/front", "#d8973c")]
)
def test_a_samples_coat_is_its_largest_fills_very_colour(name, coat):
    pixels = drawing(name)
    found = find_fills(pixels, pixels[:, :, 3] >= 128, 7.0)
    assert coat in [hexadecimal(fill.lab) for fill in found[:3]]


def test_a_figure_of_hardly_any_pixels_has_no_fills():
    assert find_fills(np.zeros((20, 20, 3), np.uint8), np.zeros((20, 20), dtype=bool)) == ()


@pytest.mark.parametrize(
    ("colour", "name"),
    [
        ("#ffffff", "white"),
        ("#000000", "black"),
        ("#808080", "grey"),
        ("#c00000", "red"),
        ("#2f6f78", "teal"),
        ("#6b4230", "brown"),
        ("#e9b44c", "yellow"),
        ("#4060c0", "blue"),
        ("#308040", "green"),
        ("#e6d9bd", "cream"),
    ],
)
def test_colours_have_plain_names(colour, name):
    assert name_of(lab(colour)) == name
    assert hexadecimal(lab(colour)) == colour

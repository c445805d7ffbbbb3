"""Stroke widths, against strokes whose coverage is computed from their true width."""

import cv2
import numpy as np
import pytest

from tests.images.papers import drawing, on_paper, stroke_drawing, stroked
from turncheck.images.stroke_width import measure_strokes

WIDTHS = (1.5, 2.0, 3.0, 4.5, 7.0, 12.0)
TURN = np.linspace(0.0, 2.0 * np.pi, 121)
LINES = {
    "straight": [
        np.array([[40.0, 60.3], [360.0, 117.0]]),
        np.array([[60.0, 200.0], [330.0, 390.0]]),
        np.array([[20.4, 150.0], [20.4, 390.0]]),
        np.array([[100.0, 20.7], [380.0, 20.7]]),
    ],
    "curved": [np.stack([200 + 150 * np.cos(TURN), 200 + 100 * np.sin(TURN)], axis=1)],
    "crossing": [
        np.array([[40.0, 60.0], [360.0, 330.0]]),
        np.array([[40.0, 330.0], [360.0, 60.0]]),
        np.array([[20.0, 200.3], [380.0, 210.0]]),
    ],
}


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("kind", LINES)
def test_a_stroke_is_measured_to_a_third_of_a_pixel(kind, width):
    page = stroke_drawing(LINES[kind], width)
    found = measure_strokes(page, page[:, :, 0] < 128)
    assert found is not None
    assert found.width == pytest.approx(width, abs=0.3)


@pytest.mark.parametrize("soft", [0.5, 0.8])
@pytest.mark.parametrize("width", [3.0, 3.6, 4.8, 7.0])
def test_a_soft_drawing_has_no_wider_strokes(width, soft):
    """Blurred by a Gaussian of so many px, as by scanning or resizing."""
    page, figure = stroked(drawing("odo/side")[:, :, 3], 700, width)
    found = measure_strokes(cv2.GaussianBlur(page, (0, 0), soft), figure)
    assert found is not None
    assert found.width == pytest.approx(width, abs=0.1)


@pytest.mark.parametrize("fill", [(90, 150, 200), (190, 220, 240), (120, 80, 60)])
def test_the_fill_beside_the_outline_changes_nothing(fill):
    page = stroke_drawing(LINES["curved"], 5.0)
    cover = 1.0 - page[:, :, :1] / 255.0
    inside = np.zeros(page.shape[:2], np.uint8)
    cv2.fillPoly(inside, [np.rint(LINES["curved"][0]).astype(np.int32)], 1)
    ground = np.where(inside[:, :, None] > 0, np.array(fill), 255)
    painted = np.rint(ground * (1.0 - cover) + np.array((30, 25, 40)) * cover).astype(np.uint8)
    found = measure_strokes(painted, (inside > 0) | (page[:, :, 0] < 128))
    assert found is not None
    assert found.width == pytest.approx(5.0, abs=0.3)
    assert found.share > 0.9


def test_outlines_of_another_colour_in_every_part_are_measured_too():
    page = stroke_drawing(LINES["curved"], 6.0)
    cover = 1.0 - page[:, :, :1] / 255.0
    ground = np.full(page.shape, 255.0)
    inside = np.zeros(page.shape[:2], np.uint8)
    cv2.fillPoly(inside, [np.rint(LINES["curved"][0]).astype(np.int32)], 1)
    ground[inside > 0] = (150, 190, 240)
    line = np.where(np.arange(400)[None, :, None] < 200, (60, 30, 20), (30, 40, 120))
    painted = np.rint(ground * (1.0 - cover) + line * cover).astype(np.uint8)
    found = measure_strokes(painted, (inside > 0) | (page[:, :, 0] < 128))
    assert found is not None
    assert found.width == pytest.approx(6.0, abs=0.3)


@pytest.mark.parametrize("paper", ["jpeg", "all"])
@pytest.mark.parametrize("name", ["odo/side", "pim/front"])
def test_scanning_and_jpeg_hardly_change_a_drawings_stroke(name, paper):
    pixels = drawing(name)
    own = measure_strokes(pixels, pixels[:, :, 3] >= 128)
    page, true = on_paper(pixels, paper)
    scanned = measure_strokes(page, true)
    assert own is not None and scanned is not None
    assert scanned.width == pytest.approx(own.width, abs=0.15)


def test_a_drawing_twice_as_large_has_strokes_twice_as_wide():
    pixels = drawing("pim/front")
    large = cv2.resize(pixels, None, fx=2.0, fy=2.0, interpolation=cv2.INTER_LINEAR)
    small, wide = (measure_strokes(p, p[:, :, 3] >= 128) for p in (pixels, large))
    assert small is not None and wide is not None
    assert wide.width / small.width == pytest.approx(2.0, rel=0.02)


def test_a_figure_without_outlines_has_no_stroke():
    pixels = drawing("pim/front")
    page = np.full((*pixels.shape[:2], 3), 255, np.uint8)
    page[pixels[:, :, 3] >= 128] = (90, 140, 210)
    assert measure_strokes(page, pixels[:, :, 3] >= 128) is None
    assert measure_strokes(page, np.zeros(page.shape[:2], dtype=bool)) is None


def test_more_pieces_of_outline_make_the_width_surer():
    pixels = drawing("odo/front")
    found = measure_strokes(pixels, pixels[:, :, 3] >= 128)
    assert found is not None and found.pieces > 20
    assert found.width_sd < 0.5 * found.spread

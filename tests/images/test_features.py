"""The features of a drawing hold in numbers what its pixels show."""

import cv2
import numpy as np
import pytest

from tests.images.papers import drawing, on_paper
from turncheck.images.features import NO_FEATURES, read_features, row_extents
from turncheck.images.figure_mask import mask_from


@pytest.fixture(scope="module")
def features():
    return read_features(drawing("pim/side"))


def test_the_extents_are_the_outer_edges_of_the_opaque_pixels_in_every_row(features):
    solid = drawing("pim/side")[:, :, 3] >= 128
    assert features.left.shape == features.right.shape == (features.height,)
    for row in range(0, features.height, 37):
        columns = np.flatnonzero(solid[row])
        if len(columns):
            assert (features.left[row], features.right[row]) == (
                columns[0] - 0.5,
                columns[-1] + 0.5,
            )
        else:
            assert np.isnan(features.left[row]) and np.isnan(features.right[row])
    rows = np.flatnonzero(solid.any(axis=1))
    assert (features.top, features.bottom) == (rows[0] - 0.5, rows[-1] + 0.5)
    assert features.area == solid.sum()


def test_a_mirrored_figure_has_mirrored_extents():
    figure = np.random.default_rng(1).random((40, 30)) < 0.1
    left, right = row_extents(figure)
    mirrored_left, mirrored_right = row_extents(figure[:, ::-1])
    assert np.allclose(mirrored_left, 29.0 - right, equal_nan=True)
    assert np.allclose(mirrored_right, 29.0 - left, equal_nan=True)


def test_the_contours_enclose_the_figure_to_within_a_pixel(features):
    solid = drawing("pim/side")[:, :, 3] >= 128
    page = np.zeros(solid.shape, np.uint8)
    cv2.drawContours(page, [c[:, None] for c in features.contours], -1, 1, cv2.FILLED)
    assert ((page > 0) & solid).sum() / ((page > 0) | solid).sum() > 0.99
    assert sum(len(c) for c in features.contours) < 4000


def test_they_are_small(features):
    size = features.left.nbytes + features.right.nbytes + sum(c.nbytes for c in features.contours)
    assert size < 200_000


def test_the_same_drawing_on_paper_gives_nearly_the_same_numbers(features):
    page, _ = on_paper(drawing("pim/side"), "uneven")
    scanned = read_features(page)
    assert scanned.found_by == "paper"
    assert scanned.top - 60.0 == pytest.approx(features.top, abs=1.0)
    assert scanned.strokes.width == pytest.approx(features.strokes.width, abs=0.2)
    inside = slice(60, 60 + features.height)
    apart = np.abs(scanned.left[inside] - 60.0 - features.left)
    assert np.nanpercentile(apart, 95) <= 2.0


def test_a_painted_mask_comes_before_what_would_be_found():
    pixels = drawing("pim/side")
    mask = np.zeros((*pixels.shape[:2], 3), np.uint8)
    mask[200:300, 400:500] = 255
    found = read_features(pixels, mask_from(mask, pixels.shape[:2], "mask.png"))
    assert found.found_by == "mask"
    assert (found.top, found.bottom, found.area) == (199.5, 299.5, 10_000)


def test_a_drawing_that_nobody_decoded_has_no_figure_no_strokes_and_no_fills():
    blank = read_features(np.zeros((40, 30, 4), np.uint8))
    for name in ("area", "contours", "strokes", "fills"):
        assert getattr(NO_FEATURES, name) == getattr(blank, name)
    assert np.isnan([NO_FEATURES.top, NO_FEATURES.bottom, blank.top, blank.bottom]).all()
    assert len(NO_FEATURES.left) == len(NO_FEATURES.right) == NO_FEATURES.height == 0

"""A study of a drawing holds in numbers what its pixels show."""

import cv2
import numpy as np
import pytest

from tests.images.papers import drawing, on_paper
from turncheck.images.features import row_extents, study_drawing
from turncheck.images.figure_mask import mask_from


@pytest.fixture(scope="module")
def study():
    return study_drawing(drawing("pim/side"))


def test_the_extents_are_the_outer_edges_of_the_opaque_pixels_in_every_row(study):
    solid = drawing("pim/side")[:, :, 3] >= 128
    assert study.left.shape == study.right.shape == (study.height,)
    for row in range(0, study.height, 37):
        columns = np.flatnonzero(solid[row])
        if len(columns):
            assert (study.left[row], study.right[row]) == (columns[0] - 0.5, columns[-1] + 0.5)
        else:
            assert np.isnan(study.left[row]) and np.isnan(study.right[row])
    rows = np.flatnonzero(solid.any(axis=1))
    assert (study.top, study.bottom) == (rows[0] - 0.5, rows[-1] + 0.5)
    assert study.area == solid.sum()


def test_a_mirrored_figure_has_mirrored_extents():
    figure = np.random.default_rng(1).random((40, 30)) < 0.1
    left, right = row_extents(figure)
    mirrored_left, mirrored_right = row_extents(figure[:, ::-1])
    assert np.allclose(mirrored_left, 29.0 - right, equal_nan=True)
    assert np.allclose(mirrored_right, 29.0 - left, equal_nan=True)


def test_the_contours_enclose_the_figure_to_within_a_pixel(study):
    solid = drawing("pim/side")[:, :, 3] >= 128
    page = np.zeros(solid.shape, np.uint8)
    cv2.drawContours(page, [c[:, None] for c in study.contours], -1, 1, cv2.FILLED)
    assert ((page > 0) & solid).sum() / ((page > 0) | solid).sum() > 0.99
    assert sum(len(c) for c in study.contours) < 4000


def test_a_study_is_small(study):
    size = study.left.nbytes + study.right.nbytes + sum(c.nbytes for c in study.contours)
    assert size < 200_000


def test_the_same_drawing_on_paper_gives_nearly_the_same_numbers(study):
    page, _ = on_paper(drawing("pim/side"), "uneven")
    scanned = study_drawing(page)
    assert scanned.found_by == "paper"
    assert scanned.top - 60.0 == pytest.approx(study.top, abs=1.0)
    assert scanned.strokes.width == pytest.approx(study.strokes.width, abs=0.2)
    inside = slice(60, 60 + study.height)
    apart = np.abs(scanned.left[inside] - 60.0 - study.left)
    assert np.nanpercentile(apart, 95) <= 2.0


def test_a_painted_mask_comes_before_what_would_be_found():
    pixels = drawing("pim/side")
    mask = np.zeros((*pixels.shape[:2], 3), np.uint8)
    mask[200:300, 400:500] = 255
    found = study_drawing(pixels, mask_from(mask, pixels.shape[:2], "mask.png"))
    assert found.found_by == "mask"
    assert (found.top, found.bottom, found.area) == (199.5, 299.5, 10_000)

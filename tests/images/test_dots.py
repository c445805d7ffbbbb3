"""The centre of a coloured disc is found to a tenth of a pixel, also under a line across it.

The discs are supersampled 16 × 16, so that their centres are known exactly (`discs.py`).
"""

from __future__ import annotations

import json

import cv2
import numpy as np
import pytest

from tests.images.discs import code_of, disc_drawing, jpeg
from tests.places import SAMPLES
from turncheck.images.dots import find_dots, lab_of

SEEDS = range(9)


def errors(radius, *, line=False, outline=False, change=lambda pixels: pixels):
    """Errors in x and y, px, of the discs that are sure, and how many those are."""
    off, sure = [], 0
    for seed in SEEDS:
        rng = np.random.default_rng([seed, round(10 * radius)])
        pixels, (x, y), colour = disc_drawing(rng, radius, line=line, outline=outline)
        found = find_dots(change(pixels), [lab_of(code_of(colour))])
        dots = [dot for dot in found if not dot.doubt]
        sure += len(dots)
        off += [value for dot in dots for value in (dot.x - x, dot.y - y)]
    return np.array(off), sure


def rms(values):
    return float(np.sqrt(np.mean(values**2)))


@pytest.mark.parametrize("radius", [2, 4, 8, 12])
def test_a_clean_disc_is_centred_to_a_tenth_of_a_pixel(radius):
    off, sure = errors(radius)
    assert sure == len(SEEDS) and rms(off) <= 0.1


@pytest.mark.parametrize("radius", [4, 6.5, 10])
def test_a_line_across_does_not_move_it(radius):
    off, sure = errors(radius, line=True)
    assert sure >= len(SEEDS) - 2 and rms(off) <= 0.1


@pytest.mark.parametrize("radius", [7])
def test_nor_does_an_outline_under_it_as_well(radius):
    off, sure = errors(radius, line=True, outline=True)
    assert sure >= len(SEEDS) - 2 and rms(off) <= 0.1


@pytest.mark.parametrize("radius", [5, 7, 10])
def test_in_a_jpeg_with_a_line_across_it_is_centred_to_0_3_px(radius):
    off, sure = errors(radius, line=True, change=jpeg)
    assert sure >= len(SEEDS) - 4 and rms(off) <= 0.3


@pytest.mark.parametrize("radius", [6, 8, 12])
@pytest.mark.parametrize("covered", [0.5, 0.6, 0.7, 0.8])
def test_a_disc_that_is_mostly_covered_is_not_sure(covered, radius):
    for seed in SEEDS:
        rng = np.random.default_rng([seed, radius])
        pixels, (x, y), colour = disc_drawing(rng, radius, covered=covered)
        for dot in find_dots(pixels, [lab_of(code_of(colour))]):
            assert dot.doubt or np.hypot(dot.x - x, dot.y - y) < 0.5


@pytest.mark.parametrize("seed", [5, 24, 29, 36])
def test_a_disc_with_a_line_across_is_not_taken_for_a_smaller_one_beside_the_line(seed):
    pixels, (x, y), colour = disc_drawing(np.random.default_rng([seed, 6]), 6, line=True)
    (dot,) = find_dots(jpeg(pixels), [lab_of(code_of(colour))])
    assert np.hypot(dot.x - x, dot.y - y) < 0.2 and dot.radius == pytest.approx(6, abs=0.1)
    assert not dot.doubt


def test_one_of_which_little_is_covered_is_sure_and_in_its_place():
    for seed in SEEDS:
        rng = np.random.default_rng([seed, 8])
        pixels, (x, y), colour = disc_drawing(rng, 8, covered=0.2)
        (dot,) = find_dots(pixels, [lab_of(code_of(colour))])
        assert not dot.doubt and np.hypot(dot.x - x, dot.y - y) < 0.1


def test_the_radius_is_measured():
    pixels, _, colour = disc_drawing(np.random.default_rng(1), 6.5)
    (dot,) = find_dots(pixels, [lab_of(code_of(colour))])
    assert dot.radius == pytest.approx(6.5, abs=0.1)


@pytest.mark.parametrize("step", [0, 4, 8])
def test_a_disc_of_nearly_the_fills_colour_is_never_sure(step):
    fill = (120, 112, 46)
    disc = (120 + step, 112 + step, 46 + step)
    pixels, _, colour = disc_drawing(np.random.default_rng(0), 6, fill=fill, disc=disc)
    assert all(dot.doubt for dot in find_dots(pixels, [lab_of(code_of(colour))]))


def test_a_disc_close_to_the_fill_is_found_and_doubted():
    pixels, (x, y), colour = disc_drawing(
        np.random.default_rng(0), 7, fill=(120, 112, 46), disc=(154, 146, 80)
    )
    found = find_dots(pixels, [lab_of(code_of(colour))])
    assert all("fill" in dot.doubt for dot in found)
    assert any(np.hypot(dot.x - x, dot.y - y) < 1 for dot in found)


def test_what_is_no_disc_is_no_dot():
    page = np.full((120, 160, 3), 240, np.uint8)
    cv2.rectangle(page, (10, 10), (18, 50), (208, 47, 255), -1)  # a bar
    cv2.rectangle(page, (60, 20), (120, 90), (208, 47, 255), -1)  # clothes
    cv2.circle(page, (30, 90), 20, (208, 47, 255), -1)  # too large
    assert not find_dots(page, [lab_of("#ff2fd0")])


@pytest.mark.parametrize("at", [(1, 1), (3, 40), (60, 62)])
def test_a_dot_at_the_pictures_edge_does_no_harm(at):
    page = np.full((64, 64, 3), 240, np.uint8)
    cv2.circle(page, at, 5, (208, 47, 255), -1)
    find_dots(page, [lab_of("#ff2fd0")])


def test_a_patch_of_the_colour_alone_does_no_harm():
    page = np.full((9, 9, 3), 0, np.uint8)
    page[:] = (208, 47, 255)
    find_dots(page, [lab_of("#ff2fd0")])


def test_moving_the_drawing_moves_the_dot():
    pixels, _, colour = disc_drawing(np.random.default_rng(3), 5, line=True)
    (before,) = find_dots(pixels, [lab_of(code_of(colour))])
    moved = cv2.copyMakeBorder(pixels, 7, 0, 11, 0, cv2.BORDER_REPLICATE)
    (after,) = find_dots(moved, [lab_of(code_of(colour))])
    assert (after.x - before.x, after.y - before.y) == pytest.approx((11, 7), abs=0.02)


def test_every_dot_of_a_sample_drawing_is_found():
    truth = json.loads((SAMPLES / "dots" / "truth.json").read_text("utf-8"))["dots"]
    mine = [dot for dot in truth if dot["view"] == "side"]
    pixels = cv2.imread(str(SAMPLES / "dots" / "side.png"), cv2.IMREAD_UNCHANGED)
    found = find_dots(pixels, [lab_of(dot["colour"]) for dot in mine])
    off = [min(np.hypot(dot.x - true["x"], dot.y - true["y"]) for dot in found) for true in mine]
    assert len(found) == len(mine) and max(off) < 0.1

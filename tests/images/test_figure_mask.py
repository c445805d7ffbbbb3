"""The figure is found on any paper; the drawings' own transparency says what is right."""

from itertools import product

import cv2
import numpy as np
import pytest

from tests.images.papers import PAPERS, agreement, drawing, on_paper, ruled_across
from turncheck import TurncheckError
from turncheck.images.figure_mask import figure_mask, mask_from

FIGURES = ("odo/three_quarter", "pim/side", "brindle/front")
OUTLINE = (40, 30, 35)


def blank(paper=(255, 255, 255), size=(600, 400)):
    return np.full((*size, 3), paper, np.uint8)


def body(page, fill, box=((140, 100), (260, 500)), outline=OUTLINE):
    cv2.rectangle(page, *box, fill, cv2.FILLED)
    if outline is not None:
        cv2.rectangle(page, *box, outline, 6)
    return page


@pytest.mark.parametrize("name", FIGURES)
def test_transparency_is_taken_at_its_word(name):
    pixels = drawing(name)
    found = figure_mask(pixels)
    assert found.found_by == "alpha" and found.doubts == ()
    assert np.array_equal(found.pixels, pixels[:, :, 3] >= 128)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("name", FIGURES)
def test_a_drawing_on_paper_is_found_as_its_transparency_has_it(name, paper):
    page, true = on_paper(drawing(name), paper, seed=len(name))
    found = figure_mask(page)
    assert found.found_by == "paper"
    overlap, border = agreement(found.pixels, true)
    assert overlap >= 0.985
    assert border <= 2.0


def test_a_large_scan_is_refined_at_full_size():
    page, true = on_paper(drawing("pim/side"), "uneven")
    size = (page.shape[1] * 2, page.shape[0] * 2)
    large = cv2.resize(page, size, interpolation=cv2.INTER_CUBIC)
    soft = cv2.resize(true.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    overlap, border = agreement(figure_mask(large).pixels, soft > 0.5)
    assert overlap >= 0.99
    assert border <= 2.0


def test_ruled_lines_are_taken_out_and_said():
    page, _ = on_paper(drawing("odo/front"), "ruled")
    assert any("ruled lines were taken out" in doubt for doubt in figure_mask(page).doubts)


# every tilt and blur on a small page; on large ones, which take long, each tilt and each blur
@pytest.mark.parametrize(
    ("longest", "thickness", "blur", "tilt"),
    [
        (longest, thickness, blur, tilt)
        for longest, thickness in ((1000, 2), (1000, 4), (1000, 8), (1400, 8), (2000, 8), (4000, 8))
        for blur, tilt in product((0.0, 2.0), (0.0, 1.5))
        if longest < 2000 or (bool(blur) == bool(tilt)) == (longest == 2000)
    ],
)
def test_ruled_lines_go_however_thick_and_soft_they_are(longest, thickness, blur, tilt):
    page, true, lines = ruled_across(
        drawing("odo/three_quarter"), longest, thickness, tilt=tilt, blur=blur
    )
    found = figure_mask(page).pixels
    beside = lines & (cv2.dilate(true.astype(np.uint8), np.ones((41, 41), np.uint8)) == 0)
    assert beside.sum() > longest * thickness
    assert not (found & beside).any()
    assert (found & true).sum() >= 0.995 * true.sum()


@pytest.mark.parametrize("outline", [2, 3, 5])
@pytest.mark.parametrize("thickness", [1, 2, 4, 6, 8])
def test_white_feet_on_a_ground_line_and_a_hand_on_an_eye_line_stay_whole(thickness, outline):
    page = blank(size=(1400, 1000))
    parts = np.zeros(page.shape[:2], np.uint8)
    parts[300:1100, 400:600] = parts[400:440, 600:700] = 1
    page[parts > 0] = OUTLINE
    page[cv2.erode(parts, np.ones((2 * outline + 1, 2 * outline + 1), np.uint8)) > 0] = 255
    page[1100 : 1100 + thickness] = page[440 : 440 + thickness] = OUTLINE
    found = figure_mask(page).pixels
    assert found[parts > 0].all()
    assert not found[:, :380].any() and not found[:, 720:].any()


def test_a_soft_shadow_is_left_out_and_said():
    page, true = on_paper(drawing("odo/front"), "shadow")
    found = figure_mask(page)
    assert any("shadow" in doubt for doubt in found.doubts)
    assert (
        abs(
            int(np.flatnonzero(found.pixels.any(axis=1))[-1])
            - int(np.flatnonzero(true.any(axis=1))[-1])
        )
        <= 1
    )


def test_white_clothes_on_white_paper_are_filled():
    page = body(blank(), (255, 255, 255))
    found = figure_mask(page)
    assert found.pixels[300, 200]
    assert found.pixels.sum() == pytest.approx(127 * 407, rel=0.01)


def test_a_gap_in_solid_colour_is_open_and_said_with_its_place():
    page = body(blank(), (60, 90, 170), ((100, 100), (300, 500)))
    cv2.rectangle(page, (140, 200), (170, 400), (255, 255, 255), cv2.FILLED)
    cv2.rectangle(page, (140, 200), (170, 400), OUTLINE, 6)
    found = figure_mask(page)
    assert not found.pixels[300, 155]
    assert any("taken for a gap" in doubt and "near (155, 300)" in doubt for doubt in found.doubts)


@pytest.mark.parametrize("letter", [(244, 252, 255), (215, 233, 243)])
def test_a_letter_of_nearly_the_papers_colour_is_no_gap(letter):
    page = body(blank((226, 240, 245)), (60, 90, 170), ((100, 100), (300, 500)))
    cv2.rectangle(page, (140, 200), (200, 260), letter, cv2.FILLED)
    cv2.rectangle(page, (140, 200), (200, 260), OUTLINE, 6)
    assert figure_mask(page).pixels[230, 170]


def test_a_white_cuff_at_the_rim_is_no_gap():
    page = body(blank(), (60, 90, 170), ((100, 100), (300, 500)))
    page[200:300, 98:140] = OUTLINE
    page[204:296, 100:136] = 255
    assert figure_mask(page).pixels[250, 118]


def test_an_eye_is_not_a_gap():
    page = body(blank(), (60, 90, 170), ((100, 100), (300, 500)))
    cv2.circle(page, (150, 160), 25, (255, 255, 255), cv2.FILLED)
    cv2.circle(page, (150, 160), 25, OUTLINE, 4)
    cv2.circle(page, (150, 160), 8, OUTLINE, cv2.FILLED)
    found = figure_mask(page)
    assert found.pixels[145, 150]


def test_a_pale_fill_without_an_outline_is_the_figures():
    page = body(blank((250, 250, 250)), (180, 205, 245), outline=None)
    assert figure_mask(page).pixels.sum() == pytest.approx(121 * 401, rel=0.005)


def test_a_prop_beside_the_figure_is_kept_and_a_label_far_from_it_is_not():
    page = body(blank(), (60, 90, 170))
    cv2.circle(page, (281, 300), 14, (40, 160, 90), cv2.FILLED)
    cv2.putText(page, "SIDE", (20, 40), cv2.FONT_HERSHEY_SIMPLEX, 1.0, OUTLINE, 3)
    found = figure_mask(page)
    assert found.pixels[300, 281]
    assert not found.pixels[:60].any()
    assert any("hangs free" in doubt for doubt in found.doubts)


def test_a_staff_in_the_hand_is_no_ruled_line():
    page = body(blank(), (60, 90, 170))
    page[100:500, 299:302] = OUTLINE
    page[294:307, 255:300] = OUTLINE
    assert figure_mask(page).pixels[120:480, 300].all()


def test_an_opaque_scan_on_a_clear_canvas_is_told_from_its_paper():
    page = np.zeros((700, 500, 4), np.uint8)
    page[50:650, 50:450, :3] = body(blank((235, 240, 244)), (60, 90, 170))
    page[50:650, 50:450, 3] = 255
    found = figure_mask(page)
    assert found.found_by == "paper"
    assert found.pixels.sum() == pytest.approx(127 * 407, rel=0.01)


def test_an_empty_page_has_no_figure_and_says_so():
    found = figure_mask(blank((230, 240, 245)))
    assert not found.pixels.any()
    assert found.doubts == ("no figure was found on the paper",)


@pytest.mark.parametrize("channels", [3, 4])
def test_a_painted_mask_is_the_figure(channels):
    mask = np.zeros((60, 40, channels), np.uint8)
    mask[10:50, 10:30] = 255
    found = mask_from(mask, (60, 40), "mask.png")
    assert found.found_by == "mask"
    assert found.pixels.sum() == 800


def test_a_mask_of_ones_is_the_figure_too():
    mask = np.zeros((60, 40, 3), np.uint8)
    mask[10:50, 10:30] = 1
    assert mask_from(mask, (60, 40), "mask.png").pixels.sum() == 800


def test_a_mask_of_another_size_or_without_a_figure_is_refused():
    with pytest.raises(TurncheckError, match="40 × 60 px and its drawing 80 × 60 px"):
        mask_from(np.full((60, 40, 3), 255, np.uint8), (60, 80), "mask.png")
    with pytest.raises(TurncheckError, match="the mask is empty"):
        mask_from(np.zeros((60, 40, 3), np.uint8), (60, 40), "mask.png")


@pytest.mark.parametrize("shape", [(1, 1), (1, 5), (17, 9), (120, 180)])
@pytest.mark.parametrize("channels", [3, 4])
def test_noise_from_edge_to_edge_has_no_figure(shape, channels):
    noise = np.random.default_rng(3).integers(0, 256, (*shape, channels), dtype=np.uint8)
    noise[:, :, 3:] = 255
    found = figure_mask(noise)
    assert not found.pixels.any()
    assert found.pixels.shape == shape and "no figure" in found.doubts[0]

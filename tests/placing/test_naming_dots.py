"""Dots get the names that fit best, and none where two fit as well."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from turncheck.images.dots import Dot
from turncheck.placing.naming_dots import Wanted, name_dots, told_apart
from turncheck.sheet.vocabulary import read_vocabulary

RED, BLUE, GREEN = (54.0, 81.0, 70.0), (30.0, 68.0, -112.0), (88.0, -86.0, 83.0)
LANDMARKS = read_vocabulary("biped", Path()).landmarks


def dot(x, y, colour=RED, doubt=""):
    return Dot(x, y, 5.0, colour, 60.0, 1.0, doubt)


def names(named):
    return {one.landmark: (one.dot.x, one.dot.y) for one in named if one.dot and not doubtful(one)}


def doubtful(one):
    return bool(one.rival or one.another or one.dot.doubt)


def test_each_dot_goes_to_the_landmark_of_its_colour():
    found = [dot(1, 10, BLUE), dot(2, 20, RED), dot(3, 30, GREEN)]
    wanted = [Wanted("neck", RED), Wanted("knee_l", GREEN), Wanted("spine", BLUE)]
    assert names(name_dots(found, wanted)) == {"neck": (2, 20), "knee_l": (3, 30), "spine": (1, 10)}


def test_a_landmark_without_a_dot_is_said_to_be_missing():
    named = name_dots([dot(1, 10, BLUE)], [Wanted("neck", RED), Wanted("spine", BLUE)])
    assert [one.landmark for one in named if one.dot is None] == ["neck"]
    assert all(one.dot is None for one in name_dots([], [Wanted("neck", RED)]))


def test_a_dot_that_two_landmarks_fit_is_in_doubt():
    named = name_dots([dot(1, 10)], [Wanted("neck", RED), Wanted("spine", RED)])
    (one,) = [one for one in named if one.dot]
    assert {one.landmark, one.rival} == {"neck", "spine"} and not one.another


def test_a_landmark_that_two_dots_fit_is_in_doubt():
    (one,) = name_dots([dot(1, 10), dot(5, 50)], [Wanted("neck", RED)])
    assert one.another and not one.rival


@pytest.mark.parametrize("scale, lift", [(1.0, 0.0), (1.0, 230.0), (0.92, -40.0)])
def test_dots_of_one_colour_are_named_by_their_heights(scale, lift):
    heights = {"neck": 300.0, "spine": 540.0, "knee_l": 1000.0, "ankle_l": 1300.0, "elbow_l": 620.0}
    wanted = [Wanted(name, RED, y) for name, y in heights.items()]
    rng = np.random.default_rng(2)
    found = [dot(rng.uniform(0, 99), scale * y + lift + rng.normal(0, 3)) for y in heights.values()]
    named = name_dots(found, wanted)
    assert not any(map(doubtful, named))
    assert [one.dot for one in named] == found


def test_a_dot_left_out_does_not_shift_the_names_of_the_others():
    heights = {"neck": 300.0, "spine": 540.0, "elbow_l": 620.0, "knee_l": 1000.0, "ankle_l": 1300.0}
    wanted = [Wanted(name, RED, y) for name, y in heights.items()]
    found = [dot(0, y) for name, y in heights.items() if name != "spine"]
    named = name_dots(found, wanted)
    assert [one.landmark for one in named if one.dot is None] == ["spine"]
    assert names(named)["elbow_l"] == (0, 620.0)


@pytest.mark.parametrize("yaw, left_x", [(0, 80), (45, 80), (180, 20), (-135, 20)])
def test_left_and_right_of_one_colour_are_told_by_their_order(yaw, left_x):
    wanted = [Wanted("knee_l", RED, 1000.0), Wanted("knee_r", RED, 1000.0), Wanted("neck", RED, 99)]
    found = [dot(50, 99), dot(20, 1001), dot(80, 999)]
    named = names(told_apart(name_dots(found, wanted), LANDMARKS, yaw))
    assert named["knee_l"][0] == left_x and named["knee_r"][0] == 100 - left_x


def test_in_the_side_view_their_order_tells_nothing():
    wanted = [Wanted("knee_l", RED, 1000.0), Wanted("knee_r", RED, 1000.0), Wanted("neck", RED, 99)]
    found = [dot(50, 99), dot(20, 1001), dot(80, 999)]
    named = told_apart(name_dots(found, wanted), LANDMARKS, 90.0)
    assert all(doubtful(one) for one in named if one.landmark.startswith("knee"))

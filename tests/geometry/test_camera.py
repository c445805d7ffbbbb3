"""The tilt and the perspective that all drawings share."""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulations.turning_bodies import HEIGHT, biped, draw
from turncheck.geometry.camera import Camera, fit_camera
from turncheck.geometry.turn import solve_turn

YAWS = np.array([0.0, 45.0, 90.0, 180.0])
BODY = biped()
#: Invented: spread over the figure, alike for a pair.
UP = np.array([HEIGHT * (0.1 + 0.8 * ((7 * (i // 2)) % 10) / 10) for i in range(len(BODY.x))])
SD = np.full((len(YAWS), len(UP)), 0.05)


def camera(heights: np.ndarray, yaws: np.ndarray = YAWS) -> Camera:
    turn = solve_turn(
        draw(BODY, yaws),
        SD[: len(yaws)],
        np.ones(len(yaws)),
        yaws,
        figure_height=HEIGHT,
        pairs=BODY.pairs,
        midline=BODY.midline,
    )
    return fit_camera(heights, SD[: len(yaws)], turn, HEIGHT)


def heights(tilt: float = 0.0, near: float = 0.0, yaws: np.ndarray = YAWS) -> np.ndarray:
    at, turned = np.radians(tilt), np.radians(yaws)[:, None]
    toward = BODY.z * np.cos(turned) - BODY.x * np.sin(turned)
    level = UP * np.cos(at) - toward * np.sin(at)
    larger = 1.0 / (1.0 - near * (toward * np.cos(at) + UP * np.sin(at)) / HEIGHT)
    return HEIGHT / 2.0 + (level - HEIGHT / 2.0) * larger


@pytest.mark.parametrize("tilt", [-5.0, 0.0, 3.0, 8.0])
def test_the_tilt_comes_back(tilt):
    found = camera(heights(tilt))
    assert found.tilt == pytest.approx(tilt, abs=0.05)
    assert found.tilted == (tilt != 0.0) and not found.close
    assert found.perspective == pytest.approx(0.0, abs=0.01)


def test_the_perspective_comes_back():
    found = camera(heights(near=0.1))
    assert found.perspective == pytest.approx(0.1, abs=0.01)
    assert found.close and not found.tilted
    assert "perspective" in found.looks


@pytest.mark.parametrize(("tilt", "side"), [(5.0, "above"), (-5.0, "below")])
def test_it_says_from_where(tilt, side):
    assert camera(heights(tilt)).looks == f"these drawings look seen from {side} by about 5°"


def test_each_drawing_may_stand_and_be_sized_as_it_likes():
    size, ground = np.array([[1.0, 0.99, 1.02, 1.01]]).T, np.array([[0.0, 5.0, -8.0, 3.0]]).T
    found = camera(heights(6.0) * size + ground)
    assert found.tilt == pytest.approx(6.0, abs=0.1)


def test_a_limb_that_drifts_is_no_tilt():
    drifted = heights()
    drifted[2, [n for n, name in enumerate(BODY.names) if name in ("elbow_l", "wrist_l")]] += 25.0
    assert not camera(drifted).looks


@pytest.mark.parametrize("yaws", [(0.0, 180.0), (0.0, 90.0)])
def test_two_drawings_tell_nothing(yaws):
    found = camera(heights(6.0, yaws=np.array(yaws)), np.array(yaws))
    assert not found.known and not found.looks
    assert found.height_sd == 0.0


def test_what_is_not_said_leaves_heights_in_doubt():
    found = camera(heights(0.5))
    assert not found.looks
    assert found.height_sd == pytest.approx(np.radians(0.5) * np.std(BODY.z), rel=0.2)

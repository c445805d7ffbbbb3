"""Outlines of true bodies: none contradicts itself, and an error planted in one is found.

Bodies and licences: `tests/outside/bodies.py`. Each drawing's outline is exact to a pixel; yaw and
axis come from the turn solver, from landmarks placed with a standard error of 0.15 % of the height.
"""

from dataclasses import replace

import numpy as np
import pytest

from tests.outside.bodies import BODY_NAMES, Body, body_or_skip, posed
from tests.outside.outlined import PLACES, Error, drawn, found, planted
from turncheck.geometry.outlines import compare_outlines
from turncheck.geometry.outlines.result import NOT_SEEN

FIVE = (0.0, 45.0, 90.0, 135.0, 180.0)
THREE = FIVE[:3]
TURNED = (0.0, 41.0, 92.0, 137.0, 183.0)
FRONT_AND_BACK = (0.0, 180.0)


@pytest.fixture(params=BODY_NAMES)
def body(request: pytest.FixtureRequest) -> Body:
    return body_or_skip(request.param)


@pytest.mark.parametrize("yaws", [FIVE, THREE, TURNED, TURNED[:3], FRONT_AND_BACK])
@pytest.mark.parametrize("noise_pct", [0.1, 0.15])
@pytest.mark.parametrize("seed", [0, 1])
def test_a_true_body_does_not_contradict_itself(body, yaws, noise_pct, seed):
    sheet = drawn(body, yaws, noise_pct=noise_pct, seed=seed)
    reading = compare_outlines(sheet.outlines, sheet.height)
    assert reading, reading.refusal
    assert reading.contradictions == ()
    assert reading.symmetric.mean() > 0.95
    assert reading.symmetry_note == ""


@pytest.mark.parametrize("yaws", [FIVE, THREE])
def test_nor_one_whose_turn_was_solved_without_symmetry(body, yaws):
    for seed in range(3):
        sheet = drawn(body, yaws, seed=seed, symmetric=False)
        reading = compare_outlines(sheet.outlines, sheet.height, symmetric=False)
        assert reading.contradictions == ()


@pytest.mark.parametrize("yaws", [FIVE, THREE, TURNED, FRONT_AND_BACK])
@pytest.mark.parametrize("degrees", [25.0, 70.0])
@pytest.mark.parametrize("name", ["adult_male", "adult_female", "child"])
def test_nor_one_that_raises_an_arm_and_its_symmetry_is_dropped(name, degrees, yaws):
    sheet = drawn(posed(body_or_skip(name), degrees), yaws, seed=4)
    reading = compare_outlines(sheet.outlines, sheet.height)
    assert reading.contradictions == ()
    assert not reading.symmetric.any()
    assert "not taken as symmetric" in reading.symmetry_note


def test_nor_drawings_of_several_sizes_with_the_ground_placed_a_little_off(body):
    # 0.15 % of the height, as every placing, and the ruler says so
    sheet = drawn(body, FIVE, scales=(1.0, 0.9, 0.8, 0.95, 0.85))
    sd = 0.0015 * sheet.height
    for seed in range(4):
        off = np.random.default_rng(seed).normal(0, sd, len(FIVE))
        outlines = [
            replace(o, ground=o.ground + shift * o.scale, height_sd=sd)
            for o, shift in zip(sheet.outlines, off.tolist(), strict=True)
        ]
        assert compare_outlines(outlines, sheet.height).contradictions == ()


@pytest.mark.parametrize("symmetric", [True, False])
@pytest.mark.parametrize("yaws", [FRONT_AND_BACK, FIVE])
@pytest.mark.parametrize("sign", [1, -1])
def test_front_against_back_an_error_of_two_percent_is_found_and_located(
    body, sign, yaws, symmetric
):
    sheet = drawn(body, yaws, seed=2)
    height, last = sheet.height, len(yaws) - 1
    for i, landmark in enumerate(PLACES[body.vocabulary].values()):
        for view, side in ((0, "left"), (0, "right"), (last, "left"), (last, "right")):
            at = max(body.joints[landmark][1] / body.height, 0.04) * height
            error = Error(view, side, at, (0.04 + 0.005 * i) * height, sign * 0.02 * height)
            reading = compare_outlines(planted(sheet.outlines, error), height, symmetric=symmetric)
            assert found(reading, error), (landmark, view, side)
            near = min(reading.contradictions, key=lambda c: abs(np.mean(c.heights) - at))
            # a hand that ends within the stretch may hide a part of it
            assert abs(np.mean(near.heights) - at) < 0.3 * error.length
            assert {0, last} <= set(near.views)
            mine = [r for r in near.remedies if r.view == view and r.side == side]
            assert mine and np.sign(mine[0].px) == -sign
            assert near.blamed in (None, view)
            if yaws == FRONT_AND_BACK and not symmetric:
                assert (near.kind, near.blamed) == ("mirror", None)


def test_a_side_view_alone_is_never_said_to_be_on_model(body):
    # its outline is checked by no other, but for what the front and three-quarter leave room for
    sheet = drawn(body, THREE, seed=3)
    reading = compare_outlines(sheet.outlines, sheet.height, symmetric=False)
    states = reading.states(2, 0.01 * sheet.height)
    assert (states == NOT_SEEN).mean() > 0.9


@pytest.mark.parametrize("yaws", [FIVE, THREE, (0.0, 45.0, 90.0, 180.0)])
@pytest.mark.parametrize(
    "seen_from", [{"tilt": 1.0}, {"tilt": -1.4}, {"tilt": 6.0}, {"near": 0.03}, {"near": 0.2}]
)
def test_nor_one_seen_from_above_or_in_perspective_unless_that_is_told(body, yaws, seen_from):
    sheet = drawn(body, yaws, seed=5, **seen_from)
    if sheet.camera.looks:
        return
    assert max(seen_from.values()) <= 1.4
    outlines = [replace(one, height_sd=sheet.camera.height_sd) for one in sheet.outlines]
    assert compare_outlines(outlines, sheet.height).contradictions == ()

"""How often a tilt and a perspective of all drawings are told: seeded placings on true bodies.

Bodies of `tests/outside/bodies.py`, all landmarks placed with a standard error of 0.15 % of the
height, twice as much where hidden; every drawing's size is off by 0.5 % and its ground by 0.25 %,
one standard deviation. The figures stand in tests/figures/camera.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from tests.outside.bodies import BODY_NAMES, body_or_skip
from tests.outside.rendering import frame, project, seen
from turncheck.geometry.camera import Camera, fit_camera
from turncheck.geometry.turn import solve_turn

HEIGHT = 800.0
SETS = {
    "three": (0.0, 45.0, 90.0),
    "four": (0.0, 45.0, 90.0, 180.0),
    "five": (0.0, 45.0, 90.0, 135.0, 180.0),
    "no three-quarter": (0.0, 90.0, 180.0),
}
LIMBS = (("shoulder", "elbow", "wrist", "fingertip"), ("hip", "knee", "ankle"))


@dataclass(frozen=True)
class Case:
    """One kind of trial.

    Attributes
    ----------
    noise
        The true placing error over the one that is stated.
    drifts
        How many points are off in height by 1.5 to 4 % of the height; if any, so is a whole limb in
        one drawing, by 1.5 to 3 %.
    """

    tilt: float = 0.0
    near: float = 0.0
    noise: float = 1.0
    drifts: int = 0


@cache
def _hidden(name: str, yaw: float) -> np.ndarray:
    body = body_or_skip(name)
    table = project(body, frame(body, yaw, HEIGHT)).set_index("landmark")
    return (table["visibility"] == "hidden").drop("ground").to_numpy()


def seen_from(name: str, yaws: tuple[float, ...], case: Case, rng: np.random.Generator) -> Camera:
    """Place a body's landmarks on drawings from these yaws, and fit the camera."""
    body = body_or_skip(name)
    names = [joint for joint in body.joints if joint != "ground"]
    points = np.array([body.joints[joint] for joint in names])
    views = [frame(body, yaw, HEIGHT, tilt=case.tilt, near=case.near) for yaw in yaws]
    x = np.array([seen(points, view)[:, 0] for view in views])
    heights = np.array([view.g - seen(points, view)[:, 1] for view in views])
    hidden = np.array([_hidden(name, yaw) for yaw in yaws])
    sd = 0.0015 * HEIGHT * np.where(hidden, 2.0, 1.0)
    x, heights = (one + rng.normal(0, case.noise, sd.shape) * sd for one in (x, heights))
    for _ in range(case.drifts):
        at = rng.integers(len(yaws)), rng.integers(len(names))
        heights[at] += rng.choice([-1, 1]) * rng.uniform(0.015, 0.04) * HEIGHT
    if case.drifts:
        stems, side = LIMBS[rng.integers(2)], rng.choice(["l", "r"])
        limb = [names.index(f"{stem}_{side}") for stem in stems if f"{stem}_{side}" in names]
        off = rng.choice([-1, 1]) * rng.uniform(0.015, 0.03) * HEIGHT
        heights[rng.integers(len(yaws)), limb] += off
    size, ground = (rng.normal(0, by, (len(yaws), 1)) for by in (0.005, 0.0025 * HEIGHT))
    turn = solve_turn(
        x,
        sd,
        np.ones(len(yaws)),
        yaws,
        figure_height=HEIGHT,
        pairs=[(names.index(n), names.index(n[:-1] + "r")) for n in names if n.endswith("_l")],
        midline=[i for i, n in enumerate(names) if n[-2:] not in ("_l", "_r")],
    )
    return fit_camera(heights * (1.0 + size) + ground, sd, turn, HEIGHT)


def trials(case: Case, each: int, sets: tuple[str, ...] = tuple(SETS)) -> list[Camera]:
    """Return the cameras of so many sheets of each body and each set of drawings."""
    rng = np.random.default_rng(7)
    return [
        seen_from(name, SETS[views], case, rng)
        for views in sets
        for name in BODY_NAMES
        for _ in range(each)
    ]


def told(cameras: list[Camera]) -> float:
    """Return the share that is said not to be seen level and from afar."""
    return float(np.mean([bool(camera.looks) for camera in cameras]))


@pytest.mark.parametrize("case", [Case(), Case(drifts=3)], ids=["clean", "drifted"])
def test_level_drawings_are_called_tilted_in_under_one_percent(case):
    assert told(trials(case, 15)) < 0.01


@pytest.mark.parametrize("tilt", [-4.0, 2.0, 6.0])
@pytest.mark.parametrize("drifts", [0, 3])
def test_a_tilt_is_told_and_its_interval_is_true(tilt, drifts):
    cameras = trials(Case(tilt=tilt, drifts=drifts), 5)
    assert np.mean([camera.tilted for camera in cameras]) >= 0.98
    off = np.array([(camera.tilt - tilt) / camera.tilt_sd for camera in cameras])
    assert np.mean(np.abs(off) < 1.96) > 0.88


def test_a_perspective_is_told_with_its_strength():
    cameras = trials(Case(near=0.2), 5)
    assert np.mean([camera.close for camera in cameras]) >= 0.98
    assert np.median([camera.perspective for camera in cameras]) == pytest.approx(0.2, abs=0.02)


def test_two_drawings_do_not_tell():
    rng = np.random.default_rng(1)
    camera = seen_from("adult_male", (0.0, 90.0), Case(tilt=6.0), rng)
    assert not camera.known and not camera.looks

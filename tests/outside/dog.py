"""A dog with a known skeleton: the wheel `dm-control` 1.0.50 (Apache-2.0), read as a zip.

A skin of 24,065 vertices, bound to the nested bodies of `dog.xml`; metres.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
import zipfile
from functools import lru_cache

import numpy as np

from tests.outside.solid import Body, Points, extreme, midline
from tests.outside.wheels import DOG, fetch

MIDLINE_JOINTS = {
    "head": "atlas",
    "neck_top": "atlas",
    "neck": "C_7_extend",
    "spine": "L_4",
    "jaw": "mandible",
    "tail": "Ca_6_bend",  # the first vertebrae of the tail lie inside the rump
}
PAIRED_JOINTS = {
    "shoulder": "upper_arm",
    "fore_elbow": "lower_arm",
    "fore_knee": "hand",
    "fore_fetlock": "finger",
    "hip": "upper_leg",
    "hind_stifle": "lower_leg",
    "hind_hock": "foot",
    "hind_fetlock": "toe",
}


@lru_cache
def skin_and_binding() -> tuple[np.ndarray, np.ndarray, dict[str, np.ndarray]]:
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
def skeleton() -> dict[str, np.ndarray]:
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


def _eye(side: str) -> np.ndarray:
    """Return the middle of one eyeball's box; its STL stands in the skin's own frame."""
    with zipfile.ZipFile(fetch(DOG)) as wheel:
        packed = wheel.read(f"dm_control/suite/dog_assets/BONEeye_{side}.stl")
    record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    corners = np.frombuffer(packed, record, offset=84)["corners"].reshape(-1, 3).astype(float)
    return (corners.min(axis=0) + corners.max(axis=0)) / 2


@lru_cache
def dog() -> Body:
    skin, triangles, _ = skin_and_binding()
    floor = np.array([0, 0, skin[:, 2].min()])

    def ours(points: np.ndarray) -> np.ndarray:
        return (points - floor)[..., [1, 2, 0]]

    bones = skeleton()
    pivots = {landmark: ours(bones[bone]) for landmark, bone in MIDLINE_JOINTS.items()}
    for side in "lr":
        for landmark, bone in PAIRED_JOINTS.items():
            pivots[f"{landmark}_{side}"] = ours(bones[f"{bone}_{side.upper()}"])
        pivots[f"eye_{side}"] = ours(_eye(side.upper()))
    vertices = ours(skin)
    joints = _surface(vertices, pivots) | pivots
    return Body("dog", vertices, triangles, joints, vocabulary="quadruped")


def _surface(skin: np.ndarray, pivots: Points) -> dict[str, np.ndarray]:
    """Return the dog's landmarks on the skin, each an exact vertex.

    Its back has no peaks of its own, so withers, croup and tail base are the points of the back
    straight over the shoulder blade's upper end, the hip and the tail's joint.
    """
    middle = midline(skin)
    head, blade = pivots["head"], skeleton()["scapula_L"]
    up, down, front, back = (0, 1, 0), (0, -1, 0), (0, 0, 1), (0, 0, -1)

    def top_over(z: float) -> np.ndarray:
        spot = middle & (skin[:, 1] > pivots["hip_l"][1])
        over = skin[spot]
        return over[np.argmin(np.abs(over[:, 2] - z))]

    found = {
        "ground": np.zeros(3),
        "crown": extreme(skin, up, middle & (skin[:, 2] > head[2])),
        "poll": extreme(skin, up, middle & (skin[:, 2] <= head[2])),
        "nose_tip": extreme(skin, front, middle),
        "chin": extreme(skin, down, middle & (skin[:, 2] > pivots["eye_l"][2])),
        "withers": top_over(blade[0]),
        "croup": top_over(pivots["hip_l"][2]),
        "tail_base": top_over(pivots["tail"][2]),
        "tail_tip": extreme(skin, back, skin[:, 1] > 0),
        "brisket": extreme(skin, down, middle & (skin[:, 2] > pivots["spine"][2])),
    }
    for side, sign in (("l", 1), ("r", -1)):
        own = skin[:, 0] * sign > 0
        low = own & (skin[:, 1] < pivots[f"fore_fetlock_{side}"][1])
        found[f"ear_{side}"] = extreme(skin, up, own)
        found[f"fore_hoof_{side}"] = extreme(skin, front, low & (skin[:, 2] > 0))
        found[f"hind_hoof_{side}"] = extreme(skin, front, low & (skin[:, 2] < 0))
    return found

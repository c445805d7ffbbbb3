"""Cartoon bodies of balls and boxes whose landmarks are known exactly, in shapes hard to read.

A squat figure without a neck, its ears above its crown and its arms out; a robot child with an
aerial; a long animal on four legs. The proportions are invented, no source; a seed varies them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product

import numpy as np

from tests.outside.solid import Body

Part = tuple[np.ndarray, np.ndarray]  # vertices (N, 3) and faces (F, 3)
Spot = Sequence[float]


def ball(centre: Spot, radii: Spot) -> Part:
    """Return an ellipsoid."""
    around, down = np.meshgrid(np.linspace(0, 2 * np.pi, 25), np.linspace(0, np.pi, 13))
    skin = np.stack([np.sin(down) * np.sin(around), np.cos(down), np.sin(down) * np.cos(around)], 2)
    at = np.arange(13 * 25).reshape(13, 25)
    a, b, c, d = (x.ravel() for x in (at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]))
    faces = np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)])
    return skin.reshape(-1, 3) * radii + centre, faces


def box(centre: Spot, half: Spot) -> Part:
    corners = np.array(list(product((-1, 1), repeat=3))) * half + centre
    quads = ((0, 1, 3, 2), (6, 7, 5, 4), (4, 5, 1, 0), (2, 3, 7, 6), (0, 2, 6, 4), (5, 7, 3, 1))
    return corners, np.array([t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))])


def limb(start: Spot, end: Spot, radius: float) -> list[Part]:
    """Return a row of balls from one place to another."""
    steps = np.linspace(0, 1, 13)[:, None]
    way = np.array(start) * (1 - steps) + np.array(end) * steps
    return [ball(centre, (radius,) * 3) for centre in way]


def both(x: float, y: float, z: float) -> tuple[Spot, Spot]:
    return (x, y, z), (-x, y, z)


def body(name: str, parts: Sequence[Part], marks: Mapping[str, Spot], vocabulary: str) -> Body:
    """Return the body, a name with `*` standing for a pair whose left one is given."""
    counts = np.cumsum([0, *(len(skin) for skin, _ in parts)])
    faces = np.concatenate([corners + n for (_, corners), n in zip(parts, counts, strict=False)])
    joints = {"ground": np.zeros(3)}
    for mark, spot in marks.items():
        pair = both(*spot) if "*" in mark else (spot,)
        sides = ("l", "r") if "*" in mark else ("",)
        joints |= {mark.replace("*", s): np.array(p) for s, p in zip(sides, pair, strict=True)}
    vertices = np.concatenate([skin for skin, _ in parts])
    return Body(name, vertices, faces, joints, vocabulary)


def squat(seed: int) -> Body:
    by = np.random.default_rng(seed).uniform(0.85, 1.15, 6)
    r, wide = 0.26 * by[0], 0.2 * by[1]
    head, chin, belly = 1 - r, 1 - 2 * r, 0.12 * by[2]
    arm, reach, leg = chin - 0.07, 0.48 * by[3], 0.1 * by[4]
    middle, tall = (belly + chin + 0.05) / 2, (chin + 0.05 - belly) / 2
    parts = [ball((0, head, 0.02), (r, r, 0.9 * r)), ball((0, middle, 0), (wide, tall, 0.8 * wide))]
    for side in (1, -1):
        parts += limb((side * 0.1, arm, 0), (side * reach, arm, 0), 0.05)
        parts += limb((side * leg, 0.06, 0.02), (side * leg, belly + 0.1, 0), 0.06)
        parts += [ball((side * 0.75 * r, 1 - 0.1 * r, 0), (0.1 * by[5], 0.12 * by[5], 0.05))]
    marks = {
        "crown": (0, 1, 0.02),
        "chin": (0, chin, 0.02),
        "nose_tip": (0, head, 0.02 + 0.9 * r),
        "eye_*": (0.4 * r, head + 0.1 * r, 0.7 * r),
        "crotch": (0, belly, 0),
        "shoulder_*": (0.8 * wide, arm, 0),
        "elbow_*": ((0.8 * wide + reach) / 2, arm, 0),
        "wrist_*": (reach - 0.05, arm, 0),
        "hip_*": (leg, belly + 0.05, 0),
        "ankle_*": (leg, 0.05, 0),
    }
    return body("squat", parts, marks, "biped")


def robot(seed: int) -> Body:
    by = np.random.default_rng(seed).uniform(0.85, 1.15, 6)
    tall, wide, leg = 0.18 * by[0], 0.22 * by[1], 0.26 * by[2]
    chin = 1 - 2 * tall
    top, broad = chin - 0.05, 0.16 * by[3]
    parts = [
        box((0, 1 - tall, 0.03), (wide, tall, 0.8 * wide)),
        box((0, (leg + top) / 2, 0), (broad, (top - leg) / 2, 0.12)),
        *limb((0, top, 0), (0, chin, 0), 0.05),
        *limb((0, 1, 0), (0, 1 + 0.1 * by[4], 0), 0.012),
    ]
    for side in (1, -1):
        parts += limb((side * (broad + 0.05), top - 0.05, 0), (side * (broad + 0.08), leg, 0), 0.05)
        parts += [box((side * 0.09, leg / 2, 0), (0.05, leg / 2, 0.06))]
        parts += [box((side * 0.09, 0.03, 0.05), (0.06, 0.03, 0.12))]
    marks = {
        "crown": (0, 1, 0.03),
        "hair_top": (0, 1.012 + 0.1 * by[4], 0),
        "chin": (0, chin, 0.03 + 0.8 * wide),
        "mouth": (0, chin + 0.3 * tall, 0.03 + 0.8 * wide),
        "eye_*": (0.4 * wide, 1 - tall, 0.8 * wide),
        "crotch": (0, leg, 0),
        "shoulder_*": (broad + 0.05, top - 0.05, 0),
        "elbow_*": (broad + 0.065, (top - 0.05 + leg) / 2, 0),
        "wrist_*": (broad + 0.08, leg, 0),
        "hip_*": (0.09, leg, 0),
        "knee_*": (0.09, leg / 2, 0),
        "ankle_*": (0.09, 0.06, 0),
    }
    return body("robot", parts, marks, "biped")


def long_animal(seed: int) -> Body:
    by = np.random.default_rng(seed).uniform(0.85, 1.15, 6)
    back, fore, hind, thick = 0.55 * by[0], 0.45 * by[1], -0.75 * by[2], 0.15 * by[3]
    parts = limb((0, back, hind), (0, back, fore), thick)
    parts += limb((0, back, fore), (0, 0.88, fore + 0.25), 0.09)
    parts += limb((0, 0.9, fore + 0.2), (0, 0.88, fore + 0.5 * by[4]), 0.1)
    parts += limb((0, back, hind - 0.1), (0, 0.4, hind - 0.5 * by[5]), 0.04)
    for side in (1, -1):
        parts += limb((side * 0.1, 0.05, fore), (side * 0.1, back, fore), 0.05)
        parts += limb((side * 0.1, 0.06, hind), (side * 0.1, back, hind), 0.06)
        parts += [ball((side * 0.07, 1.0, fore + 0.2), (0.03, 0.09, 0.03))]
    marks = {
        "crown": (0, 1, fore + 0.2),
        "chin": (0, 0.78, fore + 0.5 * by[4]),
        "nose_tip": (0, 0.88, fore + 0.5 * by[4] + 0.1),
        "eye_*": (0.08, 0.94, fore + 0.3),
        "withers": (0, back + thick, fore),
        "croup": (0, back + thick, hind),
        "tail_base": (0, back, hind - 0.1),
        "shoulder_*": (0.1, back, fore),
        "fore_knee_*": (0.1, back / 2, fore),
        "fore_fetlock_*": (0.1, 0.08, fore),
        "hip_*": (0.1, back, hind),
        "hind_hock_*": (0.1, back / 2, hind),
        "hind_fetlock_*": (0.1, 0.08, hind),
    }
    return body("long_animal", parts, marks, "quadruped")


PLAIN = {"squat": squat, "robot": robot, "long_animal": long_animal}

"""Whole sheets in memory whose drawings are really turned: random bodies, noisy placings.

The bodies are drawn from wide ranges, none of them the tables that constants were chosen on.
Lengths are in % of the figure height but where px is said; X to the character's left, Y up, Z to
the front.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from turncheck.geometry.measurement import Measurement, measure
from turncheck.images.picture_file import Picture
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import Sheet, View
from turncheck.sheet.vocabulary import read_vocabulary

Point = tuple[float, float, float]
Body = Mapping[str, Point]
H = 1000.0
NOMINAL = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0, "back_tq": 135.0}

#: Least and most X, Y, Z of the left one of a pair, or of a midline point; invented.
BIPED: Mapping[str, tuple[tuple[float, float], ...]] = {
    "eye_l": ((2, 4), (89, 94), (4, 8)),
    "brow_l": ((2, 4), (93, 95), (4, 8)),
    "shoulder_l": ((9, 15), (74, 80), (-3, 0)),
    "elbow_l": ((12, 19), (58, 63), (-4, 0)),
    "wrist_l": ((13, 22), (45, 50), (-1, 5)),
    "fingertip_l": ((13, 24), (36, 41), (0, 7)),
    "hip_l": ((4, 7), (48, 53), (-1, 2)),
    "knee_l": ((4, 8), (25, 30), (0, 3)),
    "ankle_l": ((4, 8), (3, 6), (-4, -1)),
    "toe_l": ((5, 10), (1, 2), (5, 11)),
    "heel_l": ((3, 7), (1, 2), (-7, -4)),
    "nose_tip": ((0, 0), (86, 91), (7, 12)),
    "mouth": ((0, 0), (83, 86), (6, 9)),
    "chin": ((0, 0), (79, 83), (5, 8)),
    "head": ((0, 0), (82, 86), (-1, 2)),
    "neck": ((0, 0), (77, 81), (-4, -1)),
    "spine": ((0, 0), (58, 65), (-6, -2)),
    "crotch": ((0, 0), (45, 48), (-1, 2)),
}
QUADRUPED: Mapping[str, tuple[tuple[float, float], ...]] = {
    "eye_l": ((3, 5), (90, 93), (70, 85)),
    "ear_l": ((4, 7), (95, 98), (62, 72)),
    "nose_tip": ((0, 0), (82, 88), (85, 105)),
    "chin": ((0, 0), (78, 82), (75, 95)),
    "head": ((0, 0), (86, 92), (60, 70)),
    "neck": ((0, 0), (70, 78), (40, 50)),
    "spine": ((0, 0), (66, 72), (-10, 10)),
    "withers": ((0, 0), (72, 78), (28, 38)),
    "croup": ((0, 0), (68, 75), (-55, -40)),
    "tail": ((0, 0), (64, 70), (-65, -55)),
    "shoulder_l": ((7, 12), (55, 62), (35, 45)),
    "fore_elbow_l": ((7, 12), (42, 48), (25, 35)),
    "fore_knee_l": ((7, 11), (22, 28), (28, 38)),
    "fore_hoof_l": ((7, 11), (1, 2), (30, 40)),
    "hip_l": ((7, 12), (58, 65), (-50, -40)),
    "hind_stifle_l": ((8, 12), (40, 46), (-38, -28)),
    "hind_hock_l": ((7, 11), (20, 26), (-60, -48)),
    "hind_hoof_l": ((7, 11), (1, 2), (-52, -42)),
}
ARM = ("elbow", "wrist", "fingertip")


def random_body(
    ranges: Mapping[str, tuple[tuple[float, float], ...]],
    rng: np.random.Generator,
    asymmetry: float = 0.3,
) -> dict[str, Point]:
    """A body within the ranges, its pairs symmetric but for normal noise in X and Z."""
    body: dict[str, Point] = {"ground": (0, 0, 0), "crown": (0, 100, float(rng.uniform(-2, 3)))}
    for name, limits in ranges.items():
        x, y, z = (float(rng.uniform(*pair)) for pair in limits)
        body[name] = x, y, z
        if name.endswith("_l"):
            body[name[:-1] + "r"] = -x, y, z
    each = asymmetry / np.sqrt(2.0)
    return {
        name: (x + rng.normal(0.0, each), y, z + rng.normal(0.0, each))
        for name, (x, y, z) in body.items()
    }


def posed(body: Body, rng: np.random.Generator, side: str = "l", most: float = 8.0) -> Body:
    """The body with one arm elsewhere, joint by joint: across, up and in depth."""
    return {
        name: tuple(np.array(at) + rng.uniform(0.4, 1.0, 3) * most * rng.choice([-1, 1], 3))
        if name in {f"{part}_{side}" for part in ARM}
        else at
        for name, at in body.items()
    }


def blank_sheet(
    nominal: Mapping[str, float], vocabulary: str = "biped", reference: str = "", sd: float = 0.15
) -> Sheet:
    """A symmetric sheet with no drawings behind it; `sd` of a placing in %."""
    picture = Picture(Path("none.png"), "none.png", 2000, 1500)
    return Sheet(
        folder=Path("simulated"),
        character="Simulated",
        revision="A",
        reference=reference or next(iter(nominal)),
        placing="ground",
        placing_sd=sd,
        symmetric=True,
        vocabulary=read_vocabulary(vocabulary, Path()),
        views={name: View(name, picture, yaw) for name, yaw in nominal.items()},
        tolerances={},
        waivers=(),
    )


def placed(
    sheet: Sheet, body: Body, yaws: Mapping[str, float], rng: np.random.Generator
) -> list[Placing]:
    """Place the body on every drawing at its real yaw, with the noise that the sheet states.

    Points on the far side, by more than 40 degrees, are hidden and placed twice as badly.
    """
    found = []
    for view, yaw in yaws.items():
        at, axis = np.radians(yaw), float(rng.uniform(900, 1100))
        for name, (x, y, z) in body.items():
            far = {"_l": 1.0, "_r": -1.0}.get(name[-2:], 0.0) * np.sin(at) > 0.64
            sd = sheet.placing_sd / 100.0 * H * (2.0 if far else 1.0)
            across = axis + (x * np.cos(at) + z * np.sin(at)) * H / 100.0
            found.append(
                Placing(
                    view,
                    name,
                    across + rng.normal(0.0, sd),
                    1400.0 - y * H / 100.0 + rng.normal(0.0, sd),
                    far,
                    np.nan,
                    "",
                )
            )
    return found


def exchanged(placings: list[Placing], view: str) -> list[Placing]:
    """The placings with left and right names exchanged on one drawing; its hidden points too."""
    other = {"_l": "_r", "_r": "_l"}
    return [
        replace(p, landmark=p.landmark[:-2] + other[p.landmark[-2:]])
        if p.view == view and p.landmark[-2:] in other
        else p
        for p in placings
    ]


def flipped(placings: list[Placing], view: str) -> list[Placing]:
    """The placings with one drawing mirrored, its points and their names travelling with it."""
    return [replace(p, x=2000.0 - p.x) if p.view == view else p for p in placings]


def moved(
    placings: list[Placing], view: str, landmark: str, x: float = 0.0, y: float = 0.0
) -> list[Placing]:
    """The placings with one of them moved by % to the picture's right, and up."""
    return [
        replace(p, x=p.x + x * H / 100.0, y=p.y - y * H / 100.0)
        if (p.view, p.landmark) == (view, landmark)
        else p
        for p in placings
    ]


def measured(sheet: Sheet, placings: list[Placing]) -> Measurement:
    return measure(sheet, placings, {})

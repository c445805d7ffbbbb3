"""What lies hidden in a drawing: points that a part covers, and parts that can't be seen."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from turncheck.geometry.body import Body
from turncheck.geometry.measurement import Measurement
from turncheck.numerics.arrays import Floats

#: A part covers what lies so near to the line through its points, % of the figure height; common
#: practice, no source.
PART_COVERS = 15.0
#: A limb is hidden where at least this share of its points is, any other part where all are;
#: common practice, no source.
LIMB_HIDDEN_FROM = 0.5


@dataclass(frozen=True)
class HiddenPart:
    """A part that can't be seen in a drawing, and its points that are hidden or not placed."""

    view: str
    part: str
    title: str
    landmarks: tuple[str, ...]


def hidden_parts(measured: Measurement) -> list[HiddenPart]:
    """Return the parts that are hidden in each drawing; they need a handle outside the body."""
    vocabulary = measured.sheet.vocabulary
    placed = np.isfinite(measured.y)
    found = []
    for v, view in enumerate(measured.views):
        for part in dict.fromkeys(vocabulary.landmarks[n].part for n in measured.landmarks):
            columns = [
                i
                for i, name in enumerate(measured.landmarks)
                if part and vocabulary.landmarks[name].part == part and placed[:, i].any()
            ]
            away = [i for i in columns if measured.hidden[v, i] or not placed[v, i]]
            least = LIMB_HIDDEN_FROM if part.endswith(("_l", "_r")) else 1.0
            if columns and len(away) >= least * len(columns):
                names = tuple(measured.landmarks[i] for i in away)
                found.append(HiddenPart(view, part, vocabulary.part_title(part), names))
    return found


def covered_by(measured: Measurement, spots: Floats, v: int, i: int) -> str:
    """Return the part that covers a hidden point of a drawing; '' where it is seen, or none does.

    Of the parts before it, as seen from the drawing, the one whose line passes nearest; `spots` are
    as of `spots_of`. Two limbs of a pair have room beside each other, so neither is thicker than
    they are apart in space: the other one covers a point only within half of that.
    """
    if not measured.hidden[v, i] and math.isfinite(measured.y[v, i]):
        return ""
    marks = measured.sheet.vocabulary.landmarks
    own = marks[measured.landmarks[i]].part
    reach = PART_COVERS / 100.0 * measured.figure_height
    near = {}
    for part in {marks[name].part for name in measured.landmarks} - {"", own}:
        chain = [
            spots[n]
            for n, name in enumerate(measured.landmarks)
            if marks[name].part == part and np.isfinite(spots[n]).all()
        ]
        away, apart = _distances(spots[i], np.array(chain)) if len(chain) > 1 else (math.inf,) * 2
        if away < (min(reach, 0.5 * apart) if _are_pair(own, part) else reach):
            near[part] = away
    return min(near, key=lambda part: (near[part], part), default="")


def spots_of(measured: Measurement, body: Body, v: int) -> Floats:
    """Return (N, 3) each landmark's x, y and depth in a drawing, px of the base drawing."""
    scale = measured.trusted_scales[v]
    x = np.where(np.isfinite(body.falls_x[v]), body.falls_x[v], measured.x[v])
    y = np.where(np.isfinite(body.falls_y[v]), body.falls_y[v], measured.y[v])
    return np.column_stack([x / scale.scale, y / scale.scale, body.depth[v]])


def _are_pair(one: str, other: str) -> bool:
    return {one[-2:], other[-2:]} == {"_l", "_r"} and one[:-2] == other[:-2]


def _distances(spot: Floats, chain: Floats) -> tuple[float, float]:
    """Return how far a spot lies from the line through some points before it, drawn and in space.

    Infinite where the line lies behind. `chain` (M, 3) and `spot` (3,) are x, y and depth.
    """
    starts, ways = chain[:-1], np.diff(chain, axis=0)
    lengths = np.maximum((ways[:, :2] ** 2).sum(axis=1), 1e-12)
    along = np.clip(((spot[:2] - starts[:, :2]) * ways[:, :2]).sum(axis=1) / lengths, 0.0, 1.0)
    nearest = starts + along[:, None] * ways
    before = ~(nearest[:, 2] <= spot[2])
    away = np.where(before, np.hypot(*(nearest[:, :2] - spot[:2]).T), np.inf)
    at = int(np.argmin(away))
    return float(away[at]), float(np.linalg.norm(nearest[at] - spot))

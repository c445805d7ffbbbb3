"""What lies hidden in a drawing: points that a part covers, and parts that can't be seen."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from turncheck.geometry.body import Body
from turncheck.geometry.measurement import Measurement
from turncheck.numerics.arrays import Floats

#: A part covers at most what lies so near to the line through its points, % of the figure height;
#: common practice, no source.
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


def covering_parts(measured: Measurement, body: Body, v: int) -> dict[int, str]:
    """Return, by column, the part that covers a landmark hidden or not placed in a drawing, if any.

    Of the parts before it, as seen from the drawing, the one whose line passes nearest. No part is
    thicker than the figure leaves it room, from its line to the nearer edge of the outline; and two
    limbs of a pair have room beside each other, so neither is thicker than they are apart.
    """
    marks = [measured.sheet.vocabulary.landmarks[name] for name in measured.landmarks]
    x, y, _, _ = falls_or_drawn(measured, body, v) / measured.trusted_scales[v].scale
    spots = np.column_stack([x, y, body.depth[v]])  # px of the base drawing
    known = np.isfinite(spots.sum(axis=1)).tolist()
    lines: dict[str, list[int]] = {}
    for n, mark in enumerate(marks):
        if mark.part and known[n]:
            lines.setdefault(mark.part, []).append(n)
    joined = [(part, *ends) for part in sorted(lines) for ends in pairwise(lines[part])]
    asked = np.flatnonzero(measured.hidden[v] | ~np.isfinite(measured.y[v])).tolist()
    if not joined or not asked:
        return {}
    parts, firsts, lasts = map(list, zip(*joined, strict=True))
    there = spots[asked, None]
    nearest = _nearest_on(spots[firsts], spots[lasts], there)
    away = np.asarray(np.hypot(*np.moveaxis(nearest - there, -1, 0)[:2]))
    twins = [(measured.columns(mark.twin) or [n])[0] for n, mark in enumerate(marks)]
    apart = np.asarray(np.linalg.norm(spots - spots[twins], axis=1))
    apart[apart == 0.0] = np.nan  # those that have no fellow
    thick = np.fmin(0.5 * np.fmin(apart[firsts], apart[lasts]), _room(measured, v, nearest))
    reach = np.fmin(PART_COVERS / 100.0 * measured.figure_height, thick)
    others = np.array([[marks[i].part != part for part in parts] for i in asked])
    covers = others & ~(nearest[..., 2] <= there[..., 2]) & (away < reach)
    best = np.where(covers, away, np.inf).argmin(axis=1)
    return {i: parts[n] for k, (i, n) in enumerate(zip(asked, best, strict=True)) if covers[k, n]}


def falls_or_drawn(measured: Measurement, body: Body, v: int) -> Floats:
    """Return (4, N) x, y and their sds in a drawing, px: as the body has them, or else as drawn."""
    told = np.stack([body.falls_x[v], body.falls_y[v], body.falls_x_sd[v], body.falls_y_sd[v]])
    drawn = np.stack([measured.x[v], measured.y[v], measured.sd[v], measured.sd[v]])
    return np.where(np.isfinite(told[[0, 1, 0, 1]]), told, drawn)


def _nearest_on(starts: Floats, ends: Floats, spots: Floats) -> Floats:
    """Return (P, S, 3) what of S lines, (S, 3), lies nearest to spots, (P, 1, 3), as drawn."""
    ways = ends - starts
    lengths = np.maximum((ways[:, :2] ** 2).sum(axis=1), 1e-12)
    along = ((spots - starts)[..., :2] * ways[:, :2]).sum(axis=-1) / lengths
    return np.asarray(starts + np.clip(along, 0.0, 1.0)[..., None] * ways)


def _room(measured: Measurement, v: int, spots: Floats) -> Floats:
    """Return how far spots of a drawing lie from the nearer edge of its figure; NaN for none."""
    seen, scale = measured.features[v], measured.trusted_scales[v].scale
    if seen.box is None:
        return np.full(spots.shape[:-1], np.nan)
    x, y = spots[..., 0], np.rint(scale * spots[..., 1])
    rows = np.fmax(np.fmin(y, seen.height - 1.0), 0.0).astype(np.intp)
    return np.fmin(x - seen.left[rows] / scale, seen.right[rows] / scale - x)

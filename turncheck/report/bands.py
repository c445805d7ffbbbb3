"""Boxes of pictures and paths in them: the figure's border, and how far it could move unnoticed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import cv2
import numpy as np
import numpy.typing as npt

from turncheck.numerics.arrays import Bools, Floats, Ints
from turncheck.report.facts import Facts

if TYPE_CHECKING:
    from turncheck.geometry.outlines.result import OutlineComparison
    from turncheck.images.features import ImageFeatures


Box = tuple[float, float, float, float]

#: Bands end here, in shares of the figure height: an error of that size needs no tool.
WIDEST = 0.06
#: Step of the outline, in shares of `WIDEST`, at which a band is broken off: the underside of a
#: hand is not an error's room.
JUMP = 0.4
#: Shorter stretches of a band are not drawn; rows drawn of each side of a band,
#: points of a contour.
LEAST_ROWS, MOST_ROWS, MOST_POINTS = 4, 150, 700


def box_about(bounds: Box, size: tuple[float, float], shape: tuple[float, float]) -> Box:
    """Return x, y, width and height of the least box of a shape that takes a size.

    Its middle is that of bounds, which are left, top, right and bottom.
    """
    left, top, right, bottom = bounds
    wide = max(size[0], size[1] * shape[0] / shape[1])
    tall = wide * shape[1] / shape[0]
    return (left + right - wide) / 2, (top + bottom - tall) / 2, wide, tall


def contour_path(lines: Sequence[npt.NDArray[np.int32]]) -> str:
    """Return the path of the figure's border, the longest lines first, as far as points last."""
    left, path = MOST_POINTS, []
    for line in lines:
        reach = 0.75
        while len(line) > left and reach < 6.0 and left > 24:
            reach *= 1.6
            line = cv2.approxPolyDP(line.reshape(-1, 1, 2), reach, True)[:, 0].astype(np.int32)
        if not 2 < len(line) <= left:
            continue
        left -= len(line)
        steps = np.diff(line, axis=0).tolist()
        path.append(f"M{line[0][0]} {line[0][1]}l" + " ".join(f"{x} {y}" for x, y in steps) + "z")
    return "".join(path)


def edges_between(study: ImageFeatures, top: float, bottom: float) -> tuple[float, float]:
    """Return how far left and right the figure reaches between two rows, px of its drawing.

    Infinite, the wrong way round, where none is seen.
    """
    rows = slice(max(round(top), 0), max(round(bottom) + 1, 1))
    left = np.fmin.reduce(study.left[rows], initial=np.inf)
    return float(left), float(np.fmax.reduce(study.right[rows], initial=-np.inf))


def edges_at(facts: Facts, v: int, study: ImageFeatures, heights: Floats) -> tuple[Floats, Floats]:
    """Return (R,) the picture rows of body heights and (2, R) the figure's edges in them, px."""
    ruler = facts.checked.measured.trusted_scales[v]
    y = ruler.ground - ruler.scale * heights
    row = np.rint(y).astype(np.intp)
    inside = (row >= 0) & (row < study.height)
    at = np.clip(row, 0, study.height - 1)
    return y, np.where(inside, np.stack([study.left[at], study.right[at]]), np.nan)


def bands_of(
    facts: Facts, v: int, study: ImageFeatures, reading: OutlineComparison
) -> dict[str, str]:
    """Return paths of how far a drawing's outline could move before the others would notice.

    `near` and `edge` are where less than `WIDEST` would do, and the limit itself; `far` and
    `never` where only more would, and where no amount would.
    """
    measured = facts.checked.measured
    y, edges = edges_at(facts, v, study, reading.heights)
    widest = WIDEST * measured.figure_height * measured.size(v)
    half = (edges[1] - edges[0]) / 2.0
    bands = {"near": "", "edge": "", "far": "", "never": ""}
    for side, out in ((0, -1.0), (1, 1.0)):
        for reach, way in ((reading.outward[v, side], out), (reading.inward[v, side], -out)):
            most = np.full(len(y), widest) if way == out else np.minimum(widest, half)
            limit = edges[side] + way * np.minimum(reach, most)
            seen = np.isfinite(edges[side])
            whole = np.r_[True, ~(np.abs(np.diff(edges[side])) > JUMP * widest)]
            endless = np.isinf(reach)
            where = {"near": reach <= most, "far": (reach > most) & ~endless, "never": endless}
            for band, rows in where.items():
                for run in _runs(seen & rows, whole):
                    bands[band] += strip(edges[side][run], limit[run], y[run])
                    if band == "near":
                        bands["edge"] += _line(limit[run], y[run])
    return bands


def _runs(rows: Bools, whole: Bools) -> Iterator[Ints]:
    """Yield the rows to draw of each stretch; where `whole` is false a new one begins."""
    step = max(1, math.ceil(len(rows) / MOST_ROWS))
    some = np.flatnonzero(rows)
    parts = np.split(some, np.flatnonzero((np.diff(some) > 1) | ~whole[some[1:]]) + 1)
    for part in parts:
        if len(part) >= LEAST_ROWS:
            yield np.append(part[:-1:step], part[-1])


def _line(x: Floats, y: Floats) -> str:
    spots = np.rint(np.stack([x, y], axis=1)).astype(int)
    return ("M" + "L".join(["%d %d"] * len(spots))) % tuple(spots.ravel().tolist())


def strip(inner: Floats, outer: Floats, y: Floats) -> str:
    """Return the path of an area that lies between two edges, (R,) px, in picture rows `y`."""
    return _line(np.concatenate([inner, outer[::-1]]), np.concatenate([y, y[::-1]])) + "Z"

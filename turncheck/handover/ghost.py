"""A drawing put right: which pieces of its picture go where, and where its points would lie.

Frame: px of the drawing, x to the right, y down.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np

from turncheck.geometry.body import BODY_KNOWN_TO
from turncheck.geometry.measurement import Measurement
from turncheck.geometry.turn.turn import across_at
from turncheck.handover.guides_shapes import lay_over
from turncheck.handover.matrices import NOWHERE, Matrix, Spot, applied, shifted, stretched
from turncheck.numerics.arrays import Bytes, Floats
from turncheck.sheet.vocabulary import Landmark

#: How far a piece that is cut out reaches beyond its points, shares of the figure height: of a
#: limb, of a head or torso as a whole, and at most and at least of a few points; chosen by eye on
#: the samples.
LIMB, BROAD, FEW, FEWEST = 0.05, 0.07, 0.05, 0.02
#: Of the way to the nearest point that stays, what a few points take along; chosen by eye.
TO_NEXT = 0.6
#: What hangs on the last pivot of a limb, a hand or a foot, against the stretch before it; chosen
#: by eye.
BEYOND = 0.5
#: Points that would lie otherwise, were the drawing turned right, get an arrow: so many of those
#: that differ most, and none below this share of the figure height; chosen by eye.
ARROWS, ARROW_LEAST = 6, 0.01
#: Of where a piece is now so much stays beneath it, as in the report.
_LEFT_BEHIND = 0.5
#: Corners of a half circle.
_ROUND = 17


@dataclass(frozen=True)
class Piece:
    """A piece of a drawing that is cut out, and where it goes.

    Attributes
    ----------
    corners
        Of the shape that is cut, in their order.
    rounded
        The sides that are half circles outwards, each by the place of its first corner.
    reach
        How far beyond the shape is cut.
    matrix
        Where it goes.
    """

    corners: tuple[Spot, ...]
    rounded: frozenset[int]
    reach: float
    matrix: Matrix

    @property
    def shape(self) -> str:
        """The shape as a path of SVG."""
        (x, y), *_ = self.corners
        path = f"M{x:.0f} {y:.0f}"
        for side, (start, end) in enumerate(pairwise(self.corners)):
            radius = math.dist(start, end) / 2.0
            way = f"A{radius:.0f} {radius:.0f} 0 0 0 " if side in self.rounded else "L"
            path += f"{way}{end[0]:.0f} {end[1]:.0f}"
        return f"{path}Z"

    @property
    def outline(self) -> Floats:
        """The shape as a closed line, (n, 2) px."""
        line: list[Floats] = [np.array(self.corners[:1])]
        for side, (start, end) in enumerate(pairwise(self.corners)):
            if side in self.rounded:
                middle = (np.array(start) + end) / 2.0
                i, j = np.array(start) - middle
                turn = np.pi * np.linspace(0.0, 1.0, _ROUND)[1:-1, None]
                line.append(middle + np.cos(turn) * [i, j] + np.sin(turn) * [j, -i])
            line.append(np.array([end]))
        return np.concatenate(line)


@dataclass(frozen=True)
class Points:
    """The points of a drawing that are placed, by name in the vocabulary's order.

    Attributes
    ----------
    spots, hidden
        Where they lie, and which of them behind another part.
    height
        Of the figure, px of the drawing.
    """

    marks: Mapping[str, Landmark]
    spots: Mapping[str, Spot]
    hidden: frozenset[str]
    height: float

    def of_part(self, part: str) -> list[str]:
        """Return the points of a part; none where it has no name."""
        return [name for name in self.spots if part and self.marks[name].part == part]

    def is_limb(self, part: str) -> bool:
        """Whether a part is of one side of the body, or hangs on one pivot as a tail does."""
        marks = [mark for mark in self.marks.values() if part and mark.part == part]
        pivots = [mark for mark in marks if mark.kind == "pivot"]
        of_a_side = all(mark.twin for mark in marks)
        return bool(pivots) and (of_a_side or pivots == marks[:1])

    def stretches(self, part: str) -> list[tuple[str, str]]:
        """Return the points of a limb that hang on a pivot, each after that pivot."""
        pivot, found = "", []
        for name in self.of_part(part):
            if pivot:
                found.append((pivot, name))
            if self.marks[name].kind == "pivot":
                pivot = name
        return found


def points_of(measured: Measurement, view: str) -> Points:
    """Return the points that are placed on a view."""
    v = measured.views.index(view)
    placed = np.flatnonzero(np.isfinite(measured.x[v]) & np.isfinite(measured.y[v])).tolist()
    names = {measured.landmarks[n]: n for n in placed}
    return Points(
        marks=measured.sheet.vocabulary.landmarks,
        spots={
            name: (float(measured.x[v, n]), float(measured.y[v, n])) for name, n in names.items()
        },
        hidden=frozenset(name for name, n in names.items() if measured.hidden[v, n]),
        height=measured.figure_height * measured.size(v),
    )


def moved_pieces(points: Points, names: Collection[str], way: Spot) -> list[Piece]:
    """Return the pieces that go along where points move; none of what lies behind other parts.

    A limb is cut at its pivots: between a point that goes and one that stays it becomes longer or
    shorter. A head or torso of which every point goes is cut out as one, else a little around
    the points.
    """
    found: list[Piece] = []
    for part in dict.fromkeys(points.marks[name].part for name in names):
        some = [name for name in names if points.marks[name].part == part]
        if points.is_limb(part):
            found += _pieces_of_limb(points, part, some, way)
        elif not {*some} <= points.hidden:
            whole = len(some) > 1 and {*some} >= {*_told(points, part, way)}
            cut = points.of_part(part) if whole else some
            reach = BROAD * points.height if whole else _reach(points, some)
            seen = [points.spots[name] for name in cut if name not in points.hidden]
            hull = cv2.convexHull(np.array(seen, np.float32)).reshape(-1, 2).tolist()
            corners = tuple((x, y) for x, y in hull)
            found.append(Piece(corners, frozenset(), reach, shifted(*way)))
    return found


def _reach(points: Points, names: Collection[str]) -> float:
    """Return how far a piece around a few points reaches, px: not to the next one that stays."""
    stays = [spot for name, spot in points.spots.items() if name not in {*names, "ground"}]
    apart = [math.dist(points.spots[name], spot) for name in names for spot in stays]
    least, most = FEWEST * points.height, FEW * points.height
    return min(max(TO_NEXT * min(apart, default=most), least), most)


def _told(points: Points, part: str, way: Spot) -> list[str]:
    """Return the points of a part of which it is known whether they lie right along a way."""
    marks = [points.marks[name] for name in points.of_part(part)]
    return [mark.name for mark in marks if (not mark.slides if way[0] else mark.has_height)]


def _pieces_of_limb(
    points: Points, part: str, names: Collection[str], way: Spot
) -> Iterator[Piece]:
    told, reach = _told(points, part, way), LIMB * points.height
    stretches = points.stretches(part)
    goes = {*names} | {end for pivot, end in stretches if end not in told and pivot in names}
    to = {
        name: applied(shifted(*way), spot) if name in goes else spot
        for name, spot in points.spots.items()
    }
    for pivot, end in stretches:
        if {pivot, end} & goes and not {pivot, end} <= points.hidden:
            ends = points.spots[pivot], points.spots[end]
            rounded = [name in goes - points.hidden for name in (pivot, end)]
            matrix = stretched(ends, (to[pivot], to[end]))
            yield _along(ends, rounded, reach, matrix)
    before = {end: pivot for pivot, end in stretches}
    for last in goes - {pivot for pivot, _ in stretches} - points.hidden:
        if points.marks[last].kind == "pivot":  # a hand or a foot hangs on it
            x, y = points.spots[last]
            x0, y0 = points.spots[before.get(last, last)]
            beyond = x + BEYOND * (x - x0), y + BEYOND * (y - y0)
            yield _along(((x, y), beyond), (True, True), reach, shifted(*way))


def _along(ends: tuple[Spot, Spot], goes: Sequence[bool], reach: float, matrix: Matrix) -> Piece:
    """Return a stretch: round where its end goes, cut across where it stays."""
    (x, y), (x1, y1) = ends
    long = math.dist(*ends)
    if long < 1.0:
        disc = (x - reach, y), (x + reach, y), (x - reach, y)
        return Piece(disc, frozenset({0, 1}), 0.0, matrix)
    i, j = reach * (y - y1) / long, reach * (x1 - x) / long
    corners = (x + i, y + j), (x1 + i, y1 + j), (x1 - i, y1 - j), (x - i, y - j), (x + i, y + j)
    rounded = {side for side, is_round in zip((3, 1), goes, strict=True) if is_round}
    return Piece(corners, frozenset(rounded), 0.0, matrix)


def turned(
    measured: Measurement, points: Points, view: str, yaw: float
) -> tuple[dict[str, Spot], list[tuple[str, str]]]:
    """Return where the points of a view would lie at another yaw, degrees, on its own heights.

    Returns
    -------
    to
        By name; only of points that are seen and whose place in the body is known.
    lines
        Points that are joined, in pairs: along the limbs, and from left to right.
    """
    turn, v = measured.turn, measured.views.index(view)
    across, sd = across_at(turn.x, turn.z, turn.covariance, yaw)
    known = sd <= BODY_KNOWN_TO / 100.0 * measured.figure_height
    x = np.where(known, turn.axis[v] + measured.size(v) * across, np.nan)
    to = {
        name: (float(x[n]), y)
        for name, (_, y) in points.spots.items()
        if name not in points.hidden and math.isfinite(x[n := measured.landmarks.index(name)])
    }
    parts = dict.fromkeys(points.marks[name].part for name in to)
    lines = [line for part in parts if points.is_limb(part) for line in points.stretches(part)]
    ends = {end for _, end in lines}
    pairs = [(left.name, right.name) for left, right in measured.sheet.vocabulary.pairs()]
    of_eyes_or_pivots = [p for p in pairs if points.marks[p[0]].kind in ("pivot", "eye")]
    lines += [pair for pair in of_eyes_or_pivots if not {*pair} & ends]
    return to, [line for line in lines if {*line} <= to.keys()]


def most_turned(points: Points, to: Mapping[str, Spot]) -> list[str]:
    """Return the points that would lie furthest from where they do, those that get an arrow."""
    ways = {name: abs(spot[0] - points.spots[name][0]) for name, spot in to.items()}
    told = [name for name, way in ways.items() if way > ARROW_LEAST * points.height]
    return sorted(told, key=lambda name: -ways[name])[:ARROWS]


def ghost_of(figure: Bytes, pieces: Sequence[Piece], whole: Matrix) -> Bytes:
    """Return a drawing put right, (H, W, 4) RGBA: only what goes elsewhere.

    Parameters
    ----------
    figure
        (H, W, 4) RGBA, as it is now.
    pieces, whole
        Where pieces of it go, and then all of it.
    """
    size = figure.shape[1], figure.shape[0]
    goes = whole != NOWHERE
    found = figure.copy() if goes else np.zeros_like(figure)
    cuts = [_cut(piece, size) for piece in pieces]
    if goes and cuts:
        left = 1.0 - (1.0 - _LEFT_BEHIND) * np.max(cuts, axis=0) / 255.0
        found[..., 3] = np.rint(found[..., 3] * left)
    for piece, cut in zip(pieces, cuts, strict=True):
        some = figure.copy()
        some[..., 3] = np.rint(some[..., 3] * (cut / 255.0))
        there = _warped(some, piece.matrix)
        lay_over(found, there[..., :3], there[..., 3] / 255.0)
    return _warped(found, whole) if goes else found


def _warped(picture: Bytes, matrix: Matrix) -> Bytes:
    a, b, c, d, e, f = matrix
    size = picture.shape[1], picture.shape[0]
    to = np.array([[a, c, e], [b, d, f]])
    return np.asarray(cv2.warpAffine(picture, to, size, flags=cv2.INTER_AREA), np.uint8)


def _cut(piece: Piece, size: tuple[int, int]) -> Bytes:
    """Return (H, W) what a piece cuts out, 255 within."""
    mask = np.zeros(size[::-1], np.uint8)
    line = [np.rint(piece.outline).astype(np.int32)]
    cv2.fillPoly(mask, line, 255, cv2.LINE_AA)
    if piece.reach:
        cv2.polylines(mask, line, True, 255, max(round(2.0 * piece.reach), 1), cv2.LINE_AA)
    return mask

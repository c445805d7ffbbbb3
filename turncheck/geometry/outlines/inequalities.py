"""What the extents of a solid body, seen from several directions, satisfy.

At one height let h(φ) be how far the body reaches from the turning axis in the direction φ, seen
from above: its support function. A drawing at yaw θ shows h(θ) on its right and h(θ + 180°) on its
left; a mirror symmetric body has h(180° - φ) = h(φ) besides. h belongs to a body exactly if, for
neighbouring directions a < p < b with b - a < 180°, h(p) sin(b - a) <= h(a) sin(b - p) +
h(b) sin(p - a): the corner of the lines a and b lies beyond the line p (Schneider 2014, Convex
Bodies, 1.7.1: support functions are sublinear; from memory).

Directions too close to say which comes first are one direction: their extents must be equal.
"""

from dataclasses import dataclass
from itertools import pairwise, product
from typing import NamedTuple

import numpy as np

from turncheck.geometry.outlines.extents import LEFT, OUTLINE_COVERAGE, RIGHT
from turncheck.numerics.arrays import Bools, Floats, Ints

#: Degrees up to which two directions are one, however well the yaws are known. Common practice, no
#: source: 0 does as well in the measurement in tests/figures/outlines.md.
DIRECTION_GAP_SAME = 1.0

#: Degrees between neighbours beyond which they say nothing; at 180 the inequality is empty.
DIRECTION_GAP_WIDEST = 175.0


#: Degrees from which a neighbour alone is enough; a nearer one is joined by the next beyond. Chosen
#: by the measurement in tests/figures/outlines.md, where 10 to 40 do as well: nearer neighbours say
#: all there is to say about exact extents, but little once each inequality has its tolerance.
DIRECTION_GAP_ENOUGH = 20.0


class Direction(NamedTuple):
    """One side of one drawing, or of its mirror image, as a direction seen from above, degrees.

    With the drawing's yaw the angle grows `turn` times as much: -1 for the mirror image, else 1.
    """

    angle: float
    side: int
    turn: float


@dataclass(frozen=True)
class Inequalities:
    """C inequalities weight[0] high(a) + weight[1] low(p) + weight[2] high(b) >= 0.

    Attributes
    ----------
    side
        (C, 3) a, p, b: the side of a drawing (see `Extents`).
    weight
        (C, 3) the largest of each is 1, so that the sum is the px that one side would have to move.
    angle
        (C, 3) radians, ascending. Of an equality (`same`) b repeats a with no weight.
    turn
        (C, 3) +1, or -1 where the drawing is read mirrored.
    same
        (C,) the group of directions that must have equal extents; -1 for neighbours.
    opposite
        (C,) two drawings from opposite sides, neither of them read mirrored.
    groups
        Each group's angle in radians, and its sides.
    """

    side: Ints
    weight: Floats
    angle: Floats
    turn: Floats
    same: Ints
    opposite: Bools
    groups: tuple[tuple[float, tuple[int, ...]], ...]

    def by_side(self, sides: int) -> Floats:
        """Return (C, sides): how each inequality's sum grows as a side moves outward."""
        out = np.zeros((len(self.side), sides))
        np.add.at(out, (np.arange(len(out))[:, None], self.side), self.weight)
        return np.where(np.abs(out) < 1e-9, 0.0, out)


def directions(yaw: Floats, *, mirrored: bool) -> list[Direction]:
    """Return the directions of all drawings' sides, with those of their mirror images if meant.

    Parameters
    ----------
    yaw
        (V,) degrees; drawings whose yaw is NaN are left out.
    """
    out = []
    for v in np.flatnonzero(np.isfinite(yaw)).tolist():
        for side, away in ((LEFT, 180.0), (RIGHT, 0.0)):
            angle = float(yaw[v]) + away
            out.append(Direction(angle % 360.0, 2 * v + side, 1.0))
            if mirrored:
                out.append(Direction((180.0 - angle) % 360.0, 2 * v + side, -1.0))
    return out


def inequalities(yaw: Floats, yaw_sd: Floats, *, mirrored: bool) -> Inequalities:
    """Return all inequalities between the sides of drawings.

    Parameters
    ----------
    yaw, yaw_sd
        (V,) degrees.
    mirrored
        Whether each drawing also stands for its mirror image.
    """
    groups = grouped(directions(yaw, mirrored=mirrored), yaw_sd)
    seen: dict[tuple[object, ...], tuple[tuple[Direction, ...], int]] = {}
    for i, group in enumerate(groups):
        for p, a in product(group, repeat=2):
            if p.side != a.side:
                seen.setdefault((p.side, a.side), ((a, p, a), i))
    for i, group in enumerate(groups):
        before, after = _neighbours(groups, i, -1), _neighbours(groups, i, 1)
        for a, p, b in product(before, group, after):
            if _apart(a, p) + _apart(p, b) < DIRECTION_GAP_WIDEST:
                # read mirrored, a triple is the same one the other way round
                ends = sorted([(a.side, _apart(a, p)), (b.side, _apart(p, b))])
                key = (p.side, *((side, round(gap, 6)) for side, gap in ends))
                seen.setdefault(key, ((a, p, b), -1))
    return _arranged(list(seen.values()), groups)


def _neighbours(groups: list[list[Direction]], i: int, way: int) -> list[Direction]:
    """Return the nearest group's directions, and the nearest far enough group's."""
    out: list[Direction] = []
    for k in range(1, len(groups)):
        group = groups[(i + way * k) % len(groups)]
        gap = _apart(*(groups[i][0], group[0])[::way])
        if gap >= DIRECTION_GAP_WIDEST:
            break
        if k == 1 or gap >= DIRECTION_GAP_ENOUGH:
            out += group
        if gap >= DIRECTION_GAP_ENOUGH:
            break
    return out


def _apart(a: Direction, b: Direction) -> float:
    return (b.angle - a.angle) % 360.0


def grouped(found: list[Direction], yaw_sd: Floats) -> list[list[Direction]]:
    """Join neighbours that are too close to say which comes first; around the circle."""
    if not found:
        return []
    order = sorted(found, key=lambda d: d.angle)

    def joined(a: Direction, b: Direction) -> bool:
        doubt = OUTLINE_COVERAGE * float(yaw_sd[a.side // 2] + yaw_sd[b.side // 2])
        return _apart(a, b) <= DIRECTION_GAP_SAME + doubt

    breaks = [i for i, pair in enumerate(pairwise([order[-1], *order])) if not joined(*pair)]
    if not breaks:
        return [order]
    turned = order[breaks[0] :] + order[: breaks[0]]
    starts = [i - breaks[0] for i in breaks]
    return [turned[i:j] for i, j in pairwise([*starts, len(turned)])]


def _arranged(
    found: list[tuple[tuple[Direction, ...], int]], groups: list[list[Direction]]
) -> Inequalities:
    three = np.array([ds for ds, _ in found], dtype=float).reshape(-1, 3, 3)
    angle, side, turn = np.radians(three[..., 0]), three[..., 1].astype(np.intp), three[..., 2]
    same = np.array([group for _, group in found], dtype=np.intp)
    near, far = angle[:, 1] - angle[:, 0], angle[:, 2] - angle[:, 1]
    weight = np.stack([np.sin(far), -np.sin(near + far), np.sin(near)], axis=1)
    weight[same >= 0] = [1.0, -1.0, 0.0]
    weight /= np.abs(weight).max(axis=1, keepdims=True, initial=1e-12)
    unlike = (side[:, 0] - side[:, 1]) % 2 == 1
    return Inequalities(
        side=side,
        weight=weight,
        angle=angle,
        turn=turn,
        same=same,
        opposite=(same >= 0) & unlike & (turn[:, 0] == turn[:, 1]),
        groups=tuple(
            (middle_of(group), tuple(sorted({d.side for d in group}))) for group in groups
        ),
    )


def middle_of(group: list[Direction]) -> float:
    """Return the angle of directions that are one, radians."""
    first = group[0]
    return float(np.radians(first.angle + np.mean([_apart(first, d) for d in group])))

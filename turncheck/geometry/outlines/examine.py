"""Read the outlines of a sheet: extents of each drawing in, an `OutlineComparison` out."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import ceil

import numpy as np

from turncheck.geometry.outlines.extents import LEFT, RIGHT, Extents, Outline, common_rows, slip_of
from turncheck.geometry.outlines.inequalities import inequalities
from turncheck.geometry.outlines.result import Contradiction, OutlineComparison, Remedy, Side
from turncheck.geometry.outlines.slack import EXTENT_PX, EXTENT_SHARE, room_of, slack_of
from turncheck.geometry.outlines.stretches import (
    Stretch,
    broken_rows,
    gather,
    missing_rows,
    needs_of,
)
from turncheck.geometry.outlines.symmetry import YAW_FACING, facing_views, symmetric_rows
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Bools, Floats, running

#: Share of the figure height along which rows must be broken to count (chosen by the measurement in
#: tests/figures/outlines.md).
STRETCH_SHORTEST_SHARE = 0.01

SIDES: tuple[Side, ...] = ("left", "right", "both")

NO_FIGURE = "no figure was found on it"
NOT_KNOWN = "the direction it is seen from is not known, and no drawing shows the opposite side"


def compare_outlines(
    outlines: Sequence[Outline], figure_height: float, *, symmetric: bool = True
) -> OutlineComparison:
    """Find the rows of the body that no solid body could fill as all drawings show it.

    Parameters
    ----------
    outlines
        (V,) the drawings'.
    figure_height
        H, reference px.
    symmetric
        Whether the body is meant mirror symmetric. It is tested on the front and back drawings and
        dropped where they do not bear it out.

    Returns
    -------
    OutlineComparison
        With `refusal` set, and false, where no two drawings can be compared.

    Examples
    --------
    A post 40 px across and 200 high, but 60 px across in the drawing from behind.

    >>> front, back = ((np.full(201, 80.0 - m), np.full(201, 119.0 + m)) for m in (0, 10))
    >>> views = [Outline(*front, 1, 200, 0, 0, 99.5, 0), Outline(*back, 1, 200, 180, 0, 99.5, 0)]
    >>> found = compare_outlines(views, 200).contradictions
    >>> [(c.kind, c.views, round(c.amount), c.blamed) for c in found]
    [('mirror', (0, 1), 10, None)]
    """
    placed, left_out = _placed(outlines)
    used = [v for v, why in enumerate(left_out) if not why]
    if len(used) < 2:
        return refused_comparison("fewer than two drawings can be compared", left_out)
    extents = common_rows(placed, figure_height)
    scale = np.array([o.scale for o in placed])
    tolerance = max(EXTENT_PX / float(scale[used].min()), EXTENT_SHARE * figure_height)
    yaw = np.array([np.nan if why else o.yaw for o, why in zip(placed, left_out, strict=True)])
    known = np.isfinite(yaw)
    yaw_sd = np.where(known, [o.yaw_sd for o in placed], 0.0)
    axis_sd = np.where(known, [o.axis_sd for o in placed], 0.0) / scale
    plain = slack_of(inequalities(yaw, yaw_sd, mirrored=False), extents, yaw_sd, axis_sd)
    parts = [(plain, np.ones(len(extents.heights), bool))]
    bilateral, note = np.zeros(len(extents.heights), bool), ""
    if symmetric:
        mirrored = slack_of(inequalities(yaw, yaw_sd, mirrored=True), extents, yaw_sd, axis_sd)
        bilateral, note = symmetric_rows(plain, mirrored, yaw, extents, tolerance, figure_height)
        parts.append((mirrored, bilateral))
    on = _Rows(placed, extents, tolerance, figure_height)
    sides, count = extents.low.shape
    outward, inward = np.full((2, sides, count), np.inf)
    broken = []
    for kept, rows in parts:
        if not rows.any():
            continue
        slack = np.where(rows, kept.px, np.nan)
        broken += broken_rows(kept.system, slack, tolerance, sides)
        room = room_of(kept.system.by_side(sides), slack, tolerance)
        if kept is not plain:
            # an error in a drawing that shows symmetry may end it instead of contradicting it
            own = [2 * v + side for v in facing_views(yaw) for side in (LEFT, RIGHT)]
            room.outward[own], room.inward[own] = np.inf, np.inf
        outward, inward = np.minimum(outward, room.outward), np.minimum(inward, room.inward)
    broken.sort(key=lambda b: b.row)
    stretches = gather(broken, on.slip, on.shortest)
    found = [_contradiction(on, stretch, bilateral) for stretch in stretches]
    compared = replace(extents, blank=extents.blank & known[:, None])
    found += [_missing(on, *where) for where in missing_rows(compared, on.shortest)]
    shape, size = (len(placed), 2, count), scale[:, None, None]
    return OutlineComparison(
        refusal="",
        left_out=left_out,
        heights=extents.heights,
        contradictions=tuple(sorted(found, key=lambda c: -c.heights[1])),
        outward=_along(outward, on.stretch).reshape(shape) * size,
        inward=_along(inward, on.stretch).reshape(shape) * size,
        symmetric=bilateral,
        symmetry_note=note,
        tolerance=tolerance,
        stretch=on.stretch * on.step,
    )


def _placed(outlines: Sequence[Outline]) -> tuple[list[Outline], tuple[str, ...]]:
    """Give drawings without an axis the one that their opposite's outline asks for.

    Also say of each drawing why it is left out, '' where it is not.
    """
    placed = list(outlines)
    blank = {v for v, one in enumerate(placed) if not np.isfinite(one.left).any()}
    stands = [(one.yaw, one.yaw_sd, one.axis, one.axis_sd) for one in placed]
    lost = {v for v, numbers in enumerate(stands) if not np.isfinite(numbers).all()} - blank
    for v, w in combinations(range(len(placed)), 2):
        aside = abs(wrapped(placed[w].yaw - placed[v].yaw - 180.0))
        if not aside <= YAW_FACING or not {v, w} & lost or {v, w} & blank:
            continue
        if {v, w} <= lost:
            placed[v] = _on_axis(placed[v], (placed[v].left + placed[v].right) / 2.0)
            lost.remove(v)
        unknown, known = (v, w) if v in lost else (w, v)
        placed[unknown] = _matched(placed[unknown], placed[known])
        lost.remove(unknown)
    return placed, tuple(
        NO_FIGURE if v in blank else NOT_KNOWN if v in lost else "" for v in range(len(placed))
    )


def _on_axis(outline: Outline, axes: Floats) -> Outline:
    """Set the axis where most rows have it."""
    yaw_sd = outline.yaw_sd if np.isfinite(outline.yaw_sd) else 0.0
    return replace(outline, axis=float(np.nanmedian(axes)), axis_sd=0.0, yaw_sd=yaw_sd)


def _matched(outline: Outline, opposite: Outline) -> Outline:
    """Set the axis so that most rows are the mirror images of the opposite drawing's."""
    rows = np.arange(len(outline.left))
    height = (outline.ground - rows) / outline.scale
    other = np.rint(opposite.ground - opposite.scale * height).astype(np.intp)
    inside = (other >= 0) & (other < len(opposite.left))
    mine = np.concatenate([outline.left[inside], outline.right[inside]])
    from_axis = np.concatenate([opposite.right[other[inside]], opposite.left[other[inside]]])
    axes = mine + outline.scale * (from_axis - opposite.axis) / opposite.scale
    return _on_axis(outline, axes)


@dataclass(frozen=True)
class _Rows:
    outlines: list[Outline]
    extents: Extents
    tolerance: float
    figure_height: float

    @property
    def step(self) -> float:
        heights = self.extents.heights
        return float(heights[1] - heights[0]) if len(heights) > 1 else 1.0

    @property
    def shortest(self) -> int:
        return max(1, ceil(STRETCH_SHORTEST_SHARE * self.figure_height / self.step))

    @property
    def slip(self) -> int:
        """Rows by which a drawing's rows may be off."""
        return ceil(max(slip_of(o, self.figure_height) for o in self.outlines) / self.step)

    @property
    def stretch(self) -> int:
        """Rows that must move together to be noticed: the slip takes some off both ends."""
        return self.shortest + 2 * self.slip

    def between(self, first: int, last: int) -> tuple[tuple[float, float], Floats]:
        """Return lowest and highest height of some rows, and the picture rows as (V, 2)."""
        low = float(self.extents.heights[first]) - self.step / 2
        high = float(self.extents.heights[last]) + self.step / 2
        rows = [[o.ground - o.scale * high, o.ground - o.scale * low] for o in self.outlines]
        return (low, high), np.array(rows)


def _along(room: Floats, rows: int) -> Floats:
    """Return how far the easiest stretch of so many rows around each row must move."""
    if rows > room.shape[1]:
        return np.full(room.shape, np.inf)
    runs = running(np.maximum, room, rows)
    padded = np.pad(runs, ((0, 0), (rows - 1,) * 2), constant_values=np.inf)
    return running(np.minimum, padded, rows)


def _contradiction(on: _Rows, stretch: Stretch, bilateral: Bools) -> Contradiction:
    needs, views = needs_of(stretch), len(on.outlines)
    able = sorted(np.flatnonzero(np.isfinite(needs)).tolist(), key=lambda k: abs(needs[k]))
    # the 3V moves of `Broken`
    each = [(v, side) for v in range(views) for side in SIDES[:2]]
    each += [(v, SIDES[2]) for v in range(views)]
    moves = [(*each[k], float(needs[k])) for k in able]
    alone = {v for v, side, _ in moves if side != "both"}
    remedies = [
        Remedy(v, side, px * on.outlines[v].scale)
        for v, side, px in moves
        if side != "both" or v not in alone
    ]
    opposite = np.mean([b.opposite for b in stretch]) > 0.5
    heights, rows = on.between(stretch[0].row, stretch[-1].row)
    return Contradiction(
        kind="mirror" if opposite else "outline",
        views=tuple(sorted({k // 2 for b in stretch for k in b.sides})),
        heights=heights,
        rows=rows,
        remedies=tuple(remedies),
        amount=max(b.amount for b in stretch),
        symmetry=bool(bilateral[[b.row for b in stretch]].any()),
    )


def _missing(
    on: _Rows, first: int, last: int, blank: list[int], filled: list[int]
) -> Contradiction:
    (low, high), rows = on.between(first, last)
    remedies = [
        Remedy(views[0], "height", px * on.outlines[views[0]].scale)
        for views, px in ((blank, high - low), (filled, low - high))
        if len(views) == 1
    ]
    return Contradiction(
        kind="outline",
        views=tuple(sorted(blank + filled)),
        heights=(low, high),
        rows=rows,
        remedies=tuple(remedies),
        amount=high - low,
        symmetry=False,
    )


def refused_comparison(reason: str, left_out: tuple[str, ...]) -> OutlineComparison:
    """Say why no outlines are compared, and of each drawing why it is left out, if it is."""
    none = np.zeros((len(left_out), 2, 0))
    return OutlineComparison(
        refusal=reason,
        left_out=left_out,
        heights=np.zeros(0),
        contradictions=(),
        outward=none,
        inward=none,
        symmetric=np.zeros(0, bool),
        symmetry_note="",
        tolerance=np.nan,
        stretch=np.nan,
    )

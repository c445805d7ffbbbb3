"""Read the outlines of a sheet: extents of each drawing in, an `OutlineComparison` out."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import ceil

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from turncheck.geometry.outlines.extents import Extents, Outline, common_rows, slip_of
from turncheck.geometry.outlines.inequalities import inequalities
from turncheck.geometry.outlines.result import Contradiction, OutlineComparison, Remedy, Side
from turncheck.geometry.outlines.slack import (
    EXTENT_PX,
    EXTENT_SHARE,
    Room,
    Slack,
    room_of,
    slack_of,
)
from turncheck.geometry.outlines.stretches import (
    Missing,
    Stretch,
    broken_rows,
    gather,
    missing_rows,
)
from turncheck.geometry.outlines.symmetry import YAW_FACING, facing_views, symmetric_rows
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Bools, Floats

#: Share of the figure height along which rows must be broken to count (chosen by the measurement in
#: tests/figures/outlines.md).
STRETCH_SHORTEST_SHARE = 0.01

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
        return _refused("fewer than two drawings can be compared", left_out)
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
    return _compared(on, parts, left_out, facing_views(yaw), (bilateral, note))


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
            placed[v] = _centred(placed[v])
            lost.remove(v)
        unknown, known = (v, w) if v in lost else (w, v)
        placed[unknown] = _matched(placed[unknown], placed[known])
        lost.remove(unknown)
    return placed, tuple(
        NO_FIGURE if v in blank else NOT_KNOWN if v in lost else "" for v in range(len(placed))
    )


def _sure_yaw(outline: Outline) -> float:
    return outline.yaw_sd if np.isfinite(outline.yaw_sd) else 0.0


def _centred(outline: Outline) -> Outline:
    middle = float(np.nanmedian((outline.left + outline.right) / 2.0))
    return replace(outline, axis=middle, axis_sd=0.0, yaw_sd=_sure_yaw(outline))


def _matched(outline: Outline, opposite: Outline) -> Outline:
    """Set the axis so that most rows are the mirror images of the opposite drawing's."""
    rows = np.arange(len(outline.left))
    height = (outline.ground - rows) / outline.scale
    other = np.rint(opposite.ground - opposite.scale * height).astype(np.intp)
    inside = (other >= 0) & (other < len(opposite.left))
    mine = np.concatenate([outline.left[inside], outline.right[inside]])
    from_axis = np.concatenate([opposite.right[other[inside]], opposite.left[other[inside]]])
    axes = mine + outline.scale * (from_axis - opposite.axis) / opposite.scale
    return replace(outline, axis=float(np.nanmedian(axes)), axis_sd=0.0, yaw_sd=_sure_yaw(outline))


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


def _compared(
    on: _Rows,
    parts: list[tuple[Slack, Bools]],
    left_out: tuple[str, ...],
    facing: list[int],
    symmetry: tuple[Bools, str],
) -> OutlineComparison:
    bilateral, note = symmetry
    sides, count = on.extents.low.shape
    room = Room(np.full((sides, count), np.inf), np.full((sides, count), np.inf))
    broken = []
    for kept, rows in parts:
        if not rows.any():
            continue
        slack = np.where(rows, kept.px, np.nan)
        broken += broken_rows(kept.system, slack, on.tolerance, sides)
        some = room_of(kept.system.by_side(sides), slack, on.tolerance)
        if kept is not parts[0][0]:
            # an error in a drawing that shows symmetry may end it instead of contradicting it
            own = [2 * v + side for v in facing for side in (0, 1)]
            some.outward[own], some.inward[own] = np.inf, np.inf
        np.minimum(room.outward, some.outward, out=room.outward)
        np.minimum(room.inward, some.inward, out=room.inward)
    broken.sort(key=lambda b: b.row)
    stretches = gather(broken, on.slip, on.shortest)
    found = [_contradiction(on, stretch, bilateral) for stretch in stretches]
    used = np.array([not why for why in left_out])
    on_used = replace(on.extents, blank=on.extents.blank & used[:, None])
    found += [_missing(on, missing) for missing in missing_rows(on_used, on.shortest)]
    shape = (len(on.outlines), 2, count)
    scale = np.array([o.scale for o in on.outlines])[:, None, None]
    return OutlineComparison(
        refusal="",
        left_out=left_out,
        heights=on.extents.heights,
        contradictions=tuple(sorted(found, key=lambda c: -c.heights[1])),
        outward=_along(room.outward, on.stretch).reshape(shape) * scale,
        inward=_along(room.inward, on.stretch).reshape(shape) * scale,
        symmetric=bilateral,
        symmetry_note=note,
        tolerance=on.tolerance,
        stretch=on.stretch * on.step,
    )


def _along(room: Floats, rows: int) -> Floats:
    """Return how far the easiest stretch of so many rows around each row must move."""
    if rows > room.shape[1]:
        return np.full(room.shape, np.inf)
    runs = sliding_window_view(room, rows, axis=1).max(axis=2)
    padded = np.pad(runs, ((0, 0), (rows - 1,) * 2), constant_values=np.inf)
    return np.asarray(sliding_window_view(padded, rows, axis=1).min(axis=2))


def _picture_rows(on: _Rows, low: float, high: float) -> Floats:
    return np.array([[o.ground - o.scale * high, o.ground - o.scale * low] for o in on.outlines])


def _contradiction(on: _Rows, stretch: Stretch, bilateral: Bools) -> Contradiction:
    first, last = (on.extents.heights[stretch.broken[i].row] for i in (0, -1))
    needs = stretch.needs()
    able = sorted(np.flatnonzero(np.isfinite(needs)).tolist(), key=lambda k: abs(needs[k]))
    moves = [(*_move(k, len(on.outlines)), float(needs[k])) for k in able]
    alone = {v for v, side, _ in moves if side != "both"}
    remedies = [
        Remedy(v, side, px * on.outlines[v].scale)
        for v, side, px in moves
        if side != "both" or v not in alone
    ]
    opposite = np.mean([b.opposite for b in stretch.broken]) > 0.5
    low, high = float(first) - on.step / 2, float(last) + on.step / 2
    return Contradiction(
        kind="mirror" if opposite else "outline",
        views=tuple(sorted({k // 2 for k in stretch.sides})),
        heights=(low, high),
        rows=_picture_rows(on, low, high),
        remedies=tuple(remedies),
        amount=max(b.amount for b in stretch.broken),
        symmetry=bool(bilateral[[b.row for b in stretch.broken]].any()),
    )


def _move(k: int, views: int) -> tuple[int, Side]:
    """Return the drawing and side of one of the 3V moves (see `Broken`)."""
    if k >= 2 * views:
        return k - 2 * views, "both"
    return k // 2, "right" if k % 2 else "left"


def _missing(on: _Rows, missing: Missing) -> Contradiction:
    low = float(on.extents.heights[missing.first]) - on.step / 2
    high = float(on.extents.heights[missing.last]) + on.step / 2
    rows = _picture_rows(on, low, high)
    remedies = []
    for views, sign in ((missing.blank, 1.0), (missing.filled, -1.0)):
        if len(views) == 1:
            px = sign * (high - low) * on.outlines[views[0]].scale
            remedies.append(Remedy(views[0], "height", px))
    return Contradiction(
        kind="outline",
        views=tuple(sorted(missing.blank + missing.filled)),
        heights=(low, high),
        rows=rows,
        remedies=tuple(remedies),
        amount=high - low,
        symmetry=False,
    )


def _refused(reason: str, left_out: tuple[str, ...]) -> OutlineComparison:
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

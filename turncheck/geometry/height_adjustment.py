"""All drawings on one scale of heights: sizes, grounds and heights adjusted together.

y = ground_v - scale_v * height_i over all views v and landmarks i at once, by Gauss-Newton with
Tukey's weights from a least-median start. The ground is a landmark of height 0 in every view, and
the base view's scale is 1. What each solved height owes to each placing is kept, so that a
difference of two views knows what they share. How right it is: tests/figures/height_scale.md.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import NamedTuple

import numpy as np

from turncheck.geometry.height_scale import SCALE_AGREES_WITHIN, HeightScale, start_line
from turncheck.numerics.arrays import Bools, Floats, Ints
from turncheck.numerics.robust import TUKEY_C, biweight_bends, biweights

_MOST_STEPS = 400
#: Standard uncertainties that a step moves some placing by at most where the end is in sight.
_NEAR = 0.1
#: What holds an unknown that no placing settles where it started, as a share of a placing's weight.
_HOLD = 1e-9
#: Least share of a drift that is taken to show in it, whatever part its placings had in the scale.
_RESPONSE_LEAST = 0.2
#: What a placing that fits nothing counts at least where no other says anything.
_KEPT_LEAST = 1e-6
#: Chi-square beyond which a drawing's size and ground are for certain not those of the others; of
#: two normal errors one pair in 10,000 lies beyond (2 degrees of freedom: exp(-x / 2)). Chosen by
#: the measurement in tests/figures/sheets.md.
STAND_CHI_SQUARE = 18.4
#: Whoever places a drawing may set its ground line off from all its other points alike. How far
#: shows in how the other drawings stand: each counts up to so many standard uncertainties from
#: their median, beyond it is drawn so; what is stated is worth so many degrees of freedom beside
#: them. Chosen by the measurement in tests/figures/sheets.md.
STAND_SLIPS_TO, STAND_BELIEF = 3.0, 3.0


class _Known(NamedTuple):
    """Of a table, 0 where not placed: heights, standard uncertainties, and what each counts."""

    heights: Floats
    sd: Floats
    certain: Floats


@dataclass(frozen=True)
class HeightTable:
    """The height of each of N landmarks in each of V views, and what it owes to V * N placings.

    Attributes
    ----------
    heights
        (V, N) base px, upwards; NaN where not placed.
    sd
        (V, N) standard uncertainty of each placing, base px; NaN where not placed.
    ground_errors, scale_errors
        (V, V * N) what each view's ground, base px, and its scale, as a share of it, owe to each
        placing: how far they move where that is one standard uncertainty higher.
    """

    heights: Floats
    sd: Floats
    ground_errors: Floats
    scale_errors: Floats

    def with_view(self, v: int, other: HeightTable) -> HeightTable:
        """Return the table with one view's heights from another table."""
        mine = np.arange(len(self.heights))[:, None] == v
        names = [one.name for one in fields(self)]
        return HeightTable(
            *(np.where(mine, getattr(other, name), getattr(self, name)) for name in names)
        )

    def means(self, columns: list[int]) -> tuple[Floats, Floats]:
        """Return the mean height of some landmarks in each view, and what it owes to placings.

        Returns
        -------
        heights, errors
            (V,) base px, of those landmarks that the view has, each counting by how surely it is
            placed, NaN where it has none; (V, V * N) base px, as `ground_errors`.
        """
        certain = self._known.certain[:, columns]
        total = certain.sum(axis=1)
        weights = certain / np.where(total > 0, total, 1.0)[:, None]
        heights = (weights * self._known.heights[:, columns]).sum(axis=1)
        errors: Floats = (weights[:, :, None] * self._errors(columns)).sum(axis=1)
        return np.where(total > 0, heights, np.nan), errors

    def apart(self, views: Bools, others: Bools, columns: list[int]) -> tuple[Floats, Floats]:
        """Return how far landmarks lie higher in some views than the same ones in others.

        Where the placings had a part in the scales that they are measured on, the drift is what
        it would be without that part.

        Parameters
        ----------
        views, others
            (K, V) the views on either side, K times.

        Returns
        -------
        drift, sd
            (K,) base px; NaN where both have none of these landmarks in common.
        """
        certain = self._known.certain[:, columns]
        mine, theirs = (side[:, :, None] * certain for side in (views, others))
        count, against = mine.sum(axis=1), theirs.sum(axis=1)
        common = (count > 0) & (against > 0)
        count, against = (np.where(common, total, np.inf)[:, None] for total in (count, against))
        weights = mine / count - theirs / against
        drifts = (weights * self._known.heights[:, columns]).sum(axis=1)
        rows = np.einsum("kvn,vnp->knp", weights, self._errors(columns))
        at = np.arange(len(columns))
        own = rows.reshape(*common.shape, *self.sd.shape)[:, at, :, columns].transpose(1, 2, 0)
        own = (own / np.where(mine > 0, self.sd[:, columns], np.inf)).sum(axis=1)
        share = np.where(common, mine.sum(axis=1), 0.0)
        share /= np.where(common.any(axis=1), share.sum(axis=1), np.nan)[:, None]
        share /= np.maximum(own, _RESPONSE_LEAST)
        row = (share[:, :, None] * rows).sum(axis=1)
        return (share * drifts).sum(axis=1), np.sqrt((row**2).sum(axis=1))

    @cached_property
    def _known(self) -> _Known:
        zeroed = (self.heights, self.sd, 1.0 / self.sd**2)
        return _Known(*map(np.nan_to_num, zeroed))

    def _errors(self, columns: list[int] | Ints) -> Floats:
        """Return (V, n, V * N) what n landmarks' heights in each view owe to each placing."""
        known, views = self._known, np.arange(len(self.sd))[:, None]
        by_scale = known.heights[:, columns, None] * self.scale_errors[:, None]
        errors: Floats = self.ground_errors[:, None] - by_scale
        placed = views * self.sd.shape[1] + columns
        errors[views, np.arange(len(columns)), placed] += known.sd[:, columns]
        return errors


@dataclass(frozen=True)
class HeightAdjustment:
    """All views on one scale of heights.

    Attributes
    ----------
    scales
        Per view.
    table
        Heights on them; those of landmarks that had no part in the adjustment too.
    heights, height_errors
        (N,) the body's heights, base px, 0 where no view settles them; (N, V * N) what they owe to
        each placing, as `ground_errors`.
    kept
        (V, N) the share that each placing keeps of its weight, 0 where it is not used.
    residuals
        (V, N) how far each placing lies from those of the other views, over the uncertainty of
        that; NaN where no other view has it.
    scale_errors, ground_errors
        (V, V * N) what each view's scale, and its ground in px of its drawing, owes to each
        placing: how far it moves where that is one standard uncertainty higher.
    """

    scales: tuple[HeightScale, ...]
    table: HeightTable
    heights: Floats
    height_errors: Floats
    kept: Floats
    residuals: Floats
    scale_errors: Floats
    ground_errors: Floats


@dataclass(frozen=True)
class Stand:
    """How large each drawing is, and how it stands on its line, as all its heights have it.

    Attributes
    ----------
    scales, above
        (V,) drawing px per base px; how far the figure stands above the line, base px.
    scale_errors, above_errors, line_errors
        (V, V * N) what they owe to each placing, as in `HeightTable`; of the line itself in px of
        the drawing.
    """

    scales: Floats
    above: Floats
    scale_errors: Floats
    above_errors: Floats
    line_errors: Floats

    @property
    def covariance(self) -> Floats:
        """(V, 2, 2) of each drawing's stand, base px, and its size."""
        errors = np.stack([self.above_errors, self.scale_errors], axis=1)
        product: Floats = errors @ errors.transpose(0, 2, 1)
        return product

    @property
    def shows(self) -> Bools:
        """(V,) whether size and stand are for certain not the common ones."""
        off = np.stack([self.above, self.scales - 1.0], axis=1)
        inverse = np.linalg.pinv(self.covariance, rcond=1e-12, hermitian=True)
        beyond: Bools = np.einsum("vi,vij,vj->v", off, inverse, off) > STAND_CHI_SQUARE
        return beyond


def stand_on(adjusted: HeightAdjustment, lines: Floats, ground: int | None) -> Stand:
    """Return how the drawings stand on some lines.

    Parameters
    ----------
    lines
        (V,) y of each view's line, px of the drawing.
    ground
        The landmark whose placings the lines are; None where they are known without error.
    """
    sizes = np.array([one.scale for one in adjusted.scales])
    grounds = np.array([one.ground for one in adjusted.scales])
    above = (lines - grounds) / sizes
    line_errors = np.zeros(adjusted.ground_errors.shape)
    if ground is not None:
        views, landmarks = adjusted.table.sd.shape
        rows = np.arange(views)
        placed = np.nan_to_num(adjusted.table.sd[:, ground])
        line_errors[rows, rows * landmarks + ground] = -placed * sizes
        errors = (line_errors - adjusted.ground_errors) / sizes[:, None]
        line_errors *= _looseness(above, np.sqrt((errors**2).sum(axis=1)))[:, None]
    return Stand(
        scales=sizes,
        above=above,
        scale_errors=adjusted.scale_errors,
        above_errors=(line_errors - adjusted.ground_errors) / sizes[:, None],
        line_errors=line_errors,
    )


def _looseness(above: Floats, sd: Floats) -> Floats:
    """Return (V,) by how much each drawing's line is less certain than its placing, at least 1.

    Parameters
    ----------
    above, sd
        (V,) how far each figure stands above its line, and how surely that is known, base px.

    Examples
    --------
    >>> _looseness(np.array([0.0, 9.0, 0.1, -0.1]), np.ones(4)).round(2).tolist()
    [1.55, 1.0, 1.55, 1.55]
    """
    found = np.ones(len(above))
    for v in range(len(above)):
        others, u = np.delete(above, v), np.delete(sd, v)
        if len(others) > 1:
            apart = np.abs(others - np.median(others)) / np.maximum(u, 1e-12)
            squares = float(np.sum(np.minimum(apart, STAND_SLIPS_TO) ** 2))
            found[v] = np.sqrt((STAND_BELIEF + squares) / (STAND_BELIEF + len(others) - 1))
    return np.maximum(found, 1.0)


def adjust_heights(
    y: Floats, sd: Floats, used: Bools, *, base: int, ground: int
) -> HeightAdjustment:
    """Adjust sizes, grounds and heights of all views together.

    Parameters
    ----------
    y, sd
        (V, N) placings, px of each drawing, y down, NaN where not placed; standard uncertainties.
    used
        (N,) landmarks that lie at one height in all views.
    base
        The view whose scale is 1.
    ground
        The landmark whose height is 0, placed in every view.

    Examples
    --------
    >>> h = np.array([0.0, 100.0, 200.0, 300.0, 400.0, 500.0])
    >>> y = np.array([900.0 - h, 900.0 - 1.5 * h, 700.0 - h])
    >>> y[1, 2] -= 30.0
    >>> found = adjust_heights(y, np.ones((3, 6)), np.ones(6, dtype=bool), base=0, ground=0)
    >>> [(round(one.ground, 6), round(one.scale, 6)) for one in found.scales]
    [(900.0, 1.0), (900.0, 1.5), (700.0, 1.0)]
    >>> one = np.arange(3)[None] == 1
    >>> (drift,), _ = found.table.apart(one, ~one, [2])
    >>> float(round(drift, 6))
    20.0
    """
    live = np.isfinite(y) & used
    sure = np.where(live, 1.0 / sd, 0.0)
    hold = _HOLD * float(np.median(sure[live])) ** 2
    grounds, scales, heights = _start(y, sd, live, base, ground)
    free = np.arange(len(y)) != base, np.arange(y.shape[1]) != ground
    apart, largest = np.zeros(y.shape), np.inf
    for _ in range(_MOST_STEPS):
        apart = np.where(live, y - grounds[:, None] + scales[:, None] * heights, 0.0) * sure
        # in sight of the end Newton's own weights, where they count for anything, get there sooner
        weigh = biweights if largest > _NEAR else biweight_bends
        solved = _solver(weigh(apart, TUKEY_C) * sure**2, scales, heights, free, hold)
        pull = biweights(apart, TUKEY_C) * apart * sure
        moved, risen = (step[..., 0] for step in solved(pull[:, :, None]))
        step = moved[:, :1] - heights * moved[:, 1:] - scales[:, None] * risen
        grounds, scales, heights = grounds + moved[:, 0], scales + moved[:, 1], heights + risen
        largest = np.max(np.abs(step) * sure)
        if largest < 1e-9:
            break
    kept = biweights(apart, TUKEY_C) * live
    one_higher = np.diag(-(kept * sure).ravel()).reshape(*y.shape, -1)
    moved, height_errors = _solver(kept * sure**2, scales, heights, free, hold)(one_higher)
    ground_errors, scale_errors = moved[:, 0], moved[:, 1]
    residuals = _residuals((grounds[:, None] - y) / scales[:, None], sd / scales[:, None], kept)
    fits = np.abs(residuals) <= SCALE_AGREES_WITHIN
    counts = np.isfinite(residuals).sum(axis=1)
    fitted = tuple(
        HeightScale(
            scale=float(scales[v]),
            ground=float(grounds[v]),
            covariance=moved[v] @ moved[v].T,
            landmarks=int(counts[v]),
            agreeing=float(fits[v].sum() / max(counts[v], 1)),
        )
        for v in range(len(y))
    )
    return HeightAdjustment(
        fitted,
        height_table(y, sd, fitted, ground_errors, scale_errors),
        heights,
        height_errors,
        kept,
        residuals,
        scale_errors,
        ground_errors,
    )


def _solver(
    weights: Floats, scales: Floats, heights: Floats, free: tuple[Bools, Bools], hold: float
) -> Callable[[Floats], tuple[Floats, Floats]]:
    """Return what solves the normal equations, the heights eliminated (Schur complement).

    It takes K pulls on each placing, weight times error, (V, N, K), and returns how far they move
    grounds and scales, (V, 2, K), and heights, (N, K). `free` are the scales (V,) and heights (N,)
    that may move.
    """
    views, landmarks = weights.shape
    slopes = np.ones((views, 2, landmarks))
    slopes[:, 1] = -heights * free[0][:, None]
    by_height = -scales[:, None] * free[1]
    held = hold * np.maximum([1.0, (heights**2).max(), (scales**2).max()], 1.0)
    heavy = slopes * weights[:, None]
    variance = 1.0 / ((weights * by_height**2).sum(axis=0) + held[2])
    coupling = (heavy * by_height[:, None]).reshape(2 * views, landmarks)
    share = coupling * variance
    info = np.zeros((views, 2, views, 2))
    each = np.arange(views)
    info[each, :, each] = heavy @ slopes.transpose(0, 2, 1) + np.diag(held[:2])
    inverse = np.linalg.inv(info.reshape(2 * views, 2 * views) - share @ coupling.T)

    def solved(pulls: Floats) -> tuple[Floats, Floats]:
        on_heights = (by_height[:, :, None] * pulls).sum(axis=0)
        on_views = (slopes @ pulls).reshape(2 * views, -1)
        moved = inverse @ (on_views - share @ on_heights)
        risen: Floats = variance[:, None] * on_heights - share.T @ moved
        return moved.reshape(views, 2, -1), risen

    return solved


def _residuals(heights: Floats, sd: Floats, kept: Floats) -> Floats:
    """Return (V, N) how far each height lies from the other views', over the uncertainty of that.

    The others count by their certainty and by how far they were `kept`, (V, N) from 0 to 1.
    """
    weights = np.nan_to_num(np.maximum(kept, _KEPT_LEAST) / sd**2)
    products = weights * np.nan_to_num(heights)
    squares = (weights * np.nan_to_num(sd)) ** 2
    others = weights.sum(axis=0) - weights
    with np.errstate(all="ignore"):  # an absurd uncertainty says nothing
        expected = (products.sum(axis=0) - products) / others
        variance = sd**2 + (squares.sum(axis=0) - squares) / others**2
        apart = (heights - expected) / np.sqrt(variance)
    return np.where(np.isfinite(apart), apart, np.nan)


def height_table(
    y: Floats,
    sd: Floats,
    scales: Sequence[HeightScale],
    ground_errors: Floats,
    scale_errors: Floats,
) -> HeightTable:
    """Return the heights of all placings on their views' scales.

    Parameters
    ----------
    y, sd
        As of `adjust_heights`.
    ground_errors, scale_errors
        (V, V * N) as of `HeightAdjustment`.
    """
    size = np.array([one.scale for one in scales])[:, None]
    heights = (np.array([one.ground for one in scales])[:, None] - y) / size
    return HeightTable(heights, sd / size, ground_errors / size, scale_errors / size)


def _start(
    y: Floats, sd: Floats, live: Bools, base: int, ground: int
) -> tuple[Floats, Floats, Floats]:
    """Return grounds, scales (V,) and heights (N,) to start from: each view held to the base."""
    to_base = y[base, ground] - y[base]
    lines = [
        start_line(row[both], to_base[both], row_sd[both])
        for row, row_sd, both in zip(y, sd, live & live[base], strict=True)
    ]
    grounds, scales = np.array(lines).T
    each = np.where(live, (grounds[:, None] - y) / scales[:, None], 0.0)
    heights = _medians(each, np.where(live, (scales[:, None] / sd) ** 2, 0.0))
    return grounds - scales * heights[ground], scales, heights - heights[ground]


def _medians(values: Floats, weights: Floats) -> Floats:
    """Return (N,) the middle of (V, N) values, each counting by its weight."""
    order = np.argsort(values, axis=0)
    values, weights = (np.take_along_axis(one, order, axis=0) for one in (values, weights))
    below = np.cumsum(weights, axis=0)
    half = below[-1] / 2.0
    ends = [(below >= half).argmax(axis=0), (below > half).argmax(axis=0)]
    middle: Floats = sum(np.take_along_axis(values, end[None], axis=0)[0] for end in ends) / 2.0
    return middle

"""Whether placings scatter more than they are said to: noise that gives itself away.

What is left of each placing after one body and one scale explain the drawings, over its stated
uncertainty, is of size 1 where placings are as sure as said.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from turncheck.numerics.arrays import Bools, Floats
from turncheck.numerics.robust import median_sd

#: What the stated uncertainty is worth against the residuals, degrees of freedom: of placings that
#: are seen, and of those behind another part, which nobody can state well.
#: Chosen by the measurement in tests/figures/sheets.md.
SCATTER_BELIEF, SCATTER_BELIEF_HIDDEN = 20.0, 5.0
#: Residuals count up to so many of their own standard deviations, that from their median: what
#: drifts is no noise. And the mean square of normal errors so cut (Huber 1981, Robust Statistics,
#: proposal 2; the figure by integration).
_CUT, _CUT_SQUARE = 2.5, 0.9776
#: Two kinds of errors are told apart, normal ones and Student's t with three degrees of freedom,
#: each at the scale of these that fits it best; of either this share are drifts, spread evenly so
#: wide. In the tails, beyond so many standard deviations, what may be a drift is counted once.
#: Common practice, no source.
_SCALES = np.geomspace(0.4, 3.0, 25)[:, None]
_DRIFTS, _DRIFTS_WIDE = 0.01, 60.0
_TAIL_FROM = 2.0
#: How many times less likely heavy tails are than normal ones before anything is seen of a sheet.
#: Chosen by the measurement in tests/figures/sheets.md.
HEAVY_LESS_LIKELY = 8.0
#: How probable heavy tails are from where a verdict needs half as much again as without; common
#: practice, no source.
HEAVY_TOLD_FROM = 0.125
#: Residuals of a sheet of four drawings with all points, of which one false row is as bad as of a
#: sheet with few; common practice, no source.
RESIDUALS_FULL = 200
#: Factors below this are chance; the uncertainty stays as stated.
SCATTER_LEAST = 1.1


@dataclass(frozen=True)
class Scatter:
    """How placings scatter.

    Attributes
    ----------
    seen, hidden
        By how much those of seen and hidden landmarks are less certain than stated; at least 1,
        never raised by chance.
    heavy
        How probably errors have heavy tails, so that single placings may be slips of the hand.
    count
        Of residuals that this is known from.
    """

    seen: float = 1.0
    hidden: float = 1.0
    heavy: float = 0.0
    count: int = 0

    @property
    def wild(self) -> bool:
        """Whether slips of the hand are so likely that people are told of them."""
        return self.heavy > HEAVY_TOLD_FROM

    @property
    def slips(self) -> float:
        """How probably any slip of the hand is told as a drift, against a sheet with all points."""
        return self.heavy * min(1.0, self.count / RESIDUALS_FULL)

    @property
    def raised(self) -> bool:
        """Whether any are less certain than stated."""
        return max(self.seen, self.hidden) > 1.0

    def of(self, hidden: Bools) -> Floats:
        """Return the factor of each placing."""
        return np.where(hidden, self.hidden, self.seen)


def find_scatter(residuals: Floats, hidden: Bools, parts: Sequence[str]) -> Scatter:
    """Return how much more placings scatter than stated.

    Parameters
    ----------
    residuals
        (2, V, N) what is left of each placing, up and sideways, over the uncertainty of that; NaN
        where nothing says.
    hidden
        (V, N) which landmarks lie behind another part.
    parts
        (N,) what part of the body each landmark is of: in the tails one that drifts as one counts
        once, and the drawing that has most of them as much as the next.

    Examples
    --------
    >>> twice = 2.0 * np.random.default_rng(1).normal(size=(2, 5, 30))
    >>> found = find_scatter(twice, np.zeros((5, 30), dtype=bool), ["arm"] * 30)
    >>> round(found.seen, 1), found.hidden
    (1.8, 1.0)
    """
    there, behind = np.isfinite(residuals), np.stack([hidden, hidden])
    classes = (there & ~behind, SCATTER_BELIEF), (there & behind, SCATTER_BELIEF_HIDDEN)
    seen, unseen = (_factor(residuals[which], belief) for which, belief in classes)
    heavy = _heavy(residuals / np.where(behind, unseen, seen), parts)
    return Scatter(seen, unseen, heavy, int(there.sum()))


def _heavy(residuals: Floats, parts: Sequence[str]) -> float:
    """Return how probably residuals, (2, V, N), are of Student's t and not normal.

    A drift far out speaks for neither.
    """
    way, view, mark = np.nonzero(np.isfinite(residuals))
    if not len(way):
        return 0.0
    seen = residuals[way, view, mark]
    scaled = seen / _SCALES
    normal = np.exp(-(scaled**2) / 2.0) / np.sqrt(2.0 * np.pi)
    student = 2.0 / np.pi / (1.0 + scaled**2) ** 2  # of the same standard deviation
    likely = [
        np.log((1.0 - _DRIFTS) * density / _SCALES + _DRIFTS / _DRIFTS_WIDE)
        for density in (normal, student)
    ]
    best = [int(one.sum(axis=1).argmax()) for one in likely]
    if not best[0]:  # so much surer than stated that no tail reaches far
        return 0.0
    gain = likely[1][best[1]] - likely[0][best[0]]
    tail = (np.abs(seen) > _TAIL_FROM) & (gain > 0.0)
    groups: dict[tuple[int, str, int, bool], float] = {}
    for at in np.flatnonzero(tail):
        group = int(view[at]), parts[mark[at]], int(way[at]), bool(seen[at] > 0.0)
        groups[group] = max(groups.get(group, 0.0), float(gain[at]))
    by_view = np.zeros(residuals.shape[1])
    for group, most in groups.items():
        by_view[group[0]] += most
    by_view.sort()
    odds = float(gain[~tail].sum() + np.minimum(by_view, by_view[-2:][0]).sum())
    return 1.0 / (1.0 + HEAVY_LESS_LIKELY * math.exp(-min(max(odds, -50.0), 50.0)))


def _factor(residuals: Floats, belief: float) -> float:
    if not len(residuals):
        return 1.0
    cut = np.minimum(np.abs(residuals), _CUT * median_sd(residuals))
    square = (belief + float(np.sum(cut**2)) / _CUT_SQUARE) / (belief + len(residuals))
    return float(np.sqrt(square)) if square > SCATTER_LEAST**2 else 1.0

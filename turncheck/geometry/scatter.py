"""Whether placings scatter more than they are said to: noise that gives itself away.

What is left of each placing after one body and one scale explain the drawings, over its stated
uncertainty, is of size 1 where placings are as sure as said.
"""

from collections import Counter
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
#: A placing strays that stands apart by so many standard deviations of the usual ones: beyond, it
#: is a drift. So many strays are wild, parts that drift as one counted once, beside those of the
#: drawing that has most of them. Chosen by the measurement in tests/figures/sheets.md.
STRAYS_FROM, STRAYS_TO, STRAYS_WILD = 2.8, 7.0, 3
#: The usual placings are taken to be no surer than this share of what is stated.
_USUAL_LEAST = 0.5
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
    wild
        Whether so many of several drawings stand apart that single ones may be slips of the hand.
    """

    seen: float = 1.0
    hidden: float = 1.0
    wild: bool = False

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
        (N,) what part of the body each landmark is of: one that drifts as one counts once.

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
    usual = median_sd(residuals[classes[0][0]]) if classes[0][0].any() else seen
    apart = np.abs(residuals) / np.where(behind, unseen, np.clip(usual, _USUAL_LEAST, seen))
    strays = (apart > STRAYS_FROM) & (apart < STRAYS_TO)
    groups = {
        (view, parts[mark], way, residuals[way, view, mark] > 0)
        for way, view, mark in zip(*np.nonzero(strays), strict=True)
    }
    by_view = sorted(Counter(view for view, *_ in groups).values())
    return Scatter(seen, unseen, sum(by_view[:-1]) >= STRAYS_WILD)


def _factor(residuals: Floats, belief: float) -> float:
    if not len(residuals):
        return 1.0
    cut = np.minimum(np.abs(residuals), _CUT * median_sd(residuals))
    square = (belief + float(np.sum(cut**2)) / _CUT_SQUARE) / (belief + len(residuals))
    return float(np.sqrt(square)) if square > SCATTER_LEAST**2 else 1.0

"""Whether placings scatter more than they are said to: noise that gives itself away.

What is left of each placing after one body and one scale explain the drawings, over its stated
uncertainty, is of size 1 where placings are as sure as said.
"""

from dataclasses import dataclass

import numpy as np

from turncheck.numerics.arrays import Bools, Floats
from turncheck.numerics.robust import median_sd

#: What the stated uncertainty is worth against the residuals, degrees of freedom: of placings that
#: are seen, and of those behind another part, which nobody can state well.
SCATTER_BELIEF, SCATTER_BELIEF_HIDDEN = 20.0, 5.0
#: Variance of a standard deviation from many normal errors over that of one from the median of
#: their sizes (Rousseeuw and Croux 1993, J. Am. Stat. Assoc. 88:1273, table 2).
_MEDIAN_EFFICIENCY = 0.37
#: Factors below this are chance; the uncertainty stays as stated.
SCATTER_LEAST = 1.1


@dataclass(frozen=True)
class Scatter:
    """By how much placings are less certain than stated: at least 1, never raised by chance."""

    seen: float = 1.0
    hidden: float = 1.0

    def __bool__(self) -> bool:
        return max(self.seen, self.hidden) > 1.0

    def of(self, hidden: Bools) -> Floats:
        """Return the factor of each placing."""
        return np.where(hidden, self.hidden, self.seen)


def find_scatter(residuals: Floats, hidden: Bools) -> Scatter:
    """Return how much more placings scatter than stated.

    Parameters
    ----------
    residuals
        (...,) what is left of each placing, over the uncertainty of that; NaN where nothing says.
    hidden
        (...,) which landmarks lie behind another part.

    Examples
    --------
    >>> twice = 2.0 * np.random.default_rng(1).normal(size=300)
    >>> found = find_scatter(twice, np.zeros(300, dtype=bool))
    >>> round(found.seen, 1), found.hidden
    (1.7, 1.0)
    """
    there = np.isfinite(residuals)
    return Scatter(
        _factor(residuals[there & ~hidden], SCATTER_BELIEF),
        _factor(residuals[there & hidden], SCATTER_BELIEF_HIDDEN),
    )


def _factor(residuals: Floats, belief: float) -> float:
    if not len(residuals):
        return 1.0
    worth = _MEDIAN_EFFICIENCY * len(residuals)
    square = (belief + worth * median_sd(residuals) ** 2) / (belief + worth)
    return float(np.sqrt(square)) if square > SCATTER_LEAST**2 else 1.0

"""Which view is the odd one out: the views that agree outvote the others.

A leave-one-out centre blames clean views where one view drifts, since the drifted one pulls
the centre of all the others; the largest group that agrees does not: figures stand in
tests/figures/majority.md.
"""

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from turncheck.numerics.arrays import Bools, Floats, Ints

#: Two views agree where they differ by at most this many standard uncertainties, or by the
#: tolerance if that is more; chosen by the measurement in tests/figures/majority.md.
MAJORITY_AGREES_WITHIN = 2.576


@dataclass(frozen=True)
class Majority:
    """How the values of several views go together.

    Attributes
    ----------
    members
        (V,) the views of the majority; none where no majority agrees.
    centre, centre_sd
        Mean of the majority and its standard uncertainty; the median of all and the spread of
        all where no majority agrees.
    drift, drift_sd
        (V,) value - centre and its standard uncertainty, NaN where a view has no value.
    """

    members: Bools
    centre: float
    centre_sd: float
    drift: Floats
    drift_sd: Floats

    @property
    def settled(self) -> bool:
        """Whether a majority agrees."""
        return bool(self.members.any())

    @property
    def odd(self) -> Bools:
        """(V,) the views that the majority outvotes; none where no majority agrees."""
        outside: Bools = self.settled & ~self.members & np.isfinite(self.drift)
        return outside


def find_majority(values: Floats, sd: Floats, tolerance: float) -> Majority:
    """Find the majority of views whose values agree pairwise.

    Parameters
    ----------
    values, sd
        (V,) one value a view and its standard uncertainty, in one unit; NaN where not measured.
    tolerance
        Difference that never counts as disagreement, in the same unit.

    Examples
    --------
    >>> found = find_majority(np.array([10.0, 10.1, 12.0]), np.full(3, 0.1), 0.5)
    >>> found.odd.tolist(), round(found.centre, 2), round(float(found.drift[2]), 2)
    ([False, False, True], 10.05, 1.95)
    >>> find_majority(np.array([10.0, 12.0]), np.full(2, 0.1), 0.5).settled
    False
    """
    there = np.flatnonzero(np.isfinite(values))
    members = np.zeros(len(values), dtype=bool)
    chosen = np.sort(_largest_group(values, sd, tolerance, there))
    members[chosen] = True
    n = len(chosen)
    if n:
        centre = float(values[chosen].mean())
        centre_variance = float(np.sum(sd[chosen] ** 2)) / n**2
    elif len(there):
        centre = float(np.median(values[there]))
        centre_variance = float(np.mean(sd[there] ** 2)) / len(there) * np.pi / 2
    else:
        centre = centre_variance = np.nan
    # a member is part of the mean that it is compared with: cov(value, mean) = sd² / n
    shared = np.where(members, 2.0 * sd**2 / max(n, 1), 0.0)
    return Majority(
        members=members,
        centre=centre,
        centre_sd=float(np.sqrt(centre_variance)),
        drift=values - centre,
        drift_sd=np.sqrt(np.maximum(sd**2 + centre_variance - shared, 0.0)),
    )


def _largest_group(values: Floats, sd: Floats, tolerance: float, there: Ints) -> Ints:
    """Return the largest majority that agrees pairwise, the tightest where several do.

    Neighbours in order of value are enough to look at. Empty where no majority agrees.
    """

    def agrees(group: Ints) -> bool:
        apart = np.abs(values[group, None] - values[group])
        doubt = MAJORITY_AGREES_WITHIN * np.hypot(sd[group, None], sd[group])
        return bool(np.all(apart <= np.maximum(doubt, tolerance) * (1.0 + 1e-12)))

    in_order = there[np.argsort(values[there], kind="stable")]
    for size in range(len(there), max(len(there) // 2, 1), -1):
        agreeing = [group for group in sliding_window_view(in_order, size) if agrees(group)]
        if agreeing:
            return min(agreeing, key=lambda group: np.ptp(values[group]))
    return in_order[:0]

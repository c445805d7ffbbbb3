"""Which view is the odd one out: the views that agree outvote the others.

A leave-one-out centre blames clean views where one view drifts, since the drifted one pulls
the centre of all the others; the largest group that agrees does not: figures stand in
tests/figures/majority.md.
"""

from dataclasses import dataclass

import numpy as np

from turncheck.numerics.arrays import Bools, Floats

#: Two views agree where they differ by at most this many standard uncertainties, or by the
#: tolerance if that is more; chosen by the measurement in tests/figures/majority.md.
MAJORITY_AGREES_WITHIN = 2.576


@dataclass(frozen=True)
class Majority:
    """How the values of several views go together.

    Attributes
    ----------
    placed, members
        (V,) the views that have a value; those of the majority, none where no majority agrees.
    halves
        The lower and the upper half, (V,) each, where half of the views agree against the others.
    """

    placed: Bools
    members: Bools
    halves: tuple[Bools, Bools] | None = None

    @property
    def settled(self) -> bool:
        """Whether a majority agrees."""
        return bool(self.members.any())

    @property
    def odd(self) -> Bools:
        """(V,) the views that the majority outvotes; none where no majority agrees."""
        outside: Bools = self.settled & ~self.members & self.placed
        return outside

    def sides(self, v: int, reference: int | None) -> tuple[Bools, Bools]:
        """Return (V,) the views that stand with a view, and those that it is held against.

        It stands alone against those that agree; where half of the views agree against the
        others, with its half against the other. Where nothing agrees it is held against the
        reference, and without one, or where it is the reference itself, against all others.
        """
        mine = np.arange(len(self.placed)) == v
        if self.halves is not None and self.placed[v]:
            lower, upper = self.halves
            return (lower, upper) if lower[v] else (upper, lower)
        others = self.members if self.settled else self.placed
        if not self.settled and reference not in (None, v) and self.placed[reference]:
            others = np.arange(len(self.placed)) == reference
        return mine, others & ~mine


def find_majority(values: Floats, covariance: Floats, tolerance: float) -> Majority:
    """Find the majority of views whose values agree pairwise.

    Parameters
    ----------
    values, covariance
        (V,) one value a view, NaN where not measured, and (V, V) their covariance.
    tolerance
        Difference that never counts as disagreement, in the values' unit.

    Examples
    --------
    >>> find_majority(np.array([10.0, 10.1, 12.0]), 0.01 * np.eye(3), 0.5).odd.tolist()
    [False, False, True]
    >>> find_majority(np.array([10.0, 12.0]), 0.01 * np.eye(2), 0.5).settled
    False
    >>> found = find_majority(np.array([5.0, 8.0, 5.1, 8.1]), 0.01 * np.eye(4), 1.0)
    >>> [half.tolist() for half in found.halves]
    [[True, False, True, False], [False, True, False, True]]
    """
    placed = np.isfinite(values)
    in_order = np.flatnonzero(placed)[np.argsort(values[placed], kind="stable")]
    n, ordered = len(in_order), values[in_order]
    own = covariance.diagonal()[in_order]
    variance = own[:, None] + own - 2.0 * covariance[np.ix_(in_order, in_order)]
    doubt = MAJORITY_AGREES_WITHIN * np.sqrt(np.maximum(variance, 0.0))
    allowed = np.maximum(doubt, tolerance) * (1.0 + 1e-12)
    alike = np.abs(ordered[:, None] - ordered) <= allowed

    def agree(start: int, end: int) -> bool:
        return bool(alike[start:end, start:end].all())

    def of(start: int, end: int) -> Bools:
        inside = np.zeros(len(values), dtype=bool)
        inside[in_order[start:end]] = True
        return inside

    # neighbours in order of value are enough to look at
    for size in range(n, max(n // 2, 1), -1):
        agreeing = [start for start in range(n - size + 1) if agree(start, start + size)]
        if agreeing:
            closest = min(agreeing, key=lambda start: ordered[start + size - 1] - ordered[start])
            return Majority(placed, of(closest, closest + size))
    nobody = of(0, 0)
    half = n // 2
    if n >= 4 and n == 2 * half and agree(0, half) and agree(half, n):
        return Majority(placed, nobody, (of(0, half), of(half, n)))
    return Majority(placed, nobody)

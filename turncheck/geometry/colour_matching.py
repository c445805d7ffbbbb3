"""Which fill of one drawing is which fill of the others."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from turncheck.geometry.assignment import cheapest_pairs
from turncheck.geometry.majority import MAJORITY_AGREES_WITHIN
from turncheck.images.colour import differences
from turncheck.images.flat_colours import Fill
from turncheck.numerics.arrays import Floats

#: Fills further apart than this in CIEDE2000 are never the same paint, and small ones (shades,
#: glints: there is often another one that nearly fits) not beyond the second figure; chosen by the
#: measurement in tests/figures/colours.md.
DELTA_E_SAME_PAINT = 10.0
DELTA_E_SAME_SMALL = 3.0
#: Shares of a drawing's flat area: below the first a fill is small, below the second it is no paint
#: of its own and only answers to one; chosen by the measurement in tests/figures/colours.md.
FILL_SHARE_SMALL = 0.01
FILL_SHARE_OWN_PAINT = 0.004
#: Two fills lie in the same place where the heights that they span overlap by so much of what they
#: span together, and neither is so many times as large as the other; chosen by the measurement in
#: tests/figures/colours.md.
PLACE_OVERLAP_LEAST = 0.5
PLACE_AS_LARGE = 3.0


@dataclass(frozen=True)
class MatchedColour:
    """One paint of the character: the fill that it is in each view, None where not seen."""

    fills: tuple[Fill | None, ...]

    @property
    def seen(self) -> list[int]:
        """The views that show it."""
        return [v for v, fill in enumerate(self.fills) if fill is not None]

    @property
    def first(self) -> Fill:
        """The fill that names it: the reference's, or the first view's that shows it."""
        return next(fill for fill in self.fills if fill is not None)

    @property
    def label(self) -> str:
        """Its name and hexadecimal."""
        return self.first.label

    def nearest(self, fills: Sequence[Fill]) -> tuple[Fill, float]:
        """Return which of some fills comes nearest to it, and how near in CIEDE2000."""
        apart = differences(_labs([self.first]), _labs(fills))[0]
        best = int(np.argmin(apart))
        return fills[best], float(apart[best])

    def distances(self, reference: int | None, tolerance: float) -> tuple[Floats, Floats]:
        """Return (V,) each view's CIEDE2000 from the paint, and its uncertainty.

        The paint is the reference's fill, unless the majority outvotes it: then it is the fill
        nearest to all others, so that the reference is the one that lies far off.
        """
        seen = self.seen
        shown = [fill for fill in self.fills if fill is not None]
        values, sd = np.full((2, len(self.fills)), np.nan)
        sd[seen] = [fill.sd for fill in shown]
        apart = differences(_labs(shown), _labs(shown))
        doubt = MAJORITY_AGREES_WITHIN * np.hypot(sd[seen], sd[seen][:, None])
        agreeing = (apart <= np.maximum(tolerance, doubt)).sum(axis=1)
        middle = int(np.lexsort((apart.sum(axis=1), -agreeing))[0])
        if reference in seen and agreeing[seen.index(reference)] == agreeing[middle]:
            middle = seen.index(reference)
        values[seen] = apart[middle]
        return values, sd


def match_colours(fills: Sequence[Sequence[Fill]], first: int) -> list[MatchedColour]:
    """Match the fills of all views one to one, beginning with view `first`.

    A view's fills go to the paints found so far so that the CIEDE2000 differences add up to the
    least (linear assignment); what fits none and is large enough begins a paint of its own.
    """
    paints: list[list[Fill | None]] = []
    named: list[Fill] = []
    order = [first, *(v for v in range(len(fills)) if v != first)]
    for v in order:
        free = set(range(len(fills[v])))
        if named and free:
            apart = differences(_labs(named), _labs(fills[v]))
            shares = np.minimum(_shares(named)[:, None], _shares(fills[v]))
            limit = np.where(shares < FILL_SHARE_SMALL, DELTA_E_SAME_SMALL, DELTA_E_SAME_PAINT)
            # no match costs as much as the worst, so that two poor ones don't oust a good one
            cost = np.where(apart <= limit, apart, DELTA_E_SAME_PAINT)
            for paint, index in zip(*cheapest_pairs(cost), strict=True):
                if apart[paint, index] <= limit[paint, index]:
                    paints[paint][v] = fills[v][index]
                    free.discard(int(index))
        for index in sorted(free):
            fill = fills[v][index]
            if fill.share >= FILL_SHARE_OWN_PAINT:
                paints.append([fill if w == v else None for w in range(len(fills))])
                named.append(fill)
    return [MatchedColour(tuple(paint)) for paint in paints]


def join_repainted(paints: Sequence[MatchedColour], spans: Sequence[Floats]) -> list[MatchedColour]:
    """Join the fill that one drawing alone has to the paint that only it lacks in the same place.

    However far apart the colours are, that is one fill, painted otherwise.

    Parameters
    ----------
    spans
        (V, 2) a paint: the heights between which each drawing has it, NaN where it has not.
    """
    joined = list(paints)
    for n, lacking in enumerate(paints):
        gone = [v for v, fill in enumerate(lacking.fills) if fill is None]
        if len(gone) != 1 or len(lacking.seen) < 2:
            continue
        v = gone[0]
        shares = [fill.share for fill in lacking.fills if fill is not None]
        overlaps = {
            m: _overlap(spans[m][v], np.median(spans[n][lacking.seen], axis=0))
            for m, one in enumerate(paints)
            if one.seen == [v]
            and one.first.share >= FILL_SHARE_SMALL
            and min(shares) / PLACE_AS_LARGE <= one.first.share <= max(shares) * PLACE_AS_LARGE
            and one in joined
        }
        m = max(overlaps, key=lambda m: overlaps[m], default=n)
        if overlaps.get(m, 0.0) >= PLACE_OVERLAP_LEAST:
            own = paints[m].fills[v]
            whole = tuple(own if w == v else fill for w, fill in enumerate(lacking.fills))
            joined[joined.index(lacking)] = MatchedColour(whole)
            joined.remove(paints[m])
    return joined


def _overlap(one: Floats, other: Floats) -> float:
    """Return what two spans (low, high) share, as a share of what they span together."""
    shared = min(one[1], other[1]) - max(one[0], other[0])
    return float(max(shared, 0.0) / (max(one[1], other[1]) - min(one[0], other[0])))


def _shares(fills: Sequence[Fill]) -> Floats:
    return np.array([fill.share for fill in fills], dtype=np.float64)


def _labs(fills: Sequence[Fill]) -> Floats:
    return np.array([fill.lab for fill in fills], dtype=np.float64).reshape(-1, 3)

"""Which placings do not fit the body, and how surely the drawing can be named.

For each group of landmarks every small set of its rows is dropped in turn, the rest solved again
together with what all other groups say of the views, and the sets compared by what they leave
unexplained plus a price per dropped row.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from turncheck.geometry.turn.rows import POSITION_INFO, Bools, Floats, Ints, Linear, Reduced

PRICE = 12.0
"""Chi-square a dropped row must save: 3.5 standard uncertainties, one clean row in 2000.

This and the next two: DEVELOPERS.md has what other values would do.
"""

ASYMMETRY_PRICE = 9.0
"""The same for giving up a group's symmetry, both rows at once: a posed limb is no rarity."""

AS_GOOD = 5.0
"""Explanations within this much of the best one are not told apart (odds of 12 to 1)."""

MOST_DROPPED = 5
"""Rows of one group beyond which no explanation is sought."""


@dataclass(frozen=True)
class Others:
    """What all other groups say of the view numbers, seen from one group.

    Attributes
    ----------
    info, right : (..., n, n) and (..., n) arrays
        Information and right-hand side without the group.
    """

    info: Floats
    right: Floats


def without(reduced: Reduced) -> Others:
    """Take each group's own share out of the normal equations; arrays lead with (G,)."""
    return Others(reduced.info - reduced.group_info, reduced.right - reduced.group_right)


@dataclass(frozen=True)
class Local:
    """Groups solved with weights of their own, the other groups unchanged.

    Attributes
    ----------
    cost : (...,) array
        Chi-square left over.
    misfit : (..., R) array
        Whitened misfit of every row, dropped ones included.
    leverage : (..., R) array
        Variance of the modelled value in units of the row's own.
    """

    cost: Floats
    misfit: Floats
    leverage: Floats


def solve_local(linear: Linear, others: Others, weight: Floats) -> Local:
    """Solve view numbers and points jointly for batches that share leading shapes with `weight`."""
    design = np.concatenate([linear.by_view, linear.by_point], axis=-1)
    views = linear.by_view.shape[-1]
    heavy = np.swapaxes(design * weight[..., None], -1, -2)
    info = heavy @ design
    right = (heavy @ linear.misfit[..., None])[..., 0]
    info[..., :views, :views] += others.info
    right[..., :views] += others.right
    info[..., views:, views:] += POSITION_INFO * np.eye(4)
    cov = np.linalg.inv(info)
    move = (cov @ right[..., None])[..., 0]
    misfit = linear.misfit - (design @ move[..., None])[..., 0]
    cost = (weight * linear.misfit**2).sum(axis=-1) - (right * move).sum(axis=-1)
    leverage = ((design @ cov) * design).sum(axis=-1)
    return Local(cost, misfit, leverage)


def pick(linear: Linear, others: Others, group: Ints | int) -> tuple[Linear, Others]:
    """Take the rows of some groups, with what the others say to each."""
    return (
        Linear(linear.misfit[group], linear.by_view[group], linear.by_point[group]),
        Others(others.info[group], others.right[group]),
    )


@dataclass(frozen=True)
class Explanation:
    """What one group's rows say of themselves; (R,) bool arrays.

    Attributes
    ----------
    dropped : bool array
        Rows of the best explanation.
    suspects : bool array
        Rows of any explanation as good as the best one.
    """

    dropped: Bools
    suspects: Bools


def explain(linear: Linear, others: Others, trust: Floats) -> Explanation:
    """Find the cheapest sets of rows to drop in one group.

    Sets of up to two units are all tried, larger ones grow from the best; a unit is one placing,
    or the group's symmetry: a limb that is posed leaves it in width and depth alike.
    """
    live, rows = trust > 0, len(trust)
    units = np.eye(rows, dtype=bool)[np.flatnonzero(live)]
    symmetry = np.zeros(rows, bool)
    symmetry[-2:] = live[-2:]
    if symmetry.any():
        units = np.vstack([units[: -symmetry.sum()], symmetry])
    trials = [np.zeros(rows, bool), *units]
    trials += [a | b for a, b in combinations(units, 2)]
    tried = np.unique(np.array(trials), axis=0)
    costs = _costs(linear, others, trust, tried)
    best = tried[costs.argmin()]
    while True:
        left = costs.min() - _price(best)
        if left <= PRICE or best.sum() >= min(MOST_DROPPED, live.sum() - 1):
            break
        seeds = tried[np.argsort(costs, kind="stable")[:3]]
        grown = np.unique((seeds[:, None, :] | units).reshape(-1, rows), axis=0)
        new = grown[~(grown[:, None, :] == tried).all(axis=2).any(axis=1)]
        if not len(new):
            break
        grown_costs = _costs(linear, others, trust, new)
        improved = grown_costs.min() < costs.min()
        tried, costs = np.vstack([tried, new]), np.r_[costs, grown_costs]
        best = tried[costs.argmin()]
        if not improved:
            break
    near = tried[(costs <= costs.min() + AS_GOOD) & (tried.any(axis=1) | ~best.any())]
    # a set that holds another good set only adds an innocent row to it
    within = (near[:, None, :] <= near).all(axis=2) & ~(near[:, None, :] == near).all(axis=2)
    minimal = near[~within.any(axis=0)]
    return Explanation(best, minimal.any(axis=0))


def _costs(linear: Linear, others: Others, trust: Floats, dropped: Bools) -> Floats:
    local = solve_local(linear, others, trust * ~dropped)
    return np.asarray(local.cost + _price(dropped), dtype=float)


def _price(dropped: Bools) -> Floats:
    """Price of sets of dropped rows, (..., R) to (...,)."""
    placings, symmetry = dropped[..., :-2], dropped[..., -2:]
    total = PRICE * placings.sum(axis=-1) + ASYMMETRY_PRICE * symmetry.any(axis=-1)
    return np.asarray(total, dtype=float)


def explain_all(linear: Linear, reduced: Reduced, trust: Floats) -> tuple[Bools, Bools]:
    """Explain every group that does not fit as it stands.

    Parameters
    ----------
    linear : Linear
    reduced : Reduced
    trust : (G, R) array
        Weight of each row if it is good; 0 where there is none.

    Returns
    -------
    dropped, suspects : (G, R) bool arrays
        As in `Explanation`.
    """
    others = without(reduced)
    odd = np.flatnonzero(solve_local(linear, others, trust).cost > min(PRICE, ASYMMETRY_PRICE))
    dropped = np.zeros(trust.shape, bool)
    suspects = np.zeros(trust.shape, bool)
    for group in odd:
        found = explain(*pick(linear, others, int(group)), trust[group])
        dropped[group], suspects[group] = found.dropped, found.suspects
    return dropped, suspects

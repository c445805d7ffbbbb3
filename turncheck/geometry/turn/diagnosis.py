"""Which placings do not fit the body, and how surely the drawing can be named.

For each group of landmarks every small set of its observations is dropped in turn, the rest solved
again together with what all other groups say of the views, and the sets compared by what they leave
unexplained (chi-square) plus a price per dropped observation.
"""

from functools import cache

import numpy as np

from turncheck.geometry.turn.adjustment import Equations
from turncheck.numerics.arrays import Bools, Floats

#: Chi-square a dropped placing must save: 3.5 standard uncertainties, one clean placing in 2000.
#: Other values: tests/figures/turn.md.
CHI_SQUARE_PLACING = 12.0

#: The same for giving up a group's symmetry, both equations at once: a posed limb is no rarity.
#: Other values: tests/figures/turn.md.
CHI_SQUARE_ASYMMETRY = 9.0

#: Explanations within this much of the best one are not told apart (odds of 12 to 1).
#: Other values: tests/figures/turn.md.
CHI_SQUARE_ALIKE = 5.0

#: Observations of one group beyond which no explanation is sought.
DROPPED_MOST = 5


def solve_local(equations: Equations, others: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Solve groups with (..., R) weights of their own, what the others say being unchanged.

    Returns
    -------
    residual
        (..., R) whitened residual of every observation, dropped ones included.
    leverage
        (..., R) variance of the modelled value in units of the observation's own.
    """
    _, residual, covariance = _solved(equations, others, weight)
    design = equations.design
    return residual, ((design @ covariance) * design).sum(axis=-1)


def _solved(equations: Equations, others: Floats, weight: Floats) -> tuple[Floats, Floats, Floats]:
    """Return (...,) the chi-square left over, (..., R) residuals, and the solution's covariance."""
    info = equations.weighed(weight)
    info[..., 4:, 4:] += others
    covariance: Floats = np.asarray(np.linalg.inv(info[..., :-1, :-1]), dtype=np.float64)
    rhs = info[..., :-1, -1]
    move = (covariance @ rhs[..., None])[..., 0]
    residual = equations.residual - (equations.design @ move[..., None])[..., 0]
    return info[..., -1, -1] - (rhs * move).sum(axis=-1), residual, covariance


def explain_all(equations: Equations, others: Floats, trust: Floats) -> tuple[Bools, Bools, Bools]:
    """Explain every group that does not fit as it stands.

    Parameters
    ----------
    trust
        (G, R) weight of each observation if it is good; 0 where there is none.

    Returns
    -------
    dropped
        (G, R) the observations that the best explanation leaves out.
    suspects
        (G, R) those that any explanation as good as the best one leaves out.
    certain
        (G, R) those that all of them leave out.
    """
    cost, residual, covariance = _solved(equations, others, trust)
    dropped, suspects, certain = np.zeros((3, *trust.shape), bool)
    bad = np.flatnonzero(cost > min(CHI_SQUARE_PLACING, CHI_SQUARE_ASYMMETRY))
    root = np.sqrt(trust[bad])
    design = root[..., None] * equations.design[bad]
    spread = np.eye(trust.shape[1]) - design @ covariance[bad] @ np.swapaxes(design, 1, 2)
    left, live = root * residual[bad], trust[bad] > 0
    tried = _small_sets(trust.shape[1])
    costs = cost[bad, None] - _saved(left, spread, tried) + _price(tried)
    for n, group in enumerate(bad):
        own = ~(tried[:, :-2] & ~live[n, :-2]).any(axis=1)
        own &= live[n, -2:].any() | ~tried[:, -1]
        dropped[group], suspects[group], certain[group] = _explain(
            float(cost[group]), left[n], spread[n], live[n], tried[own] & live[n], costs[n, own]
        )
    return dropped, suspects, certain


@cache
def _small_sets(count: int) -> Bools:
    """Return all sets of up to two units, (S, R), the smallest first.

    A unit is one placing, or the group's symmetry: a limb that is posed leaves it in width and
    depth alike.
    """
    units = np.eye(count, dtype=bool)[:-1]
    units[-1, -1] = True
    first, second = np.triu_indices(len(units), k=1)
    return np.vstack([np.zeros((1, count), bool), units, units[first] | units[second]])


def _explain(
    whole: float, left: Floats, spread: Floats, live: Bools, tried: Bools, costs: Floats
) -> tuple[Bools, Bools, Bools]:
    """Find the cheapest sets of observations to drop in one group; as `explain_all`.

    Larger sets than those that are tried already, at their costs, grow from the best.

    Parameters
    ----------
    whole, left, spread
        What the group's fit leaves: chi-square; (R,) residuals over their stated uncertainty;
        (R, R) their covariance, 1 where nothing of an observation went into the fit.
    """
    units = tried[1 : 1 + live[:-2].sum() + live[-2:].any()]
    best, improved = tried[costs.argmin()], True
    most = min(DROPPED_MOST, live.sum() - 1)
    while improved and best.sum() < most and costs.min() - _price(best) > CHI_SQUARE_PLACING:
        seeds = tried[np.argsort(costs, kind="stable")[:3]]
        grown = np.vstack([seed | units for seed in seeds])
        known = {*_keys(tried)}
        fresh = {key: n for n, key in enumerate(_keys(grown)) if key not in known}
        new = grown[[*fresh.values()]]
        new_costs = whole - _saved(left, spread, new) + _price(new)
        improved = bool(new_costs.min(initial=np.inf) < costs.min())
        tried, costs = np.vstack([tried, new]), np.r_[costs, new_costs]
        best = tried[costs.argmin()]
    near = tried[(costs <= costs.min() + CHI_SQUARE_ALIKE) & (tried.any(axis=1) | ~best.any())]
    # a set that holds another good set only adds an innocent observation
    inside = ~(near[:, None] & ~near).any(axis=2)
    least = near[inside.sum(axis=0) == 1]
    return best, least.any(axis=0), least.all(axis=0)


def _keys(sets: Bools) -> list[bytes]:
    """Return what tells each of some sets, (S, R), from the others."""
    found: list[bytes] = sets.view(f"V{sets.shape[1]}")[:, 0].tolist()
    return found


def _saved(left: Floats, spread: Floats, dropped: Bools) -> Floats:
    """Return how much less a fit leaves without some observations, (..., S, R) to (..., S).

    r' C^-1 r of the residuals of those that are dropped and their covariance (Cook and Weisberg
    1982, Residuals and Influence in Regression, 2.2). `left` (..., R), `spread` (..., R, R).
    """
    most = int(dropped.sum(axis=1).max(initial=1))
    # those that are dropped first
    at = np.argsort(~dropped, axis=1, kind="stable")[:, :most]
    used = np.take_along_axis(dropped, at, axis=1)
    some = left[..., at] * used
    both = used[:, :, None] & used[:, None, :]
    covariance = np.where(both, spread[..., at[:, :, None], at[:, None, :]], np.eye(most))
    covariance = covariance + 1e-9 * np.eye(most)
    saved: Floats = (some * np.linalg.solve(covariance, some[..., None])[..., 0]).sum(axis=-1)
    return saved


def _price(dropped: Bools) -> Floats:
    """Return the price of sets of dropped observations, (..., R) to (...,)."""
    placings, symmetry = dropped[..., :-2].sum(axis=-1), dropped[..., -2:].any(axis=-1)
    return np.asarray(CHI_SQUARE_PLACING * placings + CHI_SQUARE_ASYMMETRY * symmetry)

"""Which placings do not fit the body, and how surely the drawing can be named.

For each group of landmarks every small set of its observations is dropped in turn, the rest solved
again together with what all other groups say of the views, and the sets compared by what they leave
unexplained (chi-square) plus a price per dropped observation.
"""

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


def solve_local(
    equations: Equations, others: Floats, weight: Floats
) -> tuple[Floats, Floats, Floats]:
    """Solve groups with (..., R) weights of their own, what the others say being unchanged.

    Returns
    -------
    cost
        (...,) chi-square left over.
    residual
        (..., R) whitened residual of every observation, dropped ones included.
    leverage
        (..., R) variance of the modelled value in units of the observation's own.
    """
    cost, residual, covariance = _solved(equations, others, weight)
    design = equations.design
    return cost, residual, ((design @ covariance) * design).sum(axis=-1)


def _solved(equations: Equations, others: Floats, weight: Floats) -> tuple[Floats, Floats, Floats]:
    """As `solve_local`, but with the (..., P, P) covariance of what is solved for the leverage."""
    info = equations.weighed(weight)
    info[..., 4:, 4:] += others
    covariance: Floats = np.asarray(np.linalg.inv(info[..., :-1, :-1]), dtype=np.float64)
    rhs = info[..., :-1, -1]
    move = (covariance @ rhs[..., None])[..., 0]
    residual = equations.residual - (equations.design @ move[..., None])[..., 0]
    return info[..., -1, -1] - (rhs * move).sum(axis=-1), residual, covariance


def _explain(
    whole: float, left: Floats, spread: Floats, trust: Floats
) -> tuple[Bools, Bools, Bools]:
    """Find the cheapest sets of observations to drop in one group; as `explain_all`.

    Sets of up to two units are all tried, larger ones grow from the best; a unit is one placing,
    or the group's symmetry: a limb that is posed leaves it in width and depth alike.

    Parameters
    ----------
    whole, left, spread
        What the group's fit leaves: chi-square; (R,) residuals over their stated uncertainty;
        (R, R) their covariance, 1 where nothing of an observation went into the fit.
    """

    def cost(dropped: Bools) -> Floats:
        return whole - _saved(left, spread, dropped) + _price(dropped)

    live, count = trust > 0, len(trust)
    units = np.eye(count, dtype=bool)[np.flatnonzero(live)]
    symmetry = np.zeros(count, bool)
    symmetry[-2:] = live[-2:]
    if symmetry.any():
        units = np.vstack([units[: -symmetry.sum()], symmetry])
    first, second = np.triu_indices(len(units), k=1)
    tried = np.vstack([np.zeros((1, count), bool), units, units[first] | units[second]])
    costs = cost(tried)
    best, improved = tried[costs.argmin()], True
    most = min(DROPPED_MOST, live.sum() - 1)
    while improved and best.sum() < most and costs.min() - _price(best) > CHI_SQUARE_PLACING:
        seeds = tried[np.argsort(costs, kind="stable")[:3]]
        grown = np.vstack([seed | units for seed in seeds])
        known = {*_keys(tried)}
        fresh = {key: n for n, key in enumerate(_keys(grown)) if key not in known}
        new = grown[[*fresh.values()]]
        new_costs = cost(new)
        improved = bool(new_costs.min(initial=np.inf) < costs.min())
        tried, costs = np.vstack([tried, new]), np.r_[costs, new_costs]
        best = tried[costs.argmin()]
    near = tried[(costs <= costs.min() + CHI_SQUARE_ALIKE) & (tried.any(axis=1) | ~best.any())]
    least: list[Bools] = []  # a set that holds another good set only adds an innocent observation
    for one in near[np.argsort(near.sum(axis=1), kind="stable")]:
        if not any((inner <= one).all() for inner in least):
            least.append(one)
    return best, np.any(least, axis=0), np.all(least, axis=0)


def _keys(sets: Bools) -> list[bytes]:
    """Return what tells each of some sets, (S, R), from the others."""
    found: list[bytes] = sets.view(f"V{sets.shape[1]}")[:, 0].tolist()
    return found


def _saved(left: Floats, spread: Floats, dropped: Bools) -> Floats:
    """Return how much less a fit leaves without some observations, (S, R) to (S,).

    r' C^-1 r of the residuals of those that are dropped and their covariance (Cook and Weisberg
    1982, Residuals and Influence in Regression, 2.2).
    """
    count = dropped.sum(axis=1)
    most = int(count.max(initial=1))
    used = np.arange(most) < count[:, None]
    at = np.zeros(used.shape, dtype=np.intp)
    at[used] = np.flatnonzero(dropped) % dropped.shape[1]
    some = np.where(used, left[at], 0.0)
    both = used[:, :, None] & used[:, None, :]
    covariance = np.where(both, spread[at[:, :, None], at[:, None, :]], np.eye(most))
    covariance = covariance + 1e-9 * np.eye(most)
    saved: Floats = (some * np.linalg.solve(covariance, some[..., None])[..., 0]).sum(axis=1)
    return saved


def _price(dropped: Bools) -> Floats:
    """Return the price of sets of dropped observations, (..., R) to (...,)."""
    placings, symmetry = dropped[..., :-2].sum(axis=-1), dropped[..., -2:].any(axis=-1)
    return np.asarray(CHI_SQUARE_PLACING * placings + CHI_SQUARE_ASYMMETRY * symmetry)


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
    left = np.sqrt(trust) * residual
    dropped, suspects, certain = np.zeros((3, *trust.shape), bool)
    for group in np.flatnonzero(cost > min(CHI_SQUARE_PLACING, CHI_SQUARE_ASYMMETRY)):
        design = np.sqrt(trust[group])[:, None] * equations.design[group]
        spread = np.eye(len(design)) - design @ covariance[group] @ design.T
        dropped[group], suspects[group], certain[group] = _explain(
            float(cost[group]), left[group], spread, trust[group]
        )
    return dropped, suspects, certain

"""Which placings do not fit the body, and how surely the drawing can be named.

For each group of landmarks every small set of its observations is dropped in turn, the rest solved
again together with what all other groups say of the views, and the sets compared by what they leave
unexplained (chi-square) plus a price per dropped observation.
"""

from itertools import combinations

import numpy as np

from turncheck.geometry.turn.adjustment import ObservationEquations
from turncheck.numerics.arrays import Bools, Floats, Ints

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
    equations: ObservationEquations, others: tuple[Floats, Floats], weight: Floats
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
    design = equations.design
    info, rhs = equations.weighed(weight)
    info[..., :-4, :-4] += others[0]
    rhs[..., :-4] += others[1]
    cov = np.linalg.inv(info)
    move = (cov @ rhs[..., None])[..., 0]
    residual = equations.residual - (design @ move[..., None])[..., 0]
    cost = (weight * equations.residual**2).sum(axis=-1) - (rhs * move).sum(axis=-1)
    return cost, residual, ((design @ cov) * design).sum(axis=-1)


def pick(
    equations: ObservationEquations, others: tuple[Floats, Floats], groups: Ints | int
) -> tuple[ObservationEquations, tuple[Floats, Floats]]:
    """Take the equations of some groups, with what the others say to each."""
    info, rhs = others
    own = ObservationEquations(equations.residual[groups], equations.design[groups])
    return own, (info[groups], rhs[groups])


def explain(
    equations: ObservationEquations, others: tuple[Floats, Floats], trust: Floats
) -> tuple[Bools, Bools, Bools]:
    """Find the cheapest sets of observations to drop in one group; as `explain_all`.

    Sets of up to two units are all tried, larger ones grow from the best; a unit is one placing,
    or the group's symmetry: a limb that is posed leaves it in width and depth alike.
    """

    def cost(dropped: Bools) -> Floats:
        return solve_local(equations, others, trust * ~dropped)[0] + _price(dropped)

    live, count = trust > 0, len(trust)
    units = np.eye(count, dtype=bool)[np.flatnonzero(live)]
    symmetry = np.zeros(count, bool)
    symmetry[-2:] = live[-2:]
    if symmetry.any():
        units = np.vstack([units[: -symmetry.sum()], symmetry])
    pairs = [a | b for a, b in combinations(units, 2)]
    tried = np.unique(np.array([np.zeros(count, bool), *units, *pairs]), axis=0)
    costs = cost(tried)
    best, improved = tried[costs.argmin()], True
    most = min(DROPPED_MOST, live.sum() - 1)
    while improved and best.sum() < most and costs.min() - _price(best) > CHI_SQUARE_PLACING:
        seeds = tried[np.argsort(costs, kind="stable")[:3]]
        grown = np.unique((seeds[:, None, :] | units).reshape(-1, count), axis=0)
        new = grown[~(grown[:, None, :] == tried).all(axis=2).any(axis=1)]
        new_costs = cost(new)
        improved = bool(new_costs.min(initial=np.inf) < costs.min())
        tried, costs = np.vstack([tried, new]), np.r_[costs, new_costs]
        best = tried[costs.argmin()]
    near = tried[(costs <= costs.min() + CHI_SQUARE_ALIKE) & (tried.any(axis=1) | ~best.any())]
    # a set that holds another good set only adds an innocent observation
    within = (near[:, None, :] <= near).all(axis=2) & ~(near[:, None, :] == near).all(axis=2)
    least = near[~within.any(axis=0)]
    return best, least.any(axis=0), least.all(axis=0)


def _price(dropped: Bools) -> Floats:
    """Return the price of sets of dropped observations, (..., R) to (...,)."""
    placings, symmetry = dropped[..., :-2].sum(axis=-1), dropped[..., -2:].any(axis=-1)
    return np.asarray(CHI_SQUARE_PLACING * placings + CHI_SQUARE_ASYMMETRY * symmetry)


def explain_all(
    equations: ObservationEquations, others: tuple[Floats, Floats], trust: Floats
) -> tuple[Bools, Bools, Bools]:
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
    cost = solve_local(equations, others, trust)[0]
    dropped, suspects, certain = np.zeros((3, *trust.shape), bool)
    for group in np.flatnonzero(cost > min(CHI_SQUARE_PLACING, CHI_SQUARE_ASYMMETRY)):
        alone, said = pick(equations, others, int(group))
        dropped[group], suspects[group], certain[group] = explain(alone, said, trust[group])
    return dropped, suspects, certain

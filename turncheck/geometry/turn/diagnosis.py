"""Which placings do not fit the body, and how surely the drawing can be named.

For each group of landmarks every small set of its observations is dropped in turn, the rest solved
again together with what all other groups say of the views, and the sets compared by what they leave
unexplained (chi-square) plus a price per dropped observation.
"""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from turncheck.geometry.turn.adjustment import POSITION_INFO, NormalEquations, ObservationEquations
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


@dataclass(frozen=True)
class Others:
    """What all other groups say of the view numbers, seen from one group.

    Attributes
    ----------
    info, rhs
        (..., n, n) and (..., n) information and right-hand side without the group.
    """

    info: Floats
    rhs: Floats


def without(normal: NormalEquations) -> Others:
    """Take each group's own share out of the normal equations; arrays lead with (G,)."""
    return Others(normal.info - normal.group_info, normal.rhs - normal.group_rhs)


@dataclass(frozen=True)
class Local:
    """Groups solved with weights of their own, the other groups unchanged.

    Attributes
    ----------
    cost
        (...,) chi-square left over.
    residual
        (..., R) whitened residual of every observation, dropped ones included.
    leverage
        (..., R) variance of the modelled value in units of the observation's own.
    """

    cost: Floats
    residual: Floats
    leverage: Floats


def solve_local(equations: ObservationEquations, others: Others, weight: Floats) -> Local:
    """Solve view numbers and points jointly for batches that share leading shapes with `weight`."""
    design = np.concatenate([equations.by_view, equations.by_point], axis=-1)
    views = equations.by_view.shape[-1]
    heavy = np.swapaxes(design * weight[..., None], -1, -2)
    info = heavy @ design
    rhs = (heavy @ equations.residual[..., None])[..., 0]
    info[..., :views, :views] += others.info
    rhs[..., :views] += others.rhs
    info[..., views:, views:] += POSITION_INFO * np.eye(4)
    cov = np.linalg.inv(info)
    move = (cov @ rhs[..., None])[..., 0]
    residual = equations.residual - (design @ move[..., None])[..., 0]
    cost = (weight * equations.residual**2).sum(axis=-1) - (rhs * move).sum(axis=-1)
    leverage = ((design @ cov) * design).sum(axis=-1)
    return Local(cost, residual, leverage)


def pick(
    equations: ObservationEquations, others: Others, group: Ints | int
) -> tuple[ObservationEquations, Others]:
    """Take the equations of some groups, with what the others say to each."""
    return (
        ObservationEquations(
            equations.residual[group], equations.by_view[group], equations.by_point[group]
        ),
        Others(others.info[group], others.rhs[group]),
    )


@dataclass(frozen=True)
class Explanation:
    """Which of one group's observations do not fit; (R,) bool arrays.

    Attributes
    ----------
    dropped
        Those that the best explanation leaves out.
    suspects
        Those that any explanation as good as the best one leaves out.
    """

    dropped: Bools
    suspects: Bools


def explain(equations: ObservationEquations, others: Others, trust: Floats) -> Explanation:
    """Find the cheapest sets of observations to drop in one group.

    Sets of up to two units are all tried, larger ones grow from the best; a unit is one placing,
    or the group's symmetry: a limb that is posed leaves it in width and depth alike.
    """
    live, count = trust > 0, len(trust)
    units = np.eye(count, dtype=bool)[np.flatnonzero(live)]
    symmetry = np.zeros(count, bool)
    symmetry[-2:] = live[-2:]
    if symmetry.any():
        units = np.vstack([units[: -symmetry.sum()], symmetry])
    trials = [np.zeros(count, bool), *units]
    trials += [a | b for a, b in combinations(units, 2)]
    tried = np.unique(np.array(trials), axis=0)
    costs = _costs(equations, others, trust, tried)
    best = tried[costs.argmin()]
    while True:
        left = costs.min() - _price(best)
        if left <= CHI_SQUARE_PLACING or best.sum() >= min(DROPPED_MOST, live.sum() - 1):
            break
        seeds = tried[np.argsort(costs, kind="stable")[:3]]
        grown = np.unique((seeds[:, None, :] | units).reshape(-1, count), axis=0)
        new = grown[~(grown[:, None, :] == tried).all(axis=2).any(axis=1)]
        if not len(new):
            break
        grown_costs = _costs(equations, others, trust, new)
        improved = grown_costs.min() < costs.min()
        tried, costs = np.vstack([tried, new]), np.r_[costs, grown_costs]
        best = tried[costs.argmin()]
        if not improved:
            break
    near = tried[(costs <= costs.min() + CHI_SQUARE_ALIKE) & (tried.any(axis=1) | ~best.any())]
    # a set that holds another good set only adds an innocent observation
    within = (near[:, None, :] <= near).all(axis=2) & ~(near[:, None, :] == near).all(axis=2)
    minimal = near[~within.any(axis=0)]
    return Explanation(best, minimal.any(axis=0))


def _costs(
    equations: ObservationEquations, others: Others, trust: Floats, dropped: Bools
) -> Floats:
    local = solve_local(equations, others, trust * ~dropped)
    return np.asarray(local.cost + _price(dropped), dtype=float)


def _price(dropped: Bools) -> Floats:
    """Return the price of sets of dropped observations, (..., R) to (...,)."""
    placings, symmetry = dropped[..., :-2], dropped[..., -2:]
    total = CHI_SQUARE_PLACING * placings.sum(axis=-1) + CHI_SQUARE_ASYMMETRY * symmetry.any(
        axis=-1
    )
    return np.asarray(total, dtype=float)


def explain_all(
    equations: ObservationEquations, normal: NormalEquations, trust: Floats
) -> tuple[Bools, Bools]:
    """Explain every group that does not fit as it stands.

    Parameters
    ----------
    trust
        (G, R) weight of each observation if it is good; 0 where there is none.

    Returns
    -------
    dropped, suspects
        (G, R) as in `Explanation`.
    """
    others = without(normal)
    odd = np.flatnonzero(
        solve_local(equations, others, trust).cost > min(CHI_SQUARE_PLACING, CHI_SQUARE_ASYMMETRY)
    )
    dropped = np.zeros(trust.shape, bool)
    suspects = np.zeros(trust.shape, bool)
    for group in odd:
        found = explain(*pick(equations, others, int(group)), trust[group])
        dropped[group], suspects[group] = found.dropped, found.suspects
    return dropped, suspects

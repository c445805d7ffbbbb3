"""A robust start: weights tightened from all-embracing to the stated uncertainties."""

from dataclasses import dataclass, replace

import numpy as np

from turncheck.geometry.turn.rows import Floats, Frame, Rows, State, linearise, settle, step

TUKEY = 4.685
"""Tukey's biweight constant, 95 % efficient on clean normal errors.

Holland and Welsch 1977, from memory.
"""

COOLING = 0.6
"""Factor between two levels of the annealing.

Chosen by the measurement in DEVELOPERS.md: 0.3 is too fast, 0.8 only takes longer.
"""

MESSY = 0.08
"""Share of placings without weight from which on one start is not trusted.

Chosen by the measurement in DEVELOPERS.md: beyond it wrong solutions are kept.
"""

NEARBY = 6.0
"""Degrees from the nominal yaw at which others are tried.

Chosen by the measurement in DEVELOPERS.md: 2 to 12 do as well.
"""

RELEASE = 3.0
"""Standard uncertainties at which held yaws are let go.

Chosen by the measurement in DEVELOPERS.md: fewer do as well, twice as many do not.
"""


@dataclass(frozen=True)
class Annealed:
    """A robust solution, not yet diagnosed.

    Attributes
    ----------
    state : State
    weight : (G, R) array
    cost : float
        Tukey's loss in units of chi-square, and the yaws' distance from the expected ones.
    """

    state: State
    weight: Floats
    cost: float


def anneal(rows: Rows, yaw: Floats, frame: Frame) -> Annealed:
    """Anneal from a least-squares solution of everything, begun at the given yaws."""
    state = settle(rows, _start(rows, yaw), _held(frame), rows.live, most=1)
    state = settle(rows, state, frame, rows.live, most=3, enough=1e-3)
    return _finish(rows, _cool(rows, state, frame, _width(rows, state, frame)), frame)


def anneal_held(rows: Rows, yaw: Floats, frame: Frame) -> Annealed:
    """Anneal body and axes with the yaws held, then let the yaws go."""
    held = _held(frame)
    state = settle(rows, _start(rows, yaw), held, rows.live, most=2)
    state = _cool(rows, state, held, _width(rows, state, held))
    return _finish(rows, _cool(rows, state, frame, RELEASE), frame)


def search(rows: Rows, frame: Frame) -> Annealed:
    """Anneal from the expected yaws; where much does not fit, from others near them as well.

    Least squares is a poor start when many placings are bad: of the solutions it may miss, the one
    with the least loss is kept.
    """
    first = anneal(rows, frame.centre, frame)
    if disagreeing(rows, first).sum() <= MESSY * rows.seen.sum():
        return first
    starts = [frame.centre, first.state.yaw]
    for v in frame.free[frame.free < len(frame.centre)]:
        for turn in (-NEARBY, NEARBY):
            near = frame.centre.copy()
            near[v] += np.radians(turn)
            starts.append(near)
    found = [first, *(anneal_held(rows, yaw, frame) for yaw in starts)]
    return min(found, key=lambda one: one.cost)


def disagreeing(rows: Rows, found: Annealed) -> Floats:
    """Count the placings without weight in each view, (V,)."""
    groups, _, views = rows.x.shape
    weight = found.weight[:, : 2 * views].reshape(groups, 2, views)
    return np.asarray((rows.seen & (weight < 0.25)).sum(axis=(0, 1)), dtype=float)


def _start(rows: Rows, yaw: Floats) -> State:
    """Put each view's axis in the middle of its placings, with no body yet."""
    middle = [
        float(np.median(rows.x[:, :, v][rows.seen[:, :, v]])) if rows.busy[v] else 0.0
        for v in range(len(yaw))
    ]
    return State(yaw.copy(), np.array(middle), np.zeros((len(rows.x), 4)))


def _held(frame: Frame) -> Frame:
    return replace(frame, free=frame.free[frame.free >= len(frame.centre)])


def _width(rows: Rows, state: State, frame: Frame) -> float:
    misfit = np.abs(linearise(rows, state, frame).misfit)
    return float(np.quantile(misfit[rows.live > 0], 0.9)) / 2.0


def _cool(rows: Rows, state: State, frame: Frame, wide: float) -> State:
    while wide > 1.0:
        state, _ = step(rows, state, frame, _tukey(rows, state, frame, wide))
        wide *= COOLING
    return state


def _finish(rows: Rows, state: State, frame: Frame) -> Annealed:
    for _ in range(6):
        state, size = step(rows, state, frame, _tukey(rows, state, frame, 1.0))
        if size < 1e-5:
            break
    ratio = np.minimum(np.abs(linearise(rows, state, frame).misfit) / TUKEY, 1.0)
    loss = TUKEY**2 / 3.0 * (1.0 - (1.0 - ratio**2) ** 3)
    prior = frame.prior_info * ((state.yaw - frame.centre) ** 2).sum()
    cost = float((rows.live * loss).sum() + prior)
    return Annealed(state, _tukey(rows, state, frame, 1.0), cost)


def _tukey(rows: Rows, state: State, frame: Frame, wide: float) -> Floats:
    ratio = np.minimum(np.abs(linearise(rows, state, frame).misfit) / (TUKEY * wide), 1.0)
    return np.asarray(rows.live * (1.0 - ratio**2) ** 2, dtype=float)

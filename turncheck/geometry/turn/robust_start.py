"""A robust start: Tukey's weights, narrowed from everything to the stated uncertainties."""

from dataclasses import dataclass, replace

import numpy as np

from turncheck.geometry.turn.adjustment import (
    Frame,
    Observations,
    State,
    gauss_newton,
    gauss_newton_step,
    observation_equations,
)
from turncheck.numerics.arrays import Floats
from turncheck.numerics.robust import TUKEY_C, biweight_losses, biweights

#: Factor between one width of the weights and the next. Chosen by the measurement in
#: tests/figures/turn.md: 0.3 is too fast, 0.8 only takes longer.
START_NARROWING = 0.6

#: Share of placings without weight from which on one start is not trusted. Chosen by the
#: measurement in tests/figures/turn.md: beyond it wrong solutions are kept.
START_DISAGREEING_SHARE = 0.08

#: Degrees from the nominal yaw at which others are tried. Chosen by the measurement in
#: tests/figures/turn.md: 2 to 12 do as well.
START_YAW_OFFSET = 6.0

#: Width of the weights, in standard uncertainties, at which held yaws are let go. Chosen by the
#: measurement in tests/figures/turn.md: fewer do as well, twice as many do not.
START_RELEASE_WIDTH = 3.0

#: Weight below which a placing does not fit; common practice, no source.
WEIGHT_LEAST = 0.25


@dataclass(frozen=True)
class RobustStart:
    """A robust solution, not yet diagnosed.

    Attributes
    ----------
    weight
        (G, R) Tukey's weights of the observations.
    cost
        Tukey's loss in units of chi-square, and the yaws' distance from the expected ones.
    """

    state: State
    weight: Floats
    cost: float


def robust_start(observed: Observations, yaw: Floats, frame: Frame) -> RobustStart:
    """Start from the least-squares solution of everything, begun at the given yaws."""
    state = gauss_newton(observed, _empty(observed, yaw), _held(frame), observed.live, most=1)
    state = gauss_newton(observed, state, frame, observed.live, most=3, enough=1e-3)
    width = _width(observed, state, frame)
    return _finished(observed, _narrowed(observed, state, frame, width), frame)


def robust_start_held(observed: Observations, yaw: Floats, frame: Frame) -> RobustStart:
    """Start from body and axes alone with the yaws held as given, then let the yaws go."""
    held = _held(frame)
    state = gauss_newton(observed, _empty(observed, yaw), held, observed.live, most=2)
    state = _narrowed(observed, state, held, _width(observed, state, held))
    return _finished(observed, _narrowed(observed, state, frame, START_RELEASE_WIDTH), frame)


def best_start(observed: Observations, frame: Frame) -> RobustStart:
    """Start from the expected yaws; where much does not fit, from others near them as well.

    Least squares is a poor start when many placings are bad: of the solutions it may miss, the one
    with the least loss is kept.
    """
    first = robust_start(observed, frame.centre, frame)
    if disagreeing(observed, first).sum() <= START_DISAGREEING_SHARE * observed.seen.sum():
        return first
    starts = [frame.centre, first.state.yaw]
    for v in frame.free[frame.free < len(frame.centre)]:
        for turn in (-START_YAW_OFFSET, START_YAW_OFFSET):
            near = frame.centre.copy()
            near[v] += np.radians(turn)
            starts.append(near)
    found = [first, *(robust_start_held(observed, yaw, frame) for yaw in starts)]
    return min(found, key=lambda one: one.cost)


def disagreeing(observed: Observations, found: RobustStart) -> Floats:
    """Count the placings that do not fit in each view, (V,)."""
    groups, _, views = observed.x.shape
    weight = found.weight[:, : 2 * views].reshape(groups, 2, views)
    return np.asarray((observed.seen & (weight < WEIGHT_LEAST)).sum(axis=(0, 1)), dtype=float)


def _empty(observed: Observations, yaw: Floats) -> State:
    """Put each view's axis in the middle of its placings, with no body yet."""
    middle = [
        float(np.median(observed.x[:, :, v][observed.seen[:, :, v]])) if observed.busy[v] else 0.0
        for v in range(len(yaw))
    ]
    points = np.zeros((len(observed.x), 4))
    return State(yaw.copy(), np.array(middle), np.zeros(len(yaw)), points)


def _held(frame: Frame) -> Frame:
    return replace(frame, free=frame.free[frame.free >= len(frame.centre)])


def _width(observed: Observations, state: State, frame: Frame) -> float:
    """Return a width of the weights at which nearly everything counts."""
    residual = np.abs(observation_equations(observed, state, frame).residual)
    return float(np.quantile(residual[observed.live > 0], 0.9)) / 2.0


def _narrowed(observed: Observations, state: State, frame: Frame, width: float) -> State:
    """Take a step at each width of the weights, from this one down to 1."""
    while width > 1.0:
        weight = _weight(observed, state, frame, width)
        state, _ = gauss_newton_step(observed, state, frame, weight)
        width *= START_NARROWING
    return state


def _finished(observed: Observations, state: State, frame: Frame) -> RobustStart:
    for _ in range(6):
        weight = _weight(observed, state, frame, 1.0)
        state, size = gauss_newton_step(observed, state, frame, weight)
        if size < 1e-5:
            break
    residual = observation_equations(observed, state, frame).residual
    loss = float((observed.live * biweight_losses(residual, TUKEY_C)).sum())
    prior = frame.prior_info * ((state.yaw - frame.centre) ** 2).sum()
    return RobustStart(state, observed.live * biweights(residual, TUKEY_C), loss + float(prior))


def _weight(observed: Observations, state: State, frame: Frame, width: float) -> Floats:
    """Return (G, R) Tukey's weights of the observations at a state."""
    residual = observation_equations(observed, state, frame).residual
    return observed.live * biweights(residual, TUKEY_C * width)

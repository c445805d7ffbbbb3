"""A robust start: Tukey's weights, narrowed from everything to the stated uncertainties."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from turncheck.geometry.turn.adjustment import (
    Frame,
    Observations,
    State,
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
    """A robust solution, not yet diagnosed; of several at once, with an axis ahead of these.

    Attributes
    ----------
    weight
        (..., G, R) Tukey's weights of the observations.
    cost
        (...,) Tukey's loss in units of chi-square, and the yaws' distance from the expected ones.
    """

    state: State
    weight: Floats
    cost: Floats

    def one(self, at: int) -> RobustStart:
        """Return one of several."""
        state = State(self.state.numbers[at], self.state.points[at])
        return RobustStart(state, self.weight[at], self.cost[at])


def robust_start(observed: Observations, yaw: Floats, frame: Frame) -> RobustStart:
    """Start from the least-squares solution of everything, begun at the given (..., V) yaws."""
    state = _least_squares(observed, _empty(observed, yaw), _held(frame), most=1)
    state = _least_squares(observed, state, frame, most=3, enough=1e-3)
    width = _width(observed, state, frame)
    return _finished(observed, _narrowed(observed, state, frame, width), frame)


def robust_start_held(observed: Observations, yaw: Floats, frame: Frame) -> RobustStart:
    """Start from body and axes alone with the yaws held as given, then let the yaws go."""
    held = _held(frame)
    state = _least_squares(observed, _empty(observed, yaw), held, most=2)
    state = _narrowed(observed, state, held, _width(observed, state, held))
    release = np.full(yaw.shape[:-1], START_RELEASE_WIDTH)
    return _finished(observed, _narrowed(observed, state, frame, release), frame)


def best_start(observed: Observations, frame: Frame) -> RobustStart:
    """Start from the expected yaws; where much does not fit, from others near them as well.

    Least squares is a poor start when many placings are bad: of the solutions it may miss, the one
    with the least loss is kept.
    """
    first = robust_start(observed, frame.centre, frame)
    if disagreeing(observed, first).sum() <= START_DISAGREEING_SHARE * observed.seen.sum():
        return first
    turned = frame.free[frame.free < len(frame.centre)]
    near = np.repeat(frame.centre[None], 2 * len(turned), axis=0)
    offset = np.radians(START_YAW_OFFSET)
    near[range(len(near)), np.repeat(turned, 2)] += np.tile([-offset, offset], len(turned))
    others = robust_start_held(observed, np.vstack([frame.centre, first.state.yaw, near]), frame)
    best = int(others.cost.argmin())
    return others.one(best) if others.cost[best] < first.cost else first


def disagreeing(observed: Observations, found: RobustStart) -> Floats:
    """Count the placings that do not fit in each view, (V,)."""
    weight = found.weight[:, :-2].reshape(observed.seen.shape)
    return np.asarray((observed.seen & (weight < WEIGHT_LEAST)).sum(axis=(0, 1)), dtype=float)


def _empty(observed: Observations, yaw: Floats) -> State:
    """Put each view's axis in the middle of its placings, with no body yet."""
    middle = [
        float(np.median(observed.x[:, :, v][observed.seen[:, :, v]])) if busy else 0.0
        for v, busy in enumerate(observed.busy)
    ]
    numbers = np.concatenate([yaw, np.broadcast_to(middle, yaw.shape), np.zeros(yaw.shape)], -1)
    return State(numbers, np.zeros((*yaw.shape[:-1], len(observed.x), 4)))


def _held(frame: Frame) -> Frame:
    return replace(frame, free=frame.free[frame.free >= len(frame.scale_info)])


def _least_squares(
    observed: Observations, state: State, frame: Frame, most: int, enough: float = 1e-10
) -> State:
    """Take up to `most` steps with all observations, until nothing moves by more than `enough`."""
    moving = np.ones(state.numbers.shape[:-1], bool)
    for _ in range(most):
        equations = observation_equations(observed, state, frame)
        state, size = gauss_newton_step(equations, observed.live, state, frame, moving)
        moving &= size >= enough
        if not moving.any():
            break
    return state


def _width(observed: Observations, state: State, frame: Frame) -> Floats:
    """Return a width of the weights at which nearly everything counts; (...,)."""
    residual = np.abs(observation_equations(observed, state, frame).residual)
    return np.asarray(np.quantile(residual[..., observed.live > 0], 0.9, axis=-1)) / 2.0


def _narrowed(observed: Observations, state: State, frame: Frame, width: Floats) -> State:
    """Take a step at each width of the weights, from this one, (...,), down to 1."""
    while (width > 1.0).any():
        equations = observation_equations(observed, state, frame)
        residual = equations.residual / width[..., None, None]
        weight = observed.live * biweights(residual, TUKEY_C)
        state, _ = gauss_newton_step(equations, weight, state, frame, width > 1.0)
        width = width * START_NARROWING
    return state


def _finished(observed: Observations, state: State, frame: Frame) -> RobustStart:
    moving = np.ones(state.numbers.shape[:-1], bool)
    equations = observation_equations(observed, state, frame)
    for _ in range(6):
        weight = observed.live * biweights(equations.residual, TUKEY_C)
        state, size = gauss_newton_step(equations, weight, state, frame, moving)
        equations = observation_equations(observed, state, frame)
        moving &= size >= 1e-5
        if not moving.any():
            break
    residual = equations.residual
    loss = (observed.live * biweight_losses(residual, TUKEY_C)).sum(axis=(-2, -1))
    prior = frame.prior_info * ((state.yaw - frame.centre) ** 2).sum(axis=-1)
    return RobustStart(state, observed.live * biweights(residual, TUKEY_C), loss + prior)

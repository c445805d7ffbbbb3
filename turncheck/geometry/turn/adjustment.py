"""The least-squares adjustment of a turn: its observation equations, normal equations and steps.

Each placing is an observation, and so is each symmetry that is meant. They are grouped by pairs
of landmarks, since only the views' yaws and axes tie the groups together. Lengths are in figure
heights and angles in radians throughout this module; pixels and degrees belong to the callers.
Body frame: X to the picture's right in the front view, Z toward the viewer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from turncheck.numerics.arrays import Bools, Floats, Ints

#: Information (1 / H²) lent to every X, Z and axis: a body is about as deep as it is tall. It
#: damps the steps and bounds the stated variance of what no view shows; it never moves a solution.
POSITION_INFO = 1.0

#: The same for a yaw of which nothing is known: 1 / rad², a standard deviation of half a turn.
YAW_INFO = 0.1
_POSITION = POSITION_INFO * np.eye(4)


@dataclass(frozen=True)
class Observations:
    """What was placed, arranged in G groups of up to two landmarks.

    A group is a left/right pair or a single landmark; with the views' angles and axes held, the
    groups know nothing of each other, so each has four unknowns (Xa, Za, Xb, Zb) of its own.

    Attributes
    ----------
    x, sd
        (G, 2, V) placings and their standard uncertainties, figure heights of each view's own
        scale; 0 and 1 where not placed.
    seen
        (G, 2, V) which placings exist.
    symmetry
        (G, 2, 4) coefficients of the whitened symmetry equations on the group's unknowns; 0 where
        none is meant.
    members
        (G, 2) the landmarks' indices, -1 where the group is a single landmark.
    ahead
        Landmarks of which the first lies further forward in any body, by their indices.
    far
        (V,) 1 where of its pairs the left ones are hidden, -1 where the right ones are, else 0.
    """

    x: Floats
    sd: Floats
    seen: Bools
    symmetry: Floats
    members: Ints
    ahead: Sequence[tuple[int, int]]
    far: Floats

    @cached_property
    def busy(self) -> Bools:
        """Views with any placing, (V,)."""
        return np.asarray(self.seen.any(axis=(0, 1)), dtype=bool)

    @property
    def landmarks(self) -> int:
        """How many landmarks there are, N."""
        return int(self.members.max()) + 1

    @cached_property
    def live(self) -> Floats:
        """1 where there is an observation, 0 elsewhere; (G, R) with R = 2V + 2."""
        flat = self.seen.reshape(len(self.seen), -1)
        return np.concatenate([flat, np.any(self.symmetry, axis=2)], axis=1).astype(float)

    @cached_property
    def certain(self) -> Floats:
        """(G, 2, V) 1 / sd, 0 where not placed."""
        return self.seen / self.sd

    @cached_property
    def constant(self) -> Floats:
        """(G, R, 4 + 3V + 1) of all equations what is the same at every state, 0 elsewhere."""
        groups, _, views = self.x.shape
        whole = np.zeros((groups, 2 * views + 2, 3 * views + 5))
        whole[:, -2:, :4] = self.symmetry
        _by_view(whole, views)[..., 1] = self.certain
        return whole


@dataclass(frozen=True)
class State:
    """What the drawings are explained by; of several states at once, with axes ahead of these.

    Attributes
    ----------
    numbers
        (..., 3V) yaws, radians; axes, figure heights; and stretches: by how much each drawing is
        larger than its stated scale, as a natural logarithm.
    points
        (..., G, 4) the groups' unknowns, figure heights.
    """

    numbers: Floats
    points: Floats

    @property
    def yaw(self) -> Floats:
        """(..., V) radians."""
        return self.numbers[..., : self.numbers.shape[-1] // 3]

    @property
    def axis(self) -> Floats:
        """(..., V) figure heights."""
        views = self.numbers.shape[-1] // 3
        return self.numbers[..., views : 2 * views]

    @property
    def stretch(self) -> Floats:
        """(..., V) as of `numbers`."""
        return self.numbers[..., 2 * (self.numbers.shape[-1] // 3) :]


#: Longest step of a yaw, degrees, so that a bad start jumps over no turn. Chosen by the measurement
#: in tests/figures/turn.md: from 7 on longer ones do as well.
YAW_STEP_LARGEST = 15.0
#: Longest step of a drawing's size, as its logarithm: a factor of two, beyond which placings that
#: tell nothing of it would carry it without end; common practice, no source.
STRETCH_STEP_LARGEST = float(np.log(2.0))


@dataclass(frozen=True)
class Frame:
    """Which of the views' numbers are free, and what is believed of the yaws beforehand.

    Attributes
    ----------
    free
        Positions, in the 3V numbers (yaws, axes, stretches), of the n that are solved for.
    centre, prior_info
        (..., V) yaws expected beforehand, radians, and that expectation's information, 1 / rad².
    scale_info
        (V,) information on the logarithm of each stated scale; of those that are free.
    """

    free: Ints
    centre: Floats
    prior_info: float
    scale_info: Floats

    def _of_each(self, yaw: float, axis: float, stretch: Floats | float) -> Floats:
        """Return (n,) one value for each free number, by what it is."""
        views = len(self.scale_info)
        each = np.empty((3, views))
        each[0], each[1], each[2] = yaw, axis, stretch
        return each.ravel()[self.free]

    @cached_property
    def info(self) -> Floats:
        """(n, n) information of what is believed beforehand."""
        each = self._of_each(self.prior_info + YAW_INFO, POSITION_INFO, self.scale_info)
        return np.diag(each)

    @cached_property
    def longest(self) -> Floats:
        """(n,) the longest step of each number."""
        return self._of_each(np.radians(YAW_STEP_LARGEST), np.inf, STRETCH_STEP_LARGEST)

    @cached_property
    def columns(self) -> Ints:
        """(4 + n + 1,) the columns of all equations that are solved."""
        return np.array([*range(4), *(4 + self.free), 3 * len(self.scale_info) + 4])

    def pull(self, state: State) -> Floats:
        """Return (..., n) the right-hand side of what is believed beforehand."""
        views = len(self.scale_info)
        pull = np.zeros(state.numbers.shape)
        pull[..., :views] = self.prior_info * (self.centre - state.yaw)
        pull[..., 2 * views :] = -self.scale_info * state.stretch
        return pull.take(self.free, axis=-1)


@dataclass(frozen=True)
class Equations:
    """The equations of groups, linearised and divided by their standard uncertainties.

    Attributes
    ----------
    whole
        (..., G, R, 4 + n + 1): `design` and `residual`, side by side.
    """

    whole: Floats

    @property
    def design(self) -> Floats:
        """(..., G, R, 4 + n) derivative by the group's unknowns, then by the free numbers, / sd."""
        return self.whole[..., :-1]

    @property
    def residual(self) -> Floats:
        """(..., G, R) (measured - modelled) / sd: first the 2V placings, then two symmetries."""
        return self.whole[..., -1]

    def weighed(self, weight: Floats) -> Floats:
        """Return each group's information (..., G, 4 + n + 1, 4 + n + 1), right-hand side last."""
        info: Floats = np.swapaxes(self.whole * weight[..., None], -1, -2) @ self.whole
        info[..., :4, :4] += _POSITION
        return info


def _by_view(whole: Floats, views: int) -> Floats:
    """Return the (..., G, 2, V, 3) entries by each placing's own view's numbers, to be set."""
    numbers = whole[..., :-2, 4:-1].reshape(*whole.shape[:-2], 2, views, 3, views)
    entries: Floats = np.einsum("...vkv->...vk", numbers)
    return entries


def observation_equations(observed: Observations, state: State, frame: Frame) -> Equations:
    """Differentiate x = c + k (X cos θ + Z sin θ), k the stretch, and the symmetries at a state."""
    # a point's X - iZ times this is how far aside it falls, and how near, i times, less
    sight = np.exp(state.stretch + 1j * state.yaw)[..., None, None, :] * observed.certain
    turned = state.points.view(complex).conj()[..., None] * sight
    whole = np.empty((*state.points.shape[:-1], *observed.constant.shape[1:]))
    whole[...] = observed.constant
    placings = whole[..., :-2, :].reshape(*turned.shape, -1)
    by_points = placings[..., :4].reshape(*turned.shape, 2, 2)
    np.einsum("...mvmk->...mvk", by_points)[...] = sight.view(float).reshape(*sight.shape, 2)
    by_view = _by_view(whole, turned.shape[-1])
    by_view[..., 0], by_view[..., 2] = -turned.imag, turned.real
    apart = observed.x - state.axis[..., None, None, :]
    placings[..., -1] = apart * observed.certain - turned.real
    whole[..., -2:, -1] = -(observed.symmetry @ state.points[..., None])[..., 0]
    return Equations(whole.take(frame.columns, axis=-1))


@dataclass(frozen=True)
class NormalEquations:
    """The normal equations with each group's unknowns eliminated (Schur complement).

    Attributes
    ----------
    whole
        (..., n + 1, n + 1) information of the free numbers, prior included, right-hand side last.
    shares
        (..., G, n + 1, n + 1) each group's share of it.
    lean
        (..., G, 4, n + 1) how a group's unknowns lean against the numbers, and where they are
        drawn to.
    """

    whole: Floats
    shares: Floats
    lean: Floats

    @property
    def info(self) -> Floats:
        """(..., n, n) information of the free numbers."""
        return self.whole[..., :-1, :-1]

    @property
    def others(self) -> Floats:
        """(..., G, n + 1, n + 1) what all other groups say of the numbers, right-hand side last."""
        others = self.whole[..., None, :, :] - self.shares
        others[..., -1, :] = 0.0
        return others


def normal_equations(
    equations: Equations, weight: Floats, state: State, frame: Frame
) -> NormalEquations:
    """Form the normal equations at a state under (..., G, R) weights."""
    info = equations.weighed(weight)
    lean = np.asarray(np.linalg.solve(info[..., :4, :4], info[..., :4, 4:]), dtype=float)
    shares = info[..., 4:, 4:] - info[..., 4:, :4] @ lean
    whole = shares.sum(axis=-3)
    whole[..., :-1, :-1] += frame.info
    whole[..., :-1, -1] += frame.pull(state)
    return NormalEquations(whole, shares, lean)


def gauss_newton_step(
    equations: Equations,
    weight: Floats,
    state: State,
    frame: Frame,
    moving: Bools | bool = True,
) -> tuple[State, Floats]:
    """Take one Gauss-Newton step from a state; also return the largest change, (...,).

    Of several states those that are not `moving` stay where they are.
    """
    normal = normal_equations(equations, weight, state, frame)
    move = np.linalg.solve(normal.info, normal.whole[..., :-1, -1:])[..., 0]
    beyond = (np.abs(move) / frame.longest).max(axis=-1, initial=1.0)
    move *= (moving / beyond)[..., None]
    shift = normal.lean[..., -1] - (normal.lean[..., :-1] @ move[..., None, :, None])[..., 0]
    shift *= np.asarray(moving)[..., None, None]
    numbers = state.numbers.copy()
    numbers[..., frame.free] += move
    size = np.maximum(
        np.abs(move).max(axis=-1, initial=0.0), np.abs(shift).max(axis=(-2, -1), initial=0.0)
    )
    return State(numbers, state.points + shift), size

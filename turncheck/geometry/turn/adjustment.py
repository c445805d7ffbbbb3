"""The least-squares adjustment of a turn: its observation equations, normal equations and steps.

Each placing is an observation, and so is each symmetry that is meant. They are grouped by pairs
of landmarks, since only the views' yaws and axes tie the groups together. Lengths are in figure
heights and angles in radians throughout this module; pixels and degrees belong to the callers.
Body frame: X to the picture's right in the front view, Z toward the viewer.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from turncheck.numerics.arrays import Bools, Floats, Ints

#: Information (1 / H²) lent to every X, Z and axis: a body is about as deep as it is tall. It
#: damps the steps and bounds the stated variance of what no view shows; it never moves a solution.
POSITION_INFO = 1.0

#: The same for a yaw of which nothing is known: 1 / rad², a standard deviation of half a turn.
YAW_INFO = 0.1


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

    @property
    def busy(self) -> Bools:
        """Views with any placing, (V,)."""
        return np.asarray(self.seen.any(axis=(0, 1)), dtype=bool)

    @property
    def landmarks(self) -> int:
        """How many landmarks there are, N."""
        return int(self.members.max()) + 1

    @property
    def live(self) -> Floats:
        """1 where there is an observation, 0 elsewhere; (G, R) with R = 2V + 2."""
        flat = self.seen.reshape(len(self.seen), -1)
        return np.concatenate([flat, np.any(self.symmetry, axis=2)], axis=1).astype(float)


@dataclass(frozen=True)
class State:
    """Yaws (V,) in radians; axes (V,) and the groups' unknowns (G, 4) in figure heights.

    `stretch` (V,) is by how much a drawing is larger than its stated scale, as a natural logarithm.
    """

    yaw: Floats
    axis: Floats
    stretch: Floats
    points: Floats

    @property
    def numbers(self) -> Floats:
        """The views' 3V numbers: yaws, axes, stretches."""
        return np.concatenate([self.yaw, self.axis, self.stretch])


@dataclass(frozen=True)
class Frame:
    """Which of the views' numbers are free, and what is believed of the yaws beforehand.

    Attributes
    ----------
    free
        Positions, in the 3V numbers (yaws, axes, stretches), of the n that are solved for.
    centre, prior_info
        (V,) yaws expected beforehand, radians, and that expectation's information, 1 / rad².
    scale_info
        (V,) information on the logarithm of each stated scale; of those that are free.
    """

    free: Ints
    centre: Floats
    prior_info: float
    scale_info: Floats

    def prior(self, state: State) -> tuple[Floats, Floats]:
        """Information (n,) and right-hand side (n,) of the expectation."""
        views = len(self.centre)
        known = np.full(views, self.prior_info + YAW_INFO)
        info = np.r_[known, np.full(views, POSITION_INFO), self.scale_info]
        turn = self.prior_info * (self.centre - state.yaw)
        pull = np.r_[turn, np.zeros(views), -self.scale_info * state.stretch]
        return info[self.free], pull[self.free]


#: Longest step of a yaw, degrees, so that a bad start jumps over no turn. Chosen by the measurement
#: in tests/figures/turn.md: from 7 on longer ones do as well.
YAW_STEP_LARGEST = 15.0
#: Longest step of a drawing's size, as its logarithm: a factor of two, beyond which placings that
#: tell nothing of it would carry it without end; common practice, no source.
STRETCH_STEP_LARGEST = float(np.log(2.0))


@dataclass(frozen=True)
class GroupEquations:
    """The equations of some groups, linearised and divided by their standard uncertainties.

    Attributes
    ----------
    residual
        (..., R) (measured - modelled) / sd: first the 2V placings, then the two symmetries.
    design
        (..., R, n + 4) derivative of the modelled value by the free view numbers, then by the
        group's unknowns, / sd.
    """

    residual: Floats
    design: Floats

    def weighed(self, weight: Floats) -> tuple[Floats, Floats]:
        """Return information (..., n + 4, n + 4) and right-hand side (..., n + 4) of each group."""
        heavy = np.swapaxes(self.design * weight[..., None], -1, -2)
        info = heavy @ self.design
        info[..., -4:, -4:] += POSITION_INFO * np.eye(4)
        return info, (heavy @ self.residual[..., None])[..., 0]


@dataclass(frozen=True)
class ObservationEquations:
    """All groups' equations; a placing has to do with the three numbers of its own view alone.

    Attributes
    ----------
    residual
        (G, R) as of `GroupEquations`.
    by_view
        (G, 2, V, 3) derivative of each placing by its view's yaw, axis and stretch, / sd.
    by_points
        (G, R, 4) derivative by the group's unknowns, / sd.
    free
        (n,) as of `Frame`.
    """

    residual: Floats
    by_view: Floats
    by_points: Floats
    free: Ints

    @property
    def groups(self) -> GroupEquations:
        """The same with the view numbers that have nothing to do with a placing, too."""
        count, rows = self.residual.shape
        views = self.by_view.shape[2]
        full = np.zeros((count, 2, views, 3, views))
        np.einsum("gmvkv->gmvk", full)[...] = self.by_view
        design = np.zeros((count, rows, len(self.free) + 4))
        design[:, :-2, :-4] = full.reshape(count, rows - 2, -1)[:, :, self.free]
        design[:, :, -4:] = self.by_points
        return GroupEquations(self.residual, design)


def observation_equations(
    observed: Observations, state: State, frame: Frame
) -> ObservationEquations:
    """Differentiate x = c + k (X cos θ + Z sin θ), k the stretch, and the symmetries at a state."""
    groups, _, views = observed.x.shape
    scale = np.exp(state.stretch)
    cos, sin = np.cos(state.yaw) * scale, np.sin(state.yaw) * scale
    points = state.points.reshape(groups, 2, 2)
    along, deep = points[:, :, :1], points[:, :, 1:]
    weight = observed.seen / observed.sd
    aside = along * cos + deep * sin
    residual = (observed.x - state.axis - aside) * weight
    by_view = np.stack([(deep * cos - along * sin) * weight, weight, aside * weight], axis=-1)
    by_points = np.zeros((groups, 2 * views + 2, 4))
    for member in (0, 1):
        block, column = slice(member * views, (member + 1) * views), 2 * member
        by_points[:, block, column] = weight[:, member] * cos
        by_points[:, block, column + 1] = weight[:, member] * sin
    by_points[:, 2 * views :] = observed.symmetry
    broken = -(observed.symmetry @ state.points[:, :, None])[:, :, 0]
    residual = np.concatenate([residual.reshape(groups, -1), broken], axis=1)
    return ObservationEquations(residual, by_view, by_points, frame.free)


@dataclass(frozen=True)
class NormalEquations:
    """The normal equations with each group's unknowns eliminated (Schur complement).

    Attributes
    ----------
    info, rhs
        (n, n) and (n,) information and right-hand side of the free view numbers, prior included.
    view_info
        (G, V, 3, 3) each group's share of the information on each view's own numbers before its
        unknowns are eliminated.
    group_rhs
        (G, n) each group's share of the right-hand side.
    point_cov, point_rhs, coupling
        (G, 4, 4), (G, 4), (G, n, 4) what is needed to get the group's unknowns back.
    free
        (n,) as of `Frame`.
    """

    info: Floats
    rhs: Floats
    view_info: Floats
    group_rhs: Floats
    point_cov: Floats
    point_rhs: Floats
    coupling: Floats
    free: Ints

    @property
    def others(self) -> tuple[Floats, Floats]:
        """What all other groups say of the view numbers: (G, n, n) and (G, n)."""
        eliminated = self.coupling @ self.point_cov @ self.coupling.transpose(0, 2, 1)
        own = _of_all_numbers(self.view_info, self.free) - eliminated
        return self.info - own, self.rhs - self.group_rhs


def normal_equations(
    equations: ObservationEquations, weight: Floats, prior: tuple[Floats, Floats]
) -> NormalEquations:
    """Form the normal equations of the observations under (G, R) weights and a prior."""
    by_view, by_points, free = equations.by_view, equations.by_points, equations.free
    groups, _, views, _ = by_view.shape
    heavy = by_view * weight[:, :-2].reshape(groups, 2, views, 1)
    view_info = (heavy[..., :, None] * by_view[..., None, :]).sum(axis=1)
    view_rhs = (heavy * equations.residual[:, :-2].reshape(groups, 2, views, 1)).sum(axis=1)
    placings = by_points[:, :-2].reshape(groups, 2, views, 4)
    coupling = np.einsum("gmvk,gmvp->gkvp", heavy, placings).reshape(groups, 3 * views, 4)[:, free]
    heavy_points = np.swapaxes(by_points * weight[:, :, None], 1, 2)
    point_rhs = (heavy_points @ equations.residual[:, :, None])[:, :, 0]
    point_info = heavy_points @ by_points + POSITION_INFO * np.eye(4)
    point_cov = np.asarray(np.linalg.inv(point_info), dtype=float)
    back = coupling @ point_cov
    numbers = view_rhs.transpose(0, 2, 1).reshape(groups, 3 * views)[:, free]
    group_rhs = numbers - (back @ point_rhs[:, :, None])[:, :, 0]
    eliminated = np.tensordot(back, coupling, axes=((0, 2), (0, 2)))
    return NormalEquations(
        _of_all_numbers(view_info.sum(axis=0), free) - eliminated + np.diag(prior[0]),
        group_rhs.sum(axis=0) + prior[1],
        view_info,
        group_rhs,
        point_cov,
        point_rhs,
        coupling,
        free,
    )


def _of_all_numbers(view_info: Floats, free: Ints) -> Floats:
    """Put (..., V, 3, 3) information on each view's numbers in its place among the free ones."""
    views = view_info.shape[-3]
    full = np.zeros((*view_info.shape[:-3], 3, views, 3, views))
    np.einsum("...ivjv->...vij", full)[...] = view_info
    return full.reshape(*view_info.shape[:-3], 3 * views, 3 * views)[..., free[:, None], free]


def gauss_newton_step(
    observed: Observations, state: State, frame: Frame, weight: Floats
) -> tuple[State, float]:
    """Take one Gauss-Newton step under (G, R) weights; also return the largest change."""
    equations = observation_equations(observed, state, frame)
    normal = normal_equations(equations, weight, frame.prior(state))
    move = np.linalg.solve(normal.info, normal.rhs)
    views = len(state.yaw)
    turning = np.abs(move[frame.free < views]) / np.radians(YAW_STEP_LARGEST)
    growing = np.abs(move[frame.free >= 2 * views]) / STRETCH_STEP_LARGEST
    move /= max(1.0, float(turning.max(initial=0.0)), float(growing.max(initial=0.0)))
    back = normal.point_rhs - (move @ normal.coupling)
    points = state.points + (normal.point_cov @ back[:, :, None])[:, :, 0]
    numbers = state.numbers
    numbers[frame.free] += move
    size = max(float(np.abs(move).max(initial=0.0)), float(np.abs(points - state.points).max()))
    yaw, axis, stretch = numbers.reshape(3, views)
    return replace(state, yaw=yaw, axis=axis, stretch=stretch, points=points), size


def gauss_newton(
    observed: Observations,
    state: State,
    frame: Frame,
    weight: Floats,
    most: int,
    enough: float = 1e-10,
) -> State:
    """Take up to `most` Gauss-Newton steps, until nothing moves by more than `enough`."""
    for _ in range(most):
        state, size = gauss_newton_step(observed, state, frame, weight)
        if size < enough:
            break
    return state

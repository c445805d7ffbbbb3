"""The equations of a turn: one row per placing and per symmetry, grouped by landmark pair.

Lengths are in figure heights and angles in radians throughout this module; pixels and degrees
belong to the callers. Body frame: X to the picture's right in the front view, Z toward the viewer.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]

POSITION_INFO = 1.0
"""Information (1 / H²) lent to every X, Z and axis: a body is about as deep as it is tall.

It damps the steps and bounds the stated variance of what no view shows; it never moves a solution.
"""

YAW_INFO = 0.1
"""The same for a yaw of which nothing is known: 1 / rad², a standard deviation of half a turn."""


@dataclass(frozen=True)
class Rows:
    """What was placed, arranged in G groups of up to two landmarks.

    A group is a left/right pair or a single landmark; with the views' angles and axes held, the
    groups know nothing of each other, so each has four unknowns (Xa, Za, Xb, Zb) of its own.

    Attributes
    ----------
    x, sd : (G, 2, V) array
        Placings and their standard uncertainties, figure heights; 0 and 1 where not placed.
    seen : (G, 2, V) bool array
        Which placings exist.
    scale : (V,) array
        Scale of each view against the reference.
    symmetry : (G, 2, 4) array
        Whitened symmetry rows on the group's unknowns; zero rows where none is meant.
    members : (G, 2) int array
        The landmarks' indices, -1 where the group is a single landmark.
    ahead : list of (int, int)
        Landmarks of which the first lies further forward in any body, by their indices.
    """

    x: Floats
    sd: Floats
    seen: Bools
    scale: Floats
    symmetry: Floats
    members: Ints
    ahead: list[tuple[int, int]]

    @property
    def busy(self) -> Bools:
        """Views with any placing, (V,)."""
        return np.asarray(self.seen.any(axis=(0, 1)), dtype=bool)

    @property
    def live(self) -> Floats:
        """1 where a row says something, 0 elsewhere; (G, 2V + 2)."""
        flat = self.seen.reshape(len(self.seen), -1)
        return np.concatenate([flat, np.any(self.symmetry, axis=2)], axis=1).astype(float)


@dataclass(frozen=True)
class State:
    """Yaws (V,) radians, axes (V,) and unknowns (G, 4), in figure heights."""

    yaw: Floats
    axis: Floats
    points: Floats


@dataclass(frozen=True)
class Frame:
    """Which of the views' numbers are free, and what is believed of the yaws beforehand.

    Attributes
    ----------
    free : int array
        Positions, in the 2V numbers (yaws, axes), of the n that are solved for.
    centre : (V,) array
        Yaws expected beforehand, radians.
    prior_info : float
        Information of that expectation, 1 / rad².
    """

    free: Ints
    centre: Floats
    prior_info: float

    def prior(self, state: State) -> tuple[Floats, Floats]:
        """Information (n,) and right-hand side (n,) of the expectation."""
        views = len(self.centre)
        info = np.r_[np.full(views, self.prior_info + YAW_INFO), np.full(views, POSITION_INFO)]
        pull = np.r_[self.prior_info * (self.centre - state.yaw), np.zeros(views)]
        return info[self.free], pull[self.free]


@dataclass(frozen=True)
class Linear:
    """The rows at one state: whitened misfits and their derivatives.

    Attributes
    ----------
    misfit : (G, R) array
        (measured - modelled) / sd, with R = 2V + 2.
    by_view : (G, R, n) array
        Derivative of the modelled value by the free view numbers, / sd.
    by_point : (G, R, 4) array
        The same by the group's unknowns.
    """

    misfit: Floats
    by_view: Floats
    by_point: Floats


def linearise(rows: Rows, state: State, frame: Frame) -> Linear:
    """Differentiate x = c + s (X cos θ + Z sin θ) and the symmetry rows at a state."""
    groups, _, views = rows.x.shape
    cos, sin = np.cos(state.yaw) * rows.scale, np.sin(state.yaw) * rows.scale
    points = state.points.reshape(groups, 2, 2)
    along, deep = points[:, :, :1], points[:, :, 1:]
    weight = rows.seen / rows.sd
    misfit = (rows.x - state.axis - along * cos - deep * sin) * weight

    by_yaw = (deep * cos - along * sin) * weight
    full = np.zeros((groups, 2, views, 2 * views))
    each = np.arange(views)
    full[:, :, each, each] = by_yaw
    full[:, :, each, views + each] = weight
    by_view = np.zeros((groups, 2 * views + 2, len(frame.free)))
    by_view[:, : 2 * views] = full.reshape(groups, 2 * views, -1)[:, :, frame.free]

    by_point = np.zeros((groups, 2 * views + 2, 4))
    for member in (0, 1):
        block = slice(member * views, (member + 1) * views)
        by_point[:, block, 2 * member] = weight[:, member] * cos
        by_point[:, block, 2 * member + 1] = weight[:, member] * sin
    by_point[:, 2 * views :] = rows.symmetry
    broken = -(rows.symmetry @ state.points[:, :, None])[:, :, 0]
    return Linear(np.concatenate([misfit.reshape(groups, -1), broken], axis=1), by_view, by_point)


@dataclass(frozen=True)
class Reduced:
    """The normal equations with each group's unknowns eliminated (Schur complement).

    Attributes
    ----------
    info, right : (n, n) and (n,) arrays
        Of the free view numbers, prior included.
    group_info, group_right : (G, n, n) and (G, n) arrays
        Each group's share of them.
    point_cov, point_right, coupling : (G, 4, 4), (G, 4), (G, n, 4) arrays
        What is needed to get the group's unknowns back.
    """

    info: Floats
    right: Floats
    group_info: Floats
    group_right: Floats
    point_cov: Floats
    point_right: Floats
    coupling: Floats


def reduce(linear: Linear, weight: Floats, prior: tuple[Floats, Floats]) -> Reduced:
    """Form the normal equations of the weighted rows; `weight` is (G, R)."""
    heavy_view = (linear.by_view * weight[:, :, None]).transpose(0, 2, 1)
    heavy_point = (linear.by_point * weight[:, :, None]).transpose(0, 2, 1)
    misfit = linear.misfit[:, :, None]
    coupling = heavy_view @ linear.by_point
    point_info = heavy_point @ linear.by_point + POSITION_INFO * np.eye(4)
    point_cov = np.asarray(np.linalg.inv(point_info), dtype=float)
    point_right = (heavy_point @ misfit)[:, :, 0]
    back = coupling @ point_cov
    group_info = heavy_view @ linear.by_view - back @ coupling.transpose(0, 2, 1)
    group_right = ((heavy_view @ misfit) - back @ point_right[:, :, None])[:, :, 0]
    info, pull = prior
    return Reduced(
        group_info.sum(axis=0) + np.diag(info),
        group_right.sum(axis=0) + pull,
        group_info,
        group_right,
        point_cov,
        point_right,
        coupling,
    )


LARGEST_TURN = 15.0
"""Longest yaw step, degrees, so that a bad start jumps over no turn.

Chosen by the measurement in DEVELOPERS.md: from 7 on longer ones do as well.
"""


def step(rows: Rows, state: State, frame: Frame, weight: Floats) -> tuple[State, float]:
    """One Gauss-Newton step; also how far the view numbers moved."""
    reduced = reduce(linearise(rows, state, frame), weight, frame.prior(state))
    move = np.linalg.solve(reduced.info, reduced.right)
    views = len(state.yaw)
    turning = np.abs(move[frame.free < views])
    move *= min(1.0, np.radians(LARGEST_TURN) / max(float(turning.max(initial=0.0)), 1e-300))
    back = reduced.point_right - (move @ reduced.coupling)
    points = state.points + (reduced.point_cov @ back[:, :, None])[:, :, 0]
    numbers = np.r_[state.yaw, state.axis]
    numbers[frame.free] += move
    size = max(float(np.abs(move).max(initial=0.0)), float(np.abs(points - state.points).max()))
    return replace(state, yaw=numbers[:views], axis=numbers[views:], points=points), size


def settle(
    rows: Rows, state: State, frame: Frame, weight: Floats, most: int = 30, enough: float = 1e-10
) -> State:
    """Gauss-Newton with fixed weights until nothing moves by more than `enough`."""
    for _ in range(most):
        state, size = step(rows, state, frame, weight)
        if size < enough:
            break
    return state

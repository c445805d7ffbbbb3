"""Solve the turn of a set of drawings: pixels and degrees in, a `Turn` out."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from turncheck.geometry.turn.adjustment import (
    Equations,
    Frame,
    Observations,
    observation_equations,
)
from turncheck.geometry.turn.diagnosis import solve_local
from turncheck.geometry.turn.fit import Fit, fit_turn, held_axes
from turncheck.geometry.turn.misreading import name_readings
from turncheck.geometry.turn.observability import YAW_SAME_LINE, depth_outlook, line_gap
from turncheck.geometry.turn.robust_start import WEIGHT_LEAST
from turncheck.geometry.turn.turn import (
    NOBODY,
    ONE_AMONG,
    Reading,
    Turn,
    refused_turn,
)
from turncheck.numerics.arrays import Bools, Floats

#: Degrees of uncertainty above which no yaw counts as solved. 1.645 times it is just within the 5
#: degrees that a turn may be off: with more no drawing could be called on model.
YAW_SD_LARGEST = 3.0

#: Share of the prior's sd from which on only the nominal yaw speaks. At 1 / sqrt(2) it says as much
#: as all that is drawn.
YAW_PRIOR_SHARE = 0.7

#: Below this a placing's own error does not show (chosen by the measurement in
#: tests/figures/turn.md).
REDUNDANCY_LEAST = 0.1

#: How closely symmetry is meant, one standard deviation in figure heights; common practice, no
#: source.
SYMMETRY_SD = 0.005

#: Pairs and midline points, seen in the reference and symmetric, from which on they say how it is
#: turned; and the degrees of uncertainty above which they do not. Other values:
#: tests/figures/turn.md.
FRAME_GROUPS_LEAST = 4
FRAME_SD_LARGEST = 2.0

#: Where pairs that don't mirror each other, as of a posed arm, or loose symmetry throughout leave
#: the reference's yaw in doubt, it is taken at its word within so many standard uncertainties,
#: times the looseness. Other values: tests/figures/turn.md.
FRAME_LOOSENESS_MOST = 1.3
FRAME_DOUBT = 2.2

#: Pairs of which one is hidden, always on the same side, that say which side is far; common
#: practice, no source.
FAR_PAIRS_LEAST = 5

#: Standard uncertainty, in figure heights, beyond which a coordinate was not seen at all.
POSITION_SD_UNKNOWN = 0.3


def solve_turn(
    x: ArrayLike,
    sd: ArrayLike,
    scale: ArrayLike,
    yaw_nominal: ArrayLike,
    *,
    figure_height: float,
    reference: int = 0,
    pairs: Sequence[tuple[int, int]] = (),
    midline: Sequence[int] = (),
    ahead: Sequence[tuple[int, int]] = (),
    yaw_prior_sd: float = 10.0,
    scale_sd: ArrayLike = 0.0,
    hidden: ArrayLike = False,
) -> Turn:
    """Find the one body and the yaws that explain the drawings' horizontal placings.

    The model is x = c_v + s_v (X cos θ_v + Z sin θ_v), orthographic, with X_l = -X_r, Z_l = Z_r
    for pairs and X = 0 for the midline as soft constraints. Observations have Tukey's weights,
    narrowed step by step; then placings that do not fit are named and left out, so that a named
    placing's drift is all of it and not what least squares would leave.

    Parameters
    ----------
    x, sd
        (V, N) px of each drawing, the picture's right positive, NaN where not placed; and the
        standard uncertainty of each placing.
    scale
        (V,) each drawing's scale against the reference.
    yaw_nominal
        (V,) degrees; positive turns the nose toward the picture's right.
    figure_height
        H, px of the reference drawing.
    reference
        View whose yaw is held at its nominal value where no symmetry says how it is turned.
    pairs, midline
        Left and right landmarks meant symmetric; landmarks meant on X = 0.
    ahead
        Landmarks of which the first lies further forward in any body, such as nose and neck. They
        tell which drawing is mirrored where either of two would do.
    yaw_prior_sd
        How closely the nominal yaws are believed, degrees; `inf` for not at all.
    scale_sd
        (V,) standard uncertainty of each scale as a share of it, or one for all; 0 where it is
        the unit.
    hidden
        (V, N) placings behind another part; of a pair only the far one is.

    Returns
    -------
    Turn
        With `refusal` set, and false, where the views cannot give depth.

    Examples
    --------
    Three drawings of four points, the second turned 40 degrees instead of the 45 it says.

    >>> X, Z = np.array([-60.0, 30.0, 45.0, 10.0]), np.array([20.0, -35.0, 50.0, 0.0])
    >>> at = np.radians([0.0, 40.0, 90.0])[:, None]
    >>> x = 200.0 + X * np.cos(at) + Z * np.sin(at)
    >>> turn = solve_turn(x, np.full(x.shape, 0.01), np.ones(3), [0.0, 45.0, 90.0],
    ...                   figure_height=400.0, yaw_prior_sd=np.inf)
    >>> round(float(turn.yaw[1]), 3)
    40.0
    """
    px, px_sd = np.asarray(x, float), np.asarray(sd, float)
    nominal = np.asarray(yaw_nominal, float)
    refusal, unsolved = depth_outlook(np.isfinite(px), nominal, reference, pairs)
    if refusal:
        return refused_turn(refusal, nominal, unsolved, px.shape[1])
    unit = figure_height * np.asarray(scale, float)
    observed = _arrange(
        px / unit[:, None],
        px_sd / unit[:, None],
        nominal,
        pairs,
        midline,
        ahead,
        _far_side(np.broadcast_to(np.asarray(hidden, bool), px.shape) & np.isfinite(px), pairs),
    )
    frame = _frame(observed, np.asarray(scale_sd, float), nominal, yaw_prior_sd)
    held = replace(frame, free=frame.free[frame.free != reference])
    why_held = _unset_frame(observed, reference)
    if not why_held:
        fit = fit_turn(observed, frame)
        why_held = _unset_frame(observed, reference, fit)
    if why_held:
        fit = fit_turn(observed, held)
    readings = name_readings(observed.far, fit.state.yaw, frame.centre, fit.elsewhere)
    return _describe(
        observed, fit, readings, unsolved, figure_height, unit, reference, yaw_prior_sd, why_held
    )


def _frame(observed: Observations, scale_sd: Floats, nominal: Floats, yaw_prior_sd: float) -> Frame:
    """Return the frame with every number free that is not a matter of choice or known."""
    yaw, views, busy = np.radians(nominal), len(nominal), observed.busy
    relative = np.broadcast_to(scale_sd, (views,))
    unknown = busy & (relative > 0.0)
    axes = busy.copy()
    axes[held_axes(yaw, busy, bool(observed.symmetry.any()))] = False
    return Frame(
        np.flatnonzero(np.r_[busy, axes, unknown]),
        yaw,
        float(np.radians(yaw_prior_sd) ** -2),
        np.where(unknown, relative, 1.0) ** -2.0,
    )


def _unset_frame(observed: Observations, reference: int, fit: Fit | None = None) -> str:
    """Say why symmetry does not set the body's frame, '' where it does.

    Before a fit by the symmetries that are meant and seen in the reference, after it by those that
    hold.
    """
    seen = observed.seen[:, :, reference].any(axis=1)
    meant = observed.symmetry.any(axis=(1, 2)) & seen
    if meant.sum() < FRAME_GROUPS_LEAST:
        return "too few pairs and midline points tell; the others are turned against it"
    if fit is None:
        return ""
    hold = meant & (fit.weight[:, -2:].max(axis=1) > WEIGHT_LEAST / fit.loose**2)
    at = int(np.flatnonzero(fit.frame.free == reference)[0])
    sd = float(_sd_of(np.linalg.inv(fit.normal.info)[at, at]))
    if hold.sum() < FRAME_GROUPS_LEAST or np.degrees(sd) > FRAME_SD_LARGEST:
        return "too few of its pairs mirror each other to tell; the others are turned against it"
    doubtful = fit.loose > FRAME_LOOSENESS_MOST or fit.dropped[meant, -2:].any()
    turned = abs(float(fit.state.yaw[reference] - fit.frame.centre[reference]))
    if doubtful and turned < FRAME_DOUBT * max(fit.loose, 1.0) * sd:
        return "its pairs mirror each other too loosely to tell; the others are turned against it"
    return ""


def _sd_of(variance: Floats) -> Floats:
    """Return standard uncertainties; endless where rounding has left less than nothing."""
    return np.sqrt(np.where(variance >= 0.0, variance, np.inf))


def _arrange(
    x: Floats,
    sd: Floats,
    yaw: Floats,
    pairs: Sequence[tuple[int, int]],
    midline: Sequence[int],
    ahead: Sequence[tuple[int, int]],
    far: Floats,
) -> Observations:
    """Group landmarks into pairs and singles; lengths in figure heights, yaws in degrees."""
    views, landmarks = x.shape
    paired = {i for pair in pairs for i in pair}
    singles = [i for i in range(landmarks) if i not in paired]
    members = np.array([*pairs, *((i, -1) for i in singles)], dtype=np.intp).reshape(-1, 2)
    padded = np.column_stack([x, np.full(views, np.nan)])
    padded_sd = np.column_stack([sd, np.ones(views)])
    placed = padded.T[members]
    seen = np.isfinite(placed)
    symmetry = np.zeros((len(members), 2, 4))
    symmetry[: len(pairs), 0] = np.array([1.0, 0.0, 1.0, 0.0]) / SYMMETRY_SD
    symmetry[: len(pairs), 1] = np.array([0.0, 1.0, 0.0, -1.0]) / SYMMETRY_SD
    middle = np.isin(members[:, 0], np.array(midline, dtype=np.intp)) & (members[:, 1] < 0)
    symmetry[middle, 0, 0] = 1.0 / SYMMETRY_SD
    symmetry[~seen.any(axis=2)[:, 0]] = 0.0
    # a pair seen along one line of sight would have its width made up from the yaw's error
    apart = line_gap(yaw[:, None], yaw) > YAW_SAME_LINE
    for group, both in enumerate(seen[: len(pairs)]):
        lines = both.any(axis=0)
        if not both.any(axis=1).all() or not apart[np.ix_(lines, lines)].any():
            symmetry[group] = 0.0
    return Observations(
        np.where(seen, placed, 0.0),
        np.where(seen, padded_sd.T[members], 1.0),
        seen,
        symmetry,
        members,
        ahead,
        far,
    )


def _far_side(hidden: Bools, pairs: Sequence[tuple[int, int]]) -> Floats:
    """Say which side of the pairs is hidden in each view, (V,): 1 left, -1 right, 0 not told."""
    left, right = np.array(pairs, dtype=np.intp).reshape(-1, 2).T
    votes = hidden[:, left].astype(float) - hidden[:, right]
    clear = np.abs(votes.sum(axis=1)) >= FAR_PAIRS_LEAST
    alike = np.abs(votes).sum(axis=1) == np.abs(votes.sum(axis=1))
    return np.where(clear & alike, np.sign(votes.sum(axis=1)), 0.0)


def _describe(
    observed: Observations,
    fit: Fit,
    readings: tuple[tuple[Reading, ...], ...],
    without_depth: Sequence[str],
    height: float,
    unit: Floats,
    reference: int,
    yaw_prior_sd: float,
    held_because: str,
) -> Turn:
    """Turn a fit into px, degrees and words; `unit` (V,) is the figure's height in each view."""
    views = observed.x.shape[2]
    landmarks, state, free = observed.landmarks, fit.state, fit.frame.free
    numbers_cov = np.zeros((3 * views, 3 * views))
    numbers_cov[np.ix_(free, free)] = np.linalg.inv(fit.normal.info)
    numbers_sd = _sd_of(numbers_cov.diagonal())
    yaw_cov = numbers_cov[:views, :views]
    gap_variance = yaw_cov.diagonal() + yaw_cov[reference, reference] - 2.0 * yaw_cov[reference]
    busy = observed.busy
    yaw_sd = np.where(busy, np.degrees(numbers_sd[:views]), np.nan)
    unsolved = _unsolved_because(without_depth, yaw_sd, reference, yaw_prior_sd)

    def by_landmark(values: Floats | Bools) -> Floats:
        """(G, 2, V) or (G, 2V) to (V, N)."""
        out = np.zeros((landmarks + 1, views))
        out[observed.members.ravel()] = values.reshape(-1, views)
        return out[:landmarks].T

    e, leverage = _against_the_others(observed, fit)
    placings = slice(0, 2 * views)
    seen = by_landmark(observed.seen) > 0
    px_sd = by_landmark(observed.sd) * unit[:, None]
    drift = by_landmark(e[:, placings]) * px_sd
    redundancy = by_landmark(1.0 / (1.0 + leverage[:, placings]))
    suspects = by_landmark(fit.suspects[:, placings]) > 0
    solved = np.array([not why for why in unsolved])[:, None]
    shows = redundancy >= REDUNDANCY_LEAST
    measurable = seen & solved & shows
    why_not = np.where(shows, "", "too few drawings show it to tell")
    why_not = np.where(solved, why_not, np.array(unsolved)[:, None])
    certain = by_landmark(fit.certain[:, placings]) > 0
    count = suspects.sum(axis=0)
    told = (count == 1) & certain.any(axis=0)
    named = np.where(told, suspects.argmax(axis=0), np.where(count, ONE_AMONG, NOBODY))

    falls, falls_sd = map(by_landmark, _expected(observed, fit, numbers_cov))
    known = by_landmark(np.broadcast_to(busy, observed.seen.shape)) > 0
    x, z, covariance, axis = _body(observed, fit, numbers_cov[np.ix_(free, free)])
    unseen = _sd_of(covariance.diagonal()) > POSITION_SD_UNKNOWN
    covariance = np.where(unseen[:, None] | unseen, np.nan, covariance) * height**2
    axis_sd = numbers_sd[views : 2 * views]
    axis_sd = np.where(busy & (axis_sd < POSITION_SD_UNKNOWN), axis_sd, np.nan)
    asymmetric = np.zeros(landmarks + 1, bool)
    broken = fit.dropped[:, 2 * views :].any(axis=1)
    asymmetric[observed.members[broken].ravel()] = True
    return Turn(
        refusal="",
        yaw=np.degrees(state.yaw),
        yaw_sd=yaw_sd,
        yaw_gap_sd=np.where(busy, np.degrees(np.sqrt(np.maximum(gap_variance, 0.0))), np.nan),
        yaw_unsolved_because=unsolved,
        yaw_held_because=held_because,
        readings=readings,
        axis=np.where(busy, axis, np.nan) * unit,
        axis_sd=axis_sd * unit,
        x=np.where(unseen[:landmarks], np.nan, x) * height,
        z=np.where(unseen[landmarks:], np.nan, z) * height,
        covariance=covariance,
        expected=np.where(known & (falls_sd < POSITION_SD_UNKNOWN), falls, np.nan) * unit[:, None],
        expected_sd=np.where(falls_sd < POSITION_SD_UNKNOWN, falls_sd, np.nan) * unit[:, None],
        drift=np.where(measurable, drift, np.nan),
        drift_u=np.where(measurable, px_sd / np.sqrt(np.maximum(redundancy, 1e-12)), np.nan),
        redundancy=np.where(seen, redundancy, np.nan),
        measurable=measurable,
        why_not=np.where(seen, why_not, "not placed"),
        suspects=suspects,
        named=named,
        asymmetric=asymmetric[:landmarks],
    )


def _unsolved_because(
    without_depth: Sequence[str], yaw_sd: Floats, reference: int, prior_sd: float
) -> tuple[str, ...]:
    """Say why each yaw is not solved, empty where it is."""
    reasons = list(without_depth)
    for v, u in enumerate(yaw_sd):
        if v == reference or reasons[v]:
            continue
        if u > YAW_PRIOR_SHARE * prior_sd:
            reasons[v] = "from the nominal yaw only"
        elif not u <= YAW_SD_LARGEST:
            reasons[v] = f"the yaw is only known to {u:.1f} degrees"
    if all(why for v, why in enumerate(reasons) if v != reference):
        reasons[reference] = "no other drawing's yaw is known"
    return tuple(reasons)


def _against_the_others(observed: Observations, fit: Fit) -> tuple[Floats, Floats]:
    """Return (G, R) residuals and leverages of the observations, each left out of the solution.

    Leaving out one observation with weight w and leverage a divides its residual by 1 - w a and
    makes its leverage a / (1 - w a) (Cook and Weisberg 1982, from memory). Of several suspects
    each is held against all the others.
    """
    others = fit.normal.others
    residual, leverage = solve_local(fit.equations, others, fit.weight)
    weight = fit.weight.copy()
    unsure = np.flatnonzero(fit.suspects.sum(axis=1) > 1)
    if len(unsure):
        again = np.where(fit.suspects, observed.live, fit.weight)[unsure]
        own = Equations(fit.equations.whole[unsure])
        joint_residual, joint_leverage = solve_local(own, others[unsure], again)
        which = fit.suspects[unsure]
        residual[unsure] = np.where(which, joint_residual, residual[unsure])
        leverage[unsure] = np.where(which, joint_leverage, leverage[unsure])
        weight[unsure] = again
    kept = np.maximum(1.0 - weight * leverage, 1e-9)
    return residual / kept, leverage / kept


def _expected(observed: Observations, fit: Fit, numbers_cov: Floats) -> tuple[Floats, Floats]:
    """Return (G, 2, V) where points fall in each view and their standard uncertainties.

    A group's unknowns vary on their own and with the views' numbers, against which they lean.
    """
    everywhere = replace(observed, seen=np.ones_like(observed.seen), sd=np.ones_like(observed.sd))
    all_numbers = replace(fit.frame, free=np.arange(len(numbers_cov)))
    equations = observation_equations(everywhere, fit.state, all_numbers)
    by_point, by_number = np.split(equations.design[:, :-2], [4], axis=2)
    lean = np.zeros((len(by_point), 4, len(numbers_cov)))
    lean[:, :, fit.frame.free] = fit.normal.lean[:, :, :-1]
    by_number = by_number - by_point @ lean
    variance = ((by_number @ numbers_cov) * by_number).sum(axis=2)
    variance += ((by_point @ fit.point_cov) * by_point).sum(axis=2)
    falls = observed.x.reshape(len(lean), -1) - equations.residual[:, :-2]
    return falls, _sd_of(variance)


def _body(
    observed: Observations, fit: Fit, free_cov: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """X, Z (N,), their covariance (2N, 2N) and the axes (V,), the axis in the middle of depth."""
    landmarks, state = observed.landmarks, fit.state
    # unknown k of a group is coordinate k % 2 of member k // 2
    member = np.repeat(observed.members, 2, axis=1)
    at = np.where(member >= 0, member + landmarks * np.array([0, 1, 0, 1]), 2 * landmarks)
    size = 2 * landmarks + 1
    flat = np.zeros(size)
    flat[at] = state.points
    slope = np.zeros((size, len(free_cov)))
    slope[at] = fit.normal.lean[:, :, :-1]
    own = np.zeros((size, size))
    own[at[:, :, None], at[:, None, :]] = fit.point_cov
    covariance = (own + slope @ free_cov @ slope.T)[:-1, :-1]

    known = covariance.diagonal() < POSITION_SD_UNKNOWN**2
    x, z = flat[:landmarks], flat[landmarks:-1]
    deep = known[landmarks:]
    middle_z = float(np.median(z[deep])) if deep.any() else 0.0
    wide = known[:landmarks]
    middle_x = 0.0 if observed.symmetry.any() or not wide.any() else float(np.median(x[wide]))
    moved = np.exp(state.stretch) * (middle_x * np.cos(state.yaw) + middle_z * np.sin(state.yaw))
    return x - middle_x, z - middle_z, covariance, state.axis + moved

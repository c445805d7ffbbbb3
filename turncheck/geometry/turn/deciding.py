"""Which drawing, were it made, would tell which of several placings is the wrong one."""

from collections.abc import Iterable

import numpy as np

from turncheck.geometry.guard_bands import COVERAGE
from turncheck.geometry.turn.diagnosis import CHI_SQUARE_ALIKE
from turncheck.geometry.turn.observability import YAW_SAME_LINE
from turncheck.geometry.turn.solve import SYMMETRY_SD
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Bools, Floats


def deciding_yaw(
    yaw: Floats, sd: Floats, drift: Floats, suspects: Bools, symmetric: bool, yaws: Iterable[float]
) -> float | None:
    """Return the first yaw from which one more drawing would settle who is wrong, None for none.

    Whichever suspect is the wrong one, off by the drift that it then has: without it all must fit
    so much better than without another suspect that they are told apart in 19 of 20.

    Parameters
    ----------
    yaw
        (V,) degrees of the drawings there are.
    sd, drift
        (M, V) standard uncertainties of the placings of a landmark, or of a pair's two, NaN where
        not placed; and how far each suspect would be off. Figure heights.
    suspects
        (M, V) placings of which one is wrong.
    symmetric
        Whether the two mirror each other, or the one lies on the midline.
    yaws
        Degrees to try; those that are drawn already are left out.

    Examples
    --------
    Of a nose seen from the front, at 45 and at 90 degrees, either of the last two may be wrong.

    >>> yaw, sd, drift = np.array([0.0, 45.0, 90.0]), np.full((1, 3), 0.0015), np.full((1, 3), 0.03)
    >>> either = np.array([[False, True, True]])
    >>> deciding_yaw(yaw, sd, drift, either, True, (45.0, 180.0, 135.0))
    135.0
    """
    usual = np.nanmedian(sd)
    for further in yaws:
        if (np.abs(wrapped(yaw - further)) <= YAW_SAME_LINE).any():
            continue
        more_sd = np.column_stack([sd, np.where(np.isfinite(sd).any(axis=1), usual, np.nan)])
        left_over = _left_over(np.radians(np.r_[yaw, further]), more_sd, symmetric)
        at = np.flatnonzero(np.column_stack([suspects, np.zeros(len(sd), bool)]))
        own, size = left_over[np.ix_(at, at)], (drift / sd)[suspects]
        apart = size[:, None] ** 2 * (own.diagonal()[:, None] - own**2 / own.diagonal())
        np.fill_diagonal(apart, np.inf)
        if np.sqrt(np.maximum(apart, 0.0)).min() > np.sqrt(CHI_SQUARE_ALIKE) + COVERAGE:
            return further
    return None


def _left_over(yaw: Floats, sd: Floats, symmetric: bool) -> Floats:
    """Return the cofactors of the residuals, (M V, M V): what of each error stays visible."""
    members, views = sd.shape
    sight = np.column_stack([np.cos(yaw), np.sin(yaw)])
    rows = np.kron(np.eye(members), sight) / np.where(np.isfinite(sd), sd, np.inf).reshape(-1, 1)
    if symmetric:
        mirror = np.array([[1.0, 0.0, 1.0, 0.0], [0.0, 1.0, 0.0, -1.0]])
        meant = mirror if members == 2 else mirror[:1, :2]
        rows = np.vstack([rows, meant / SYMMETRY_SD])
    left = np.eye(len(rows)) - rows @ np.linalg.pinv(rows)
    return np.asarray(left[: members * views, : members * views], dtype=float)

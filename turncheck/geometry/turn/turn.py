"""The solved turn: each view's yaw, the body seen from above, each placing's drift."""

import enum
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.intp]
Words = NDArray[np.str_]


class Misreading(enum.StrEnum):
    """How a drawing contradicts its nominal yaw or its names; `NONE`, which is false, if neither.

    `MIRRORED` fits as its own mirror image, `SWAPPED` with left and right names exchanged.
    """

    NONE = ""
    MIRRORED = "mirrored"
    SWAPPED = "swapped"


@dataclass(frozen=True)
class Turn:
    """One body that explains the views' horizontal placings, as far as they let it.

    V views, N landmarks. Lengths are px, angles degrees; X, Z are in px of the reference drawing,
    X to the picture's right in the front view and Z toward the viewer. What is not known is NaN.

    Attributes
    ----------
    refusal : str
        Why nothing was solved; empty when something was.
    yaw, yaw_sd : (V,) array
        Solved yaw and its standard uncertainty.
    yaw_unsolved_because : tuple of str, length V
        Empty where the yaw is solved, else the reason why it is not.
    misreading : tuple of Misreading, length V
        How each drawing is misread.
    misreading_rival : tuple of Misreading, length V
        Where a view, misread that way instead of another, would explain the drawings as well.
    axis, axis_sd : (V,) array
        Where the turning axis falls in each drawing. The axis may stand anywhere in the body;
        it is set to the middle of the landmarks in depth, through the view most from the side,
        whose axis_sd is 0 for that reason.
    x, z, x_sd, z_sd : (N,) array
        The body from above.
    covariance : (2N, 2N) array
        Of (x, z), px².
    drift : (V, N) array
        Measurement minus what the other placings expect, the picture's right positive.
    drift_u : (V, N) array
        Standard uncertainty of the drift.
    redundancy : (V, N) array
        Share of a placing's own error that shows in its residual, 0 to 1.
    why_not : (V, N) array of str
        Empty where the drift is measured, else why not.
    suspects : (V, N) bool array
        Placings that may be the bad one of their landmark.
    named : (N,) int array
        The view blamed: its index, `NOBODY` or `ONE_AMONG` (then see `suspects`).
    asymmetric : (N,) bool array
        Landmarks whose pair, or midline, the views agree is not symmetric.
    agreeing : (V,) array
        Share of each view's placings that are not suspected.
    """

    refusal: str
    yaw: Floats
    yaw_sd: Floats
    yaw_unsolved_because: tuple[str, ...]
    misreading: tuple[Misreading, ...]
    misreading_rival: tuple[Misreading, ...]
    axis: Floats
    axis_sd: Floats
    x: Floats
    z: Floats
    x_sd: Floats
    z_sd: Floats
    covariance: Floats
    drift: Floats
    drift_u: Floats
    redundancy: Floats
    why_not: Words
    suspects: Bools
    named: Ints
    asymmetric: Bools
    agreeing: Floats

    def __bool__(self) -> bool:
        return not self.refusal

    @property
    def measurable(self) -> Bools:
        """Which drifts are measured; (V, N)."""
        return np.asarray(self.why_not == "", dtype=bool)

    def blame(self, landmark: int, views: Sequence[str]) -> str:
        """Name the drawing whose placing is the bad one, or those it may be among.

        Parameters
        ----------
        landmark : int
        views : sequence of str, length V
            Their names.

        Returns
        -------
        str
            Empty where nothing is wrong.
        """
        names = [views[int(v)] for v in np.flatnonzero(self.suspects[:, landmark])]
        if len(names) < 2:
            return "".join(names)
        return f"a view among {', '.join(names[:-1])} and {names[-1]}"


NOBODY = -1
"""`Turn.named` of a landmark that fits."""

ONE_AMONG = -2
"""`Turn.named` of a landmark that does not fit where the drawing to blame cannot be told."""


def refused_turn(
    reason: str, yaw_nominal: Floats, yaw_unsolved_because: tuple[str, ...], landmarks: int
) -> Turn:
    """Say why a turn was not solved; the yaws stay nominal, all else is unknown."""
    views = len(yaw_nominal)
    each, flat, grid = (
        np.full(shape, np.nan) for shape in ((views,), (landmarks,), (views, landmarks))
    )
    return Turn(
        refusal=reason,
        yaw=yaw_nominal.copy(),
        yaw_sd=each,
        yaw_unsolved_because=tuple(why or reason for why in yaw_unsolved_because),
        misreading=(Misreading.NONE,) * views,
        misreading_rival=(Misreading.NONE,) * views,
        axis=each,
        axis_sd=each,
        x=flat,
        z=flat,
        x_sd=flat,
        z_sd=flat,
        covariance=np.full((2 * landmarks, 2 * landmarks), np.nan),
        drift=grid,
        drift_u=grid,
        redundancy=grid,
        why_not=np.full((views, landmarks), reason),
        suspects=np.zeros((views, landmarks), bool),
        named=np.full(landmarks, NOBODY),
        asymmetric=np.zeros(landmarks, bool),
        agreeing=each,
    )


def span_length(
    turn: Turn, i: int, j: int, y: tuple[float, float], y_sd: tuple[float, float]
) -> tuple[float, float]:
    """Measure the true length of the span between two landmarks, foreshortening undone.

    Parameters
    ----------
    turn : Turn
    i, j : int
        The landmarks.
    y, y_sd : (float, float)
        Their heights and standard uncertainties, px of the reference drawing.

    Returns
    -------
    length, sd : float
        px of the reference drawing; NaN where an end's depth is not known. First-order
        propagation with the covariance of the four coordinates (JCGM 100:2008, 5.2.2, from
        memory).

    Examples
    --------
    A span 3 wide, 4 deep and 12 high is 13 long.

    >>> from dataclasses import replace
    >>> none = refused_turn("", np.zeros(1), ("",), 2)
    >>> body = replace(none, x=np.array([0.0, 3.0]), z=np.array([0.0, 4.0]),
    ...                covariance=np.zeros((4, 4)))
    >>> length, sd = span_length(body, 0, 1, (0.0, 12.0), (0.0, 6.5))
    >>> length, round(sd, 3)
    (13.0, 6.0)
    """
    landmarks = len(turn.x)
    gap = np.array([turn.x[j] - turn.x[i], turn.z[j] - turn.z[i], y[1] - y[0]])
    length = float(np.sqrt(gap @ gap))
    if not np.isfinite(length) or length == 0.0:
        return length, float("nan")
    toward = gap / length
    at = [i, landmarks + i, j, landmarks + j]
    slope = np.array([-toward[0], -toward[1], toward[0], toward[1]])
    variance = slope @ turn.covariance[np.ix_(at, at)] @ slope
    variance += toward[2] ** 2 * (y_sd[0] ** 2 + y_sd[1] ** 2)
    return length, float(np.sqrt(variance))

"""The solved turn: each view's yaw, the body seen from above, each placing's drift."""

import enum
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from turncheck.numerics.arrays import Bools, Floats, Ints

Words = NDArray[np.str_]


class Misreading(enum.StrEnum):
    """How a drawing contradicts its nominal yaw or its names; `NONE`, which is false, if neither.

    `MIRRORED` fits as its own mirror image, `SWAPPED` with left and right names exchanged, `BOTH`
    as a picture that was flipped, its points and their names travelling with it.
    """

    NONE = ""
    MIRRORED = "mirrored"
    SWAPPED = "swapped"
    BOTH = "mirrored and swapped"

    @property
    def exchanges_names(self) -> bool:
        """Whether a left name stands on the right side of the body."""
        return self in (Misreading.SWAPPED, Misreading.BOTH)


@dataclass(frozen=True)
class Reading:
    """A way to read one drawing.

    Attributes
    ----------
    how
        How it is misread.
    fits, yaw
        Degrees at which it fits as it is, and at which it was then really drawn.
    """

    view: int
    how: Misreading
    fits: float
    yaw: float


@dataclass(frozen=True)
class Turn:
    """One body that explains the views' horizontal placings, as far as they let it.

    V views, N landmarks. Lengths are px, angles degrees; X, Z are in px of the reference drawing,
    X to the picture's right in the front view and Z toward the viewer. What is not known is NaN.

    Attributes
    ----------
    refusal
        Why nothing was solved; empty when something was.
    yaw, yaw_sd
        (V,) solved yaw and its standard uncertainty.
    yaw_gap_sd
        (V,) standard uncertainty of how far each is turned against the reference.
    yaw_unsolved_because
        (V,) empty where the yaw is solved, else why it is not, for people.
    yaw_held_because
        Why the reference is taken at its nominal yaw, for people; empty where it is solved.
    readings
        (V,) how each drawing is read, and after that the other readings, of it or of another
        drawing instead, that explain the drawings as well.
    axis, axis_sd
        (V,) where the turning axis falls in each drawing. The axis may stand anywhere in the body;
        it is set to the middle of the landmarks in depth, through the view most from the side,
        whose axis_sd is 0 for that reason.
    x, z
        (N,) the body from above.
    covariance
        (2N, 2N) of (x, z), px².
    expected, expected_sd
        (V, N) where each point of the body falls sideways in each drawing, and how surely.
    drift, drift_u
        (V, N) measurement minus what the other placings expect, the picture's right positive; and
        its standard uncertainty.
    redundancy
        (V, N) share of a placing's own error that shows in its residual, 0 to 1.
    measurable, why_not
        (V, N) which drifts are measured, and why the others are not, for people.
    suspects
        (V, N) placings that may be the bad one of their landmark.
    named
        (N,) the view blamed: its index, `NOBODY` or `ONE_AMONG` (then see `suspects`).
    asymmetric
        (N,) landmarks whose pair, or midline, the views agree is not symmetric.
    """

    refusal: str
    yaw: Floats
    yaw_sd: Floats
    yaw_gap_sd: Floats
    yaw_unsolved_because: tuple[str, ...]
    yaw_held_because: str
    readings: tuple[tuple[Reading, ...], ...]
    axis: Floats
    axis_sd: Floats
    x: Floats
    z: Floats
    covariance: Floats
    expected: Floats
    expected_sd: Floats
    drift: Floats
    drift_u: Floats
    redundancy: Floats
    measurable: Bools
    why_not: Words
    suspects: Bools
    named: Ints
    asymmetric: Bools

    def __bool__(self) -> bool:
        return not self.refusal

    @property
    def misreading(self) -> tuple[Misreading, ...]:
        """How each drawing is misread; (V,)."""
        return tuple(ways[0].how for ways in self.readings)

    @property
    def yaw_solved(self) -> Bools:
        """Which yaws are solved; (V,)."""
        return np.array([not why for why in self.yaw_unsolved_because], dtype=bool)

    @property
    def x_sd(self) -> Floats:
        """Standard uncertainty of `x`, (N,) px."""
        return np.sqrt(self.covariance.diagonal()[: len(self.x)])

    @property
    def z_sd(self) -> Floats:
        """Standard uncertainty of `z`, (N,) px."""
        return np.sqrt(self.covariance.diagonal()[len(self.x) :])


def across_at(
    x: Floats, z: Floats, covariance: Floats, yaw: Floats | float
) -> tuple[Floats, Floats]:
    """Return where points of a body fall sideways at a yaw, or (V, 1) yaws, and how surely.

    How far they lie toward the viewer is the same a quarter turn on.

    Parameters
    ----------
    x, z, covariance
        (N,), (N,) and (2N, 2N) of (x, z), as of `Turn`.
    yaw
        Degrees.

    Examples
    --------
    >>> across, sd = across_at(np.array([3.0]), np.array([4.0]), np.diag([0.04, 0.09]), 90.0)
    >>> across.round(6).tolist(), sd.round(6).tolist()
    ([4.0], [0.3])
    """
    count = len(x)
    cos, sin = np.cos(np.radians(yaw)), np.sin(np.radians(yaw))
    variances, xz = covariance.diagonal(), covariance[:count, count:].diagonal()
    variance = cos**2 * variances[:count] + 2.0 * cos * sin * xz + sin**2 * variances[count:]
    return x * cos + z * sin, np.asarray(np.sqrt(np.maximum(variance, 0.0)))


#: `Turn.named` of a landmark that fits.
NOBODY = -1

#: `Turn.named` of a landmark that does not fit where the drawing to blame cannot be told.
ONE_AMONG = -2


def refused_turn(
    reason: str, yaw_nominal: Floats, yaw_unsolved_because: Sequence[str], landmarks: int
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
        yaw_gap_sd=each,
        yaw_unsolved_because=tuple(why or reason for why in yaw_unsolved_because),
        yaw_held_because=reason,
        readings=tuple(
            (Reading(v, Misreading.NONE, yaw, yaw),) for v, yaw in enumerate(yaw_nominal.tolist())
        ),
        axis=each,
        axis_sd=each,
        x=flat,
        z=flat,
        covariance=np.full((2 * landmarks, 2 * landmarks), np.nan),
        expected=grid,
        expected_sd=grid,
        drift=grid,
        drift_u=grid,
        redundancy=grid,
        measurable=np.zeros((views, landmarks), bool),
        why_not=np.full((views, landmarks), reason),
        suspects=np.zeros((views, landmarks), bool),
        named=np.full(landmarks, NOBODY),
        asymmetric=np.zeros(landmarks, bool),
    )

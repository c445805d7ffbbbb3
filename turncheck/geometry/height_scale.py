"""How heights of the body fall on one drawing: y = ground - scale * height.

Frames: y in px of the view's drawing, downwards; heights in reference-view px, upwards from
the ground.
"""

from dataclasses import dataclass

import numpy as np

from turncheck.numerics.arrays import Floats, FloatsOrOne

#: Below this share of agreeing landmarks a fit can't be trusted; chosen by the measurement in
#: tests/figures/height_scale.md: every estimator degrades once more than three in ten landmarks
#: drift.
SCALE_AGREEING_LEAST = 0.70
#: Standard uncertainties within which a landmark agrees with the line; chosen by the measurement in
#: tests/figures/height_scale.md (at 3, figures with 40 % drifted are distrusted in 88 %, with 20 %
#: in none).
SCALE_AGREES_WITHIN = 3.0
#: Two unknowns and no check on them with fewer; common practice, no source.
SCALE_LANDMARKS_LEAST = 4


@dataclass(frozen=True)
class HeightScale:
    """How heights of the body fall on one drawing.

    Attributes
    ----------
    scale, ground
        Drawing px per reference px; y of the ground, px of the drawing.
    covariance
        (2, 2), of (ground px, scale).
    landmarks, agreeing
        How many landmarks it rests on, and which share of them lies within the line's noise.
    """

    scale: float
    ground: float
    covariance: Floats
    landmarks: int = 0
    agreeing: float = 1.0

    @property
    def trusted(self) -> bool:
        """Whether it rests on enough landmarks, and enough of them agree on it."""
        return not self.distrust

    @property
    def distrust(self) -> str:
        """Why it is not `trusted`, for people; '' where it is."""
        if self.landmarks < SCALE_LANDMARKS_LEAST:
            return (
                f"only {self.landmarks} points in common with the other drawings; "
                f"at least {SCALE_LANDMARKS_LEAST} are needed"
            )
        if self.agreeing < SCALE_AGREEING_LEAST:
            return (
                f"only {self.agreeing:.0%} of its points agree on one size and position; "
                f"at least {SCALE_AGREEING_LEAST:.0%} are needed"
            )
        return ""

    @property
    def scale_sd(self) -> float:
        """Standard uncertainty of the scale."""
        return float(np.sqrt(self.covariance[1, 1]))

    @property
    def ground_sd(self) -> float:
        """Standard uncertainty of the ground, px of the drawing."""
        return float(np.sqrt(self.covariance[0, 0]))

    def heights(self, y: FloatsOrOne) -> FloatsOrOne:
        """Return body heights, reference px, of y positions in px of the drawing."""
        return (self.ground - y) / self.scale

    def y_at(self, heights: FloatsOrOne) -> FloatsOrOne:
        """Return y positions, px of the drawing, of body heights in reference px."""
        return self.ground - self.scale * heights

    def height_sd(self, heights: FloatsOrOne) -> FloatsOrOne:
        """Return the ruler's own share of the uncertainty at these heights, reference px."""
        (vg, vgs), (_, vs) = self.covariance
        variance = vg - 2.0 * heights * vgs + heights**2 * vs
        sd: FloatsOrOne = np.sqrt(np.maximum(variance, 0.0)) / self.scale
        return sd


def fixed_height_scale(ground: float, ground_sd: float) -> HeightScale:
    """Return the ruler of a view compared at its own size, standing on a given ground line."""
    covariance = np.array([[ground_sd**2, 0.0], [0.0, 0.0]])
    return HeightScale(1.0, ground, covariance, landmarks=SCALE_LANDMARKS_LEAST)


def start_line(y: Floats, heights: Floats, sd: Floats | float = 1.0) -> tuple[float, float]:
    """Return (ground, scale) by least median of squares over the lines through all pairs.

    Rousseeuw 1984, J. Am. Stat. Assoc. 79:871; stands up to nearly half the landmarks drifting.

    Examples
    --------
    >>> h = np.array([0.0, 10.0, 20.0, 30.0, 40.0])
    >>> y = 100.0 - 2.0 * h
    >>> y[4] += 9.0
    >>> start_line(y, h)
    (100.0, 2.0)
    """
    first, second = np.triu_indices(len(y), k=1)
    apart = heights[second] - heights[first]
    usable = np.abs(apart) > 1e-9 * max(1.0, float(np.max(np.abs(heights), initial=0.0)))
    first, second, apart = first[usable], second[usable], apart[usable]
    if not len(first):
        return float(np.mean(y + heights)) if len(y) else 0.0, 1.0
    scales = (y[first] - y[second]) / apart
    upright = scales > 0
    if not upright.any():
        return float(np.median(y + heights)), 1.0
    scales, first = scales[upright], first[upright]
    grounds = y[first] + scales * heights[first]
    misfit = np.abs(y - grounds[:, None] + scales[:, None] * heights) / sd
    middle = (len(y) + 3) // 2 - 1  # the order statistic for two unknowns, Rousseeuw 1984
    middle = min(middle, len(y) - 1)
    best = int(np.argmin(np.partition(misfit, middle, axis=1)[:, middle]))
    return float(grounds[best]), float(scales[best])

"""Where all drawings of a sheet are seen from: level and from afar, or not.

All else takes them to be seen level and without perspective. Seen from above by an angle t, a point
that lies z nearer to the viewer is drawn z sin t lower; in perspective it is drawn lower below the
viewer's eye and higher above. Which points are near changes from drawing to drawing as the body
turns, so the heights tell.
"""

from dataclasses import dataclass

import numpy as np

from turncheck.geometry.turn import Turn
from turncheck.geometry.turn.turn import across_at
from turncheck.numerics.arrays import Floats
from turncheck.numerics.robust import TUKEY_C, biweights, median_sd

#: Drawings are said to be tilted from so many degrees on, and in perspective where a thing one
#: figure height nearer is drawn larger by such a share; and only beyond so many standard
#: uncertainties. Chosen by the measurement in tests/figures/camera.md.
TILT_LEAST = 1.0
PERSPECTIVE_LEAST = 0.04
CAMERA_COVERAGE = 4.0
#: With two drawings a limb that one has too high looks like a tilt; in three or more it does not.
#: Fewer points in a drawing don't count it; common practice, no source.
CAMERA_VIEWS_LEAST = 3
CAMERA_POINTS_LEAST = 4
_STEPS = 12
#: Information (1 / H²) that keeps the equations solvable: every drawing's ground and size may
#: change together with the body's.
_LOOSE = 1e-3


@dataclass(frozen=True)
class Camera:
    """How all drawings together are looked at; NaN where they don't tell.

    Attributes
    ----------
    tilt, tilt_sd
        Degrees by which the body is seen from above, from below negative, at half its height; and
        the standard uncertainty.
    perspective, perspective_sd
        By which share a thing is drawn larger that lies one figure height nearer.
    depth
        How far the body's points lie before and behind its axis, one standard deviation, px of the
        reference.
    """

    tilt: float = np.nan
    tilt_sd: float = np.nan
    perspective: float = np.nan
    perspective_sd: float = np.nan
    depth: float = np.nan

    @property
    def known(self) -> bool:
        """Whether the drawings tell."""
        return bool(np.isfinite(self.tilt_sd))

    @property
    def tilted(self) -> bool:
        """Whether the drawings are surely seen from above or below."""
        return abs(self.tilt) > max(TILT_LEAST, CAMERA_COVERAGE * self.tilt_sd)

    @property
    def close(self) -> bool:
        """Whether the drawings are surely in perspective."""
        return self.perspective > max(PERSPECTIVE_LEAST, CAMERA_COVERAGE * self.perspective_sd)

    @property
    def looks(self) -> str:
        """How the drawings look where they are not seen level and from afar, else ''."""
        if self.tilted:
            side = "above" if self.tilt > 0.0 else "below"
            return f"these drawings look seen from {side} by about {abs(self.tilt):.0f}°"
        if self.close:
            return "these drawings look drawn in perspective, with near things larger"
        return ""

    @property
    def height_sd(self) -> float:
        """By how much heights may be off for what is not said of the camera, reference px."""
        tilt = np.radians(np.hypot(self.tilt, self.tilt_sd))
        close = np.hypot(self.perspective, self.perspective_sd) / 2.0  # at the crown and the soles
        return float(self.depth * np.hypot(tilt, close)) if self.known else 0.0


def fit_camera(heights: Floats, sd: Floats, turn: Turn, figure_height: float) -> Camera:
    """Find the tilt and the perspective that all drawings share.

    The model is h_i + g_v + s_v h_i - z_vi (sin t - p (h_i / H - 1/2)), with an error of each
    drawing's ground g_v and size s_v, and the depth z toward the viewer as the turn has it: least
    squares with Tukey's weights, so that points that drifted don't tell.

    Parameters
    ----------
    heights, sd
        (V, N) heights of the points in each drawing, reference px, NaN where not placed or where a
        point has no height; and the standard uncertainty of each.
    turn
        Of the same views and points.
    figure_height
        H, reference px.

    Returns
    -------
    Camera
        Of which nothing is known where the turn is not solved or too few points have a depth.
    """
    if not turn:
        return Camera()
    yaw = np.where(turn.yaw_solved, turn.yaw, np.nan)[:, None]
    toward = across_at(turn.x, turn.z, turn.covariance, yaw + 90.0)
    depth, depth_sd = (part / figure_height for part in toward)
    told = np.isfinite(heights) & np.isfinite(depth)
    told &= (told.sum(axis=1) >= CAMERA_POINTS_LEAST)[:, None]
    if told.any(axis=1).sum() < CAMERA_VIEWS_LEAST:
        return Camera()
    views = len(heights)
    v, i = np.nonzero(told)
    measured, placed_sd, near, near_sd = (
        part[told] for part in (heights / figure_height, sd / figure_height, depth, depth_sd)
    )
    of_point = np.eye(heights.shape[1])[i]
    above = of_point @ (measured @ of_point / np.maximum(of_point.sum(axis=0), 1.0)) - 0.5
    of_view = np.eye(views)[v]
    known = np.column_stack([of_view, of_view * above[:, None], -near, near * above, measured])
    found, weight, spread = np.zeros(2 * views + 2), np.ones(len(v)), 1.0
    covariance = np.zeros((len(found), len(found)))
    for _ in range(_STEPS):
        whole = np.hypot(placed_sd, near_sd * (found[-2] - found[-1] * above))
        info = weight / whole**2
        # each point's own height is whatever fits best
        means = (of_point.T @ (info[:, None] * known)) / (of_point.T @ info + _LOOSE)[:, None]
        rows = known - of_point @ means
        equations, left = rows[:, :-1], rows[:, -1]
        normal = equations.T @ (info[:, None] * equations)
        covariance = np.linalg.inv(normal + _LOOSE * np.eye(len(found)))
        found = covariance @ (equations.T @ (info * left))
        residual = (left - equations @ found) / whole
        spread = max(1.0, median_sd(residual))
        weight = biweights(residual, TUKEY_C * spread)
    tilt_sd, close_sd = spread * np.sqrt(covariance.diagonal()[-2:])
    return Camera(
        tilt=float(np.degrees(np.arcsin(np.clip(found[-2], -1.0, 1.0)))),
        tilt_sd=float(np.degrees(tilt_sd)),
        perspective=float(found[-1]),
        perspective_sd=float(close_sd),
        depth=float(np.nanstd(turn.z)),
    )

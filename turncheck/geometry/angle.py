"""Where the points of the one body fall at an angle that is not drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from turncheck.geometry.body import BODY_KNOWN_TO, Body
from turncheck.geometry.measurement import Measurement
from turncheck.geometry.turn.turn import across_at
from turncheck.numerics.arrays import Bools, Floats


@dataclass(frozen=True)
class Spots:
    """The N landmarks of a body seen at a yaw, px of the base drawing; NaN where not known.

    Attributes
    ----------
    across, up, depth
        (N,) from the turning axis to the picture's right, from the ground, toward the viewer.
    across_sd, up_sd, depth_sd
        (N,) their standard uncertainties.
    known
        (N,) whether both places in the picture are known to 1 % of the figure height.
    """

    across: Floats
    up: Floats
    depth: Floats
    across_sd: Floats
    up_sd: Floats
    depth_sd: Floats
    known: Bools


def spots_at(measured: Measurement, body: Body, yaw: float) -> Spots:
    """Return where the landmarks of a sheet's body fall at a yaw, degrees.

    What errs in x and in z together is counted in. A height that the drawings do not settle is
    their mean, as unsure besides as half of what they differ by.
    """
    across, across_sd = across_at(body.x, body.z, body.covariance, yaw)
    # a quarter turn on, what lay across lies deep
    back, depth_sd = across_at(body.x, body.z, body.covariance, yaw + 90.0)
    up, up_sd = _heights(measured, body)
    most = BODY_KNOWN_TO / 100.0 * measured.figure_height
    return Spots(
        across=across,
        up=up,
        depth=back,
        across_sd=across_sd,
        up_sd=up_sd,
        depth_sd=depth_sd,
        known=(across_sd <= most) & (up_sd <= most),
    )


def _heights(measured: Measurement, body: Body) -> tuple[Floats, Floats]:
    """Return (N,) heights and their standard uncertainties, of those not settled as well."""
    each, placed = measured.table.heights, np.isfinite(measured.table.heights)
    count = np.maximum(placed.sum(axis=0), 1)
    mean = np.where(placed.any(axis=0), np.where(placed, each, 0.0).sum(axis=0) / count, np.nan)
    spread = np.fmax.reduce(each) - np.fmin.reduce(each)
    variance = np.where(placed, measured.table.sd, 0.0) ** 2
    sd = np.sqrt(variance.sum(axis=0) / count**2 + (spread / 2.0) ** 2)
    settled = np.isfinite(body.y)
    return np.where(settled, body.y, mean), np.where(settled, body.y_sd, sd)

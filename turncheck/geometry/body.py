"""The one body that all drawings agree on, and where it falls in each of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from turncheck.geometry.measurement import Measurement
from turncheck.numerics.arrays import Floats

#: With fewer drawings nobody outvotes anybody: both heights are shown, and no other.
BODY_VIEWS_LEAST = 3
#: Of its placings' weight, what must stand by a height for it to be the body's: more than half.
BODY_KEPT_LEAST = 0.5
#: Standard uncertainty, % of the figure height, beyond which a place in the body is not known;
#: common practice, no source.
BODY_KNOWN_TO = 1.0
#: What is known without error counts as this, px², where it is averaged.
_VARIANCE_LEAST = 1e-12


@dataclass(frozen=True)
class Body:
    """One body, in the body frame: X to the picture's right in front, Y up, Z to the viewer.

    V views, N landmarks; px of the base drawing. What is not known, or not settled between the
    drawings, is NaN.

    Attributes
    ----------
    landmarks
        Names.
    x, y, z, x_sd, y_sd, z_sd
        (N,) coordinates and their standard uncertainties; Y from the ground, Z from the turning
        axis.
    covariance
        (2N, 2N) of (x, z), px².
    falls_x, falls_y, falls_x_sd, falls_y_sd
        (V, N) where each lies in each drawing, px of that drawing, y down.
    depth
        (V, N) how far toward the viewer of each drawing, px of the base drawing.
    """

    landmarks: tuple[str, ...]
    x: Floats
    y: Floats
    z: Floats
    x_sd: Floats
    y_sd: Floats
    z_sd: Floats
    covariance: Floats
    falls_x: Floats
    falls_y: Floats
    falls_x_sd: Floats
    falls_y_sd: Floats
    depth: Floats


def reconcile(measured: Measurement) -> Body:
    """Return the body that the drawings of a sheet agree on.

    Landmarks that must lie on the same spot are one there, to the last digit.
    """
    joined = _joining(measured)
    y, y_errors = _heights(measured)
    y, y_errors = _joined(joined, y, y_errors)
    count = len(measured.landmarks)
    turn = measured.turn
    variances = turn.covariance.diagonal()
    across = _weights(joined, variances[:count])
    deep = _weights(joined, variances[count:])
    x, z = _summed(across, turn.x), _summed(deep, turn.z)
    both = np.block([[across, np.zeros_like(across)], [np.zeros_like(deep), deep]])
    known = np.isfinite(variances)
    covariance = both @ np.where(known[:, None] & known, turn.covariance, 0.0) @ both.T
    sds = np.sqrt(covariance.diagonal())
    unknown = np.isnan(np.r_[x, z]) | (sds > BODY_KNOWN_TO / 100.0 * measured.figure_height)
    covariance[unknown[:, None] | unknown] = np.nan
    x, z = np.where(unknown, np.nan, np.r_[x, z]).reshape(2, count)
    x_sd, z_sd = np.where(unknown, np.nan, sds).reshape(2, count)
    falls_x, falls_x_sd = _joined_sideways(joined, turn.expected, turn.expected_sd)
    falls_y, falls_y_sd = _falls(measured, y, y_errors)
    at = np.radians(turn.yaw)[:, None]
    return Body(
        landmarks=measured.landmarks,
        x=x,
        y=y,
        z=z,
        x_sd=x_sd,
        y_sd=np.where(np.isnan(y), np.nan, np.sqrt((y_errors**2).sum(axis=1))),
        z_sd=z_sd,
        covariance=covariance,
        falls_x=falls_x,
        falls_y=falls_y,
        falls_x_sd=falls_x_sd,
        falls_y_sd=falls_y_sd,
        depth=z * np.cos(at) - x * np.sin(at),
    )


def _heights(measured: Measurement) -> tuple[Floats, Floats]:
    """Return (N,) heights, NaN where the drawings settle none, and (N, V * N) what they owe."""
    adjusted, placed = measured.adjusted, np.isfinite(measured.y)
    count = placed.sum(axis=0)
    share = (adjusted.kept * placed).sum(axis=0) / np.maximum(count, 1)
    settled = (count > 0) & (share > BODY_KEPT_LEAST)
    settled &= np.isfinite(measured.y).any(axis=1).sum() >= BODY_VIEWS_LEAST
    heights = np.where(settled & measured.firm, adjusted.heights, np.nan)
    errors = adjusted.height_errors.copy()
    for i in np.flatnonzero(~measured.firm & (count > 0)):
        heights[i], errors[i] = _of_a_slider(measured, int(i))
    return heights, errors


def _of_a_slider(measured: Measurement, i: int) -> tuple[float, Floats]:
    """Return the middle height of a landmark that lies at no one height, as sure as it varies."""
    errors = np.zeros(measured.sd.size)
    each = measured.table.heights[:, i]
    each = each[np.isfinite(each)]
    spread = float(np.ptp(each)) / 2.0
    errors[i] = max(spread, float(np.nanmin(measured.table.sd[:, i])))
    return float(np.median(each)), errors


def _falls(measured: Measurement, y: Floats, y_errors: Floats) -> tuple[Floats, Floats]:
    """Return (V, N) where heights lie in each drawing and their standard uncertainties."""
    adjusted = measured.adjusted
    sizes = np.array([one.scale for one in adjusted.scales])[:, None]
    grounds = np.array([one.ground for one in adjusted.scales])[:, None]
    owed = (
        adjusted.ground_errors[:, None]
        - adjusted.scale_errors[:, None] * np.nan_to_num(y)[:, None]
        - sizes[:, :, None] * y_errors
    )
    falls = grounds - sizes * y
    return falls, np.where(np.isnan(falls), np.nan, np.sqrt((owed**2).sum(axis=2)))


def _joining(measured: Measurement) -> list[list[int]]:
    """Return the columns of landmarks that must lie on one spot, group by group."""
    marks = measured.sheet.vocabulary.landmarks
    groups: dict[str, set[str]] = {}
    for name in measured.landmarks:
        other = marks[name].coincides_with
        if other in measured.landmarks:
            group = groups.get(name, {name}) | groups.get(other, {other})
            groups |= dict.fromkeys(group, group)
    found = {tuple(measured.columns(*sorted(group))) for group in groups.values()}
    return [list(columns) for columns in sorted(found)]


def _weights(joined: Sequence[Sequence[int]], variances: Floats) -> Floats:
    """Return (N, N) what each landmark's value is of all: its own, or the mean of its group's."""
    weights = np.eye(len(variances))
    certain = np.nan_to_num(1.0 / np.maximum(variances, _VARIANCE_LEAST))
    for group in joined:
        if certain[group].sum() > 0.0:
            weights[group] = 0.0
            weights[np.ix_(group, group)] = certain[group] / certain[group].sum()
    return weights


def _summed(weights: Floats, values: Floats) -> Floats:
    """Return weighted values, NaN where nothing that counts is known."""
    known = np.isfinite(values)
    sums: Floats = weights @ np.where(known, values, 0.0)
    return np.where((weights * known).sum(axis=1) > 0.0, sums, np.nan)


def _joined(
    joined: Sequence[Sequence[int]], values: Floats, errors: Floats
) -> tuple[Floats, Floats]:
    variances = np.where(np.isnan(values), np.nan, (errors**2).sum(axis=1))
    weights = _weights(joined, variances)
    return _summed(weights, values), weights @ errors


def _joined_sideways(
    joined: Sequence[Sequence[int]], falls: Floats, sd: Floats
) -> tuple[Floats, Floats]:
    """Return (V, N) falls of which groups are one; as sure as if they erred together."""
    both = [_weights(joined, row**2) for row in sd]
    means = [_summed(weights, row) for weights, row in zip(both, falls, strict=True)]
    return np.array(means), np.array([_summed(w, row) for w, row in zip(both, sd, strict=True)])

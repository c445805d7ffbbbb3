"""Where each pivot goes in each drawing, and in the rigger's own units."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from turncheck.geometry.body import Body
from turncheck.geometry.measurement import Measurement
from turncheck.handover.hidden import covering_parts, falls_or_drawn
from turncheck.numerics.arrays import Floats
from turncheck.sheet.model import Rig

#: The point that carries the whole figure: on the ground, between the feet.
MASTER = "master"
#: The lowest pivot of a leg lies no higher than this, % of the figure height; common practice, no
#: source.
FOOT_HEIGHT_MOST = 15.0
#: A drawing turned by less than this out of front or back shows no near and no far side, degrees;
#: common practice, no source.
SIDES_SHOW_FROM = 5.0


@dataclass(frozen=True)
class PivotPlace:
    """One pivot in one drawing; NaN where not known, px of that drawing, y down.

    Attributes
    ----------
    x, y, x_sd, y_sd
        Where it goes: where the one body has it, as drawn where that is not settled.
    drawn_x, drawn_y
        Where it is drawn.
    rig_x, rig_y
        Where it goes in the rigger's units.
    side
        'near', 'far' or 'middle'.
    hidden_behind
        The part that covers it, '' where none does.
    settled
        Whether the drawings agree on where it goes.
    """

    pivot: str
    title: str
    parent: str
    view: str
    x: float
    y: float
    x_sd: float
    y_sd: float
    drawn_x: float
    drawn_y: float
    rig_x: float
    rig_y: float
    side: str
    hidden_behind: str
    settled: bool


def pivot_places(measured: Measurement, body: Body) -> list[PivotPlace]:
    """Return the master point and every pivot, drawing by drawing, parents first."""
    feet, ordered = _feet(measured, body), _parents_first(measured)
    return [
        place
        for v in range(len(measured.views))
        for place in (_master(measured, body, v, feet), *_of_view(measured, body, v, ordered))
    ]


def _of_view(
    measured: Measurement, body: Body, v: int, names: Sequence[str]
) -> Iterator[PivotPlace]:
    sheet, marks = measured.sheet, measured.sheet.vocabulary.landmarks
    covering = covering_parts(measured, body, v)
    goes = falls_or_drawn(measured, body, v)
    for name in names:
        i, mark = measured.landmarks.index(name), marks[name]
        x, y, x_sd, y_sd = goes[:, i].tolist()
        rig = in_rig_units(sheet.rig, measured, v, (x, y))
        yield PivotPlace(
            pivot=name,
            title=mark.title,
            parent=mark.parent if mark.parent in measured.landmarks else MASTER,
            view=measured.views[v],
            x=x,
            y=y,
            x_sd=x_sd,
            y_sd=y_sd,
            drawn_x=float(measured.x[v, i]),
            drawn_y=float(measured.y[v, i]),
            rig_x=rig[0],
            rig_y=rig[1],
            side=side_of(measured, i, float(measured.turn.yaw[v]), body.depth[v]),
            hidden_behind=covering.get(i, ""),
            settled=math.isfinite(body.falls_x[v, i] + body.falls_y[v, i]),
        )


def _parents_first(measured: Measurement) -> list[str]:
    """Return the pivots that are placed somewhere, each after the one that carries it."""
    marks = measured.sheet.vocabulary.landmarks
    left = [name for name in measured.landmarks if marks[name].kind == "pivot"]
    ordered: list[str] = []
    while left:
        ready = [name for name in left if marks[name].parent not in left] or left
        ordered += ready
        left = [name for name in left if name not in ready]
    return ordered


def side_of(measured: Measurement, i: int, yaw: float, depth: Floats) -> str:
    """Return on which side of the body a landmark lies at a yaw; `depth` is (N,) as of `Body`."""
    name = measured.landmarks[i]
    twin = measured.sheet.vocabulary.landmarks[name].twin
    if not twin:
        return "middle"
    other = measured.columns(twin)
    return side_at(yaw, name, float(depth[i] - depth[other[0]]) if other else math.nan)


def side_at(yaw: float, landmark: str, apart: float) -> str:
    """Return on which side a point of a pair lies at a yaw: 'near', 'far' or 'middle'.

    `apart` is how much nearer it is than its twin; where that is not known (NaN) its name tells.

    >>> side_at(45.0, "knee_l", math.nan), side_at(-90.0, "knee_l", 8.0), side_at(3.0, "eye_l", 8.0)
    ('far', 'near', 'middle')
    """
    if abs(math.sin(math.radians(yaw))) < math.sin(math.radians(SIDES_SHOW_FROM)):
        return "middle"
    if math.isnan(apart):  # at a positive yaw the character's right is near
        return "near" if landmark.endswith("_r") == (yaw > 0) else "far"
    return "near" if apart > 0 else "far"


def _master(measured: Measurement, body: Body, v: int, feet: list[int]) -> PivotPlace:
    """Return the point on the ground between the feet, which are columns."""
    nan = math.nan
    scale = measured.trusted_scales[v]
    goes = falls_or_drawn(measured, body, v)
    x, x_sd = _mean(goes[0, feet]), _mean(goes[2, feet])
    rig = in_rig_units(measured.sheet.rig, measured, v, (x, scale.ground))
    return PivotPlace(
        pivot=MASTER,
        title="master point",
        parent="",
        view=measured.views[v],
        x=x,
        y=scale.ground,
        x_sd=x_sd,
        y_sd=float(scale.ground_sd),
        drawn_x=nan,
        drawn_y=nan,
        rig_x=rig[0],
        rig_y=rig[1],
        side="middle",
        hidden_behind="",
        settled=math.isfinite(x),
    )


def _mean(values: Floats) -> float:
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else math.nan


def _feet(measured: Measurement, body: Body) -> list[int]:
    """Return the lowest pivots of all legs, as columns; the ground's own where there are none."""
    marks = measured.sheet.vocabulary.landmarks
    low = FOOT_HEIGHT_MOST / 100.0 * measured.figure_height
    heights = np.where(np.isfinite(body.y), body.y, np.nanmedian(measured.table.heights, axis=0))
    feet = [
        i
        for i, name in enumerate(measured.landmarks)
        if marks[name].kind == "pivot" and marks[name].twin and heights[i] < low
    ]
    lowest = {marks[measured.landmarks[i]].part: i for i in sorted(feet, key=lambda i: -heights[i])}
    return sorted(lowest.values()) or measured.columns("ground")


def in_rig_units(
    rig: Rig, measured: Measurement, v: int, spot: tuple[float, float]
) -> tuple[float, float]:
    """Return a spot of a drawing, px, in the rigger's units.

    Examples
    --------
    >>> import turncheck
    >>> measured = turncheck.check("sample_views/odo").measured
    >>> axis, ground = measured.turn.axis[0], measured.trusted_scales[0].ground
    >>> spot = float(axis), ground - measured.figure_height
    >>> x, y = in_rig_units(Rig(figure=170.0), measured, 0, spot)
    >>> round(x, 6), round(y, 6)
    (0.0, 170.0)
    """
    scale = measured.trusted_scales[v]
    zero = rig.origin or (float(measured.turn.axis[v]), scale.ground)
    unit = rig.figure / measured.figure_height if rig.figure else 1.0
    up = -1.0 if rig.y_up else 1.0
    return (
        (spot[0] - zero[0]) / scale.scale * unit,
        up * (spot[1] - zero[1]) / scale.scale * unit,
    )

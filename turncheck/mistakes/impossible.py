"""What can't be meant at all, refused before anything is measured."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from turncheck.errors import TurncheckError
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import LANDMARKS_FILE, Sheet

#: Yaws in radians that a turnaround has, and how far from them they are rounded.
RADIANS = (math.pi / 4, math.pi / 2, 3 * math.pi / 4, math.pi)
ROUNDED = 0.01
#: Points of a drawing that all lie within so many px lie on one spot.
SPOT = 1.0


def refuse_impossible(sheet: Sheet, placings: Iterable[Placing]) -> None:
    """Refuse yaws that are radians, and drawings whose points all lie on one spot.

    Raises
    ------
    TurncheckError
        Naming every such thing.
    """
    faults = [*_radians(sheet), *_one_spot(sheet, placings)]
    if faults:
        raise TurncheckError(*faults)


def _radians(sheet: Sheet) -> list[str]:
    yaws = {name: view.yaw for name, view in sheet.views.items()}
    told = [
        name
        for name, yaw in yaws.items()
        if any(abs(abs(yaw) - known) <= ROUNDED for known in RADIANS)
    ]
    if not told or any(abs(yaw) > math.tau + ROUNDED for yaw in yaws.values()):
        return []
    yaw = yaws[told[0]]
    return [
        f"{sheet.path}: the yaws look like radians (yaw = {yaw:g} on {told[0]}); "
        f"give them in degrees: {math.degrees(yaw):.0f} there"
    ]


def _one_spot(sheet: Sheet, placings: Iterable[Placing]) -> list[str]:
    spots: dict[str, dict[str, tuple[float, float]]] = {}
    for placing in placings:
        spots.setdefault(placing.view, {})[placing.landmark] = placing.x, placing.y
    return [
        f"{sheet.folder / LANDMARKS_FILE}: all {len(points)} points of {view} lie on one spot; "
        "place each on its own"
        for view, points in spots.items()
        if len(points) > 2 and np.ptp(list(points.values()), axis=0).max() <= SPOT
    ]

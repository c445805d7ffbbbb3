"""What a sheet gives to the show's statistics: how far each point lies from the other drawings."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from turncheck.checks.eye_line import LINE
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.result import Result


@dataclass(frozen=True)
class Drift:
    """How far a point of one drawing lies above the same one in the sheet's other drawings.

    Attributes
    ----------
    landmark
        `LINE.name` for the line through the eyes that are placed.
    drift_pct, sd_pct
        % of the figure height, upwards, with the drawing's own size and position taken out; and
        the standard uncertainty of that, as the placings have it.
    """

    view: str
    landmark: str
    drift_pct: float
    sd_pct: float


def drifts_of(checked: Result) -> list[Drift]:
    """Return every height of every drawing against the mean of all others of the sheet.

    All others, also where a majority of them would outvote one: so what one drawing has too low
    shows as all others a little too high, in a known proportion, and nothing jumps with a vote.
    A drawing has no part in it where a warning is about it, or where its size and position can't
    be told.

    Examples
    --------
    >>> import turncheck
    >>> drifts = drifts_of(turncheck.check("sample_views/odo"))
    >>> max(abs(one.drift_pct) for one in drifts) < 1.0
    True
    """
    measured = checked.measured
    used = np.array(
        [
            fit.trusted and not checked.is_warned_of(view)
            for view, fit in zip(measured.views, measured.fitted, strict=True)
        ]
    )
    found = []
    for v in np.flatnonzero(used):
        alone = np.arange(len(used)) == v
        for landmark, columns in _heights(measured):
            apart, sd = measured.table.apart(alone, used & ~alone, columns)
            if not math.isnan(apart):
                drift, within = measured.percent(apart), measured.percent(sd)
                found.append(Drift(measured.views[v], landmark, drift, within))
    return found


def _heights(measured: Measurement) -> list[tuple[str, list[int]]]:
    """Return the heights that are compared: the eye line, and each point but the ground."""
    eyes = measured.columns(*measured.sheet.vocabulary.eyes)
    lines = [(LINE.name, eyes)] if eyes else []
    names = zip(measured.landmarks, measured.tall, strict=True)
    points = [
        (name, [column])
        for column, (name, tall) in enumerate(names)
        if tall and column not in eyes and name != "ground"
    ]
    return lines + points

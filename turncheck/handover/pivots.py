"""A sheet's one body, its pivots in every drawing, and the parts that lie hidden."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from turncheck.geometry.body import Body, reconcile
from turncheck.handover.hidden import HiddenPart, hidden_parts
from turncheck.handover.pivot_places import PivotPlace, pivot_places
from turncheck.instructions.result import Result


@dataclass(frozen=True)
class Pivots:
    """What the rigger builds on."""

    checked: Result
    body: Body
    places: tuple[PivotPlace, ...]
    hidden: tuple[HiddenPart, ...]

    @property
    def body_rows(self) -> list[list[str | float]]:
        """The body's landmarks: name, X, Y, Z and their standard uncertainties."""
        body = self.body
        each = np.column_stack([body.x, body.y, body.z, body.x_sd, body.y_sd, body.z_sd])
        rows = zip(body.landmarks, each.tolist(), strict=True)
        return [[name, *values] for name, values in rows if name != "ground"]


def pivots_of(checked: Result) -> Pivots:
    """Return a checked sheet's pivots."""
    measured = checked.measured
    body = reconcile(measured)
    return Pivots(checked, body, tuple(pivot_places(measured, body)), tuple(hidden_parts(measured)))

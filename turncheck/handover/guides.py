"""A sheet's guides: the character at angles that are not drawn yet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from turncheck.geometry.body import Body, reconcile
from turncheck.handover.angle import Angle, angle_at, refuse_unturnable
from turncheck.handover.guides_shapes import Bytes
from turncheck.handover.under_drawing import under_drawing
from turncheck.handover.under_drawing_look import faint, pencilled
from turncheck.instructions.result import Result
from turncheck.numerics.angles import wrapped


@dataclass(frozen=True)
class Guides:
    """A checked sheet, its one body, and that body at the angles asked for."""

    checked: Result
    body: Body
    angles: tuple[Angle, ...]

    def under(self, angle: Angle, *, colours: bool = False) -> Bytes:
        """Return an angle's under-drawing, (H, W, 4) RGBA: its lines, or its colours, faint.

        Clear where no drawing looks from near enough.

        Raises
        ------
        TurncheckError
            If a drawing's file has gone or is broken.
        """
        measured = self.checked.measured
        drawn = under_drawing(measured, angle)
        if drawn is None:
            return np.zeros((angle.canvas.height, angle.canvas.width, 4), np.uint8)
        return faint(drawn) if colours else pencilled(drawn, measured.figure_height)


def guides_of(checked: Result, yaws: Iterable[float]) -> Guides:
    """Return a checked sheet's guides at some yaws, degrees, each once.

    Raises
    ------
    TurncheckError
        If the drawings don't say how deep the body is, naming what to place.
    """
    measured = checked.measured
    refuse_unturnable(measured)
    body = reconcile(measured)
    asked = dict.fromkeys(wrapped(yaw) + 0.0 for yaw in yaws)  # no minus nought
    return Guides(checked, body, tuple(angle_at(measured, body, yaw) for yaw in asked))


def whole_turn(every: float) -> list[float]:
    """Return the yaws of a whole turn in steps of so many degrees, from the front on.

    >>> whole_turn(90.0)
    [0.0, 90.0, 180.0, -90.0]
    """
    yaws = [every * step for step in range(int(-(-360.0 // every)))]
    return [yaw - 360.0 if yaw > 180.0 else yaw for yaw in yaws]

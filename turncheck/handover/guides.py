"""A sheet's guides: the drawings put right, and the character at angles not drawn yet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from turncheck.geometry.body import Body, reconcile
from turncheck.handover.angle import Angle, angle_at, refuse_unturnable
from turncheck.handover.drawn_guides import DrawnGuide, drawn_guides
from turncheck.handover.ghost import ghost_of
from turncheck.handover.under_drawing_look import faint, pencilled, washed
from turncheck.handover.under_drawing_sources import figure_of
from turncheck.instructions.result import Result
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Bytes


@dataclass(frozen=True)
class Guides:
    """A checked sheet, its drawings with work to do, its one body, and the angles asked for."""

    checked: Result
    drawings: tuple[DrawnGuide, ...]
    body: Body
    angles: tuple[Angle, ...]

    def ghost(self, guide: DrawnGuide, *, colours: bool = False) -> Bytes:
        """Return what goes elsewhere in a drawing, (H, W, 4) RGBA: its lines, or colours, faint."""
        if not guide.has_ghost:
            return np.zeros((guide.height, guide.width, 4), np.uint8)
        measured = self.checked.measured
        figure = figure_of(measured, measured.views.index(guide.view))
        drawn = washed(self.looked(figure, colours=colours), figure)
        return ghost_of(drawn, guide.pieces, guide.whole)

    def looked(self, picture: Bytes, *, colours: bool = False) -> Bytes:
        """Return a picture, (H, W, 4) RGBA, as guides show it: its lines, or its colours, faint."""
        if colours:
            return faint(picture)
        return pencilled(picture, self.checked.measured.figure_height)


def guides_of(checked: Result, yaws: Iterable[float] = ()) -> Guides:
    """Return a checked sheet's guides: of its drawings, and at some yaws, degrees, each once.

    Raises
    ------
    TurncheckError
        If yaws are asked for and the drawings don't say how deep the body is, naming what to place.
    """
    measured = checked.measured
    asked = dict.fromkeys(wrapped(yaw) + 0.0 for yaw in yaws)  # no minus nought
    if asked:
        refuse_unturnable(measured)
    body = reconcile(measured)
    angles = tuple(angle_at(measured, body, yaw) for yaw in asked)
    return Guides(checked, drawn_guides(checked), body, angles)


def whole_turn(every: float) -> list[float]:
    """Return the yaws of a whole turn in steps of so many degrees, from the front on.

    >>> whole_turn(90.0)
    [0.0, 90.0, 180.0, -90.0]
    """
    yaws = [every * step for step in range(int(-(-360.0 // every)))]
    return [yaw - 360.0 if yaw > 180.0 else yaw for yaw in yaws]

"""Where a show's points lie as its marked sheets have it: from the outlines and each other."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from turncheck.geometry.heights import Average
from turncheck.geometry.placing_sd import HIDDEN_FACTOR
from turncheck.numerics.arrays import Bools, Floats
from turncheck.placing.drawings import Drawings
from turncheck.placing.learned.outline import BANDS, PER_BAND, Frame, frame_of, outline_numbers
from turncheck.placing.learned.shapes import Scores, ShapeSpace
from turncheck.sheet.model import Sheet

#: A point of a character: whole degrees of its drawing's yaw, and the landmark.
Point = tuple[int, str]
Placed = Mapping[tuple[str, str], Average]

#: How many situations a point's figures are told apart by: on how many other drawings the same
#: landmark is placed, two and more being one.
SITUATIONS = 3


@dataclass(frozen=True)
class Expected:
    """Where a point is expected, px of its drawing.

    `sd` is that of its distance, `percent` one % of the figure's height, `nearer` whether it goes
    before other proposals, `hidden` whether it lies behind a part.
    """

    x: float
    y: float
    sd: float
    percent: float
    nearer: bool
    hidden: bool


@dataclass(frozen=True)
class ShowModel:
    """What was learned from a show; numbers are % of a figure's own height, see `Frame`.

    Attributes
    ----------
    points
        (N,) the points that it knows; x and y of each follow one another in a shape, D = 2 N.
    outlines, shapes
        The spaces of a character's outlines, drawing after drawing, and of its points.
    slopes, start, left
        (K, L), (L,) and (L, L): how the K scores of an outline tell the L of a shape, and the
        covariance of what they do not tell.
    doubt
        (SITUATIONS, N) by how much points lie further off than the spaces say, measured on
        characters left out; NaN where that could not be measured, so that it says nothing.
    nearer
        (SITUATIONS, N) whether they lay nearer there than the proposals that rest on nothing
        learned; where not, these stand, if there are any.
    hidden
        (N,) whether the point lies behind another part, as a rule.
    strangest
        The largest misfit of the outlines of a character that was left out: one that is drawn
        or dressed more unlike the others is not told by them.
    """

    points: tuple[Point, ...]
    outlines: ShapeSpace
    shapes: ShapeSpace
    slopes: Floats
    start: Floats
    left: Floats
    doubt: Floats
    nearer: Bools
    hidden: Bools
    strangest: float

    @property
    def yaws(self) -> tuple[int, ...]:
        """The drawings that it knows, in the order in which their outlines stand."""
        return tuple(dict.fromkeys(yaw for yaw, _ in self.points))

    def told_by_outlines(self, outlines: Floats) -> Scores:
        """Return the scores of a shape as the outlines tell them, NaN where none is known."""
        seen = self.outlines.scores(outlines, self.outlines.unknown)
        left = self.left + self.slopes.T @ seen.covariance @ self.slopes
        return Scores(self.start + seen.mean @ self.slopes, left)

    def expected(
        self, before: Scores, placed: Floats, further: Floats | float = 0.0
    ) -> tuple[Floats, Floats]:
        """Return where all points are expected, (N, 2), and the sd of their distances, (N,).

        Parameters
        ----------
        before
            As the outlines tell.
        placed
            (D,) the shape, NaN where it is not placed.
        further
            As `ShapeSpace.scores` takes it.
        """
        vector, variance = self.shapes.vector(self.shapes.scores(placed, before, further))
        return vector.reshape(-1, 2), np.sqrt(variance.reshape(-1, 2).sum(axis=1))


def views_by_yaw(sheet: Sheet) -> dict[int, str]:
    """Return a sheet's views by their yaw in whole degrees, the first of several."""
    found: dict[int, str] = {}
    for name, view in sheet.views.items():
        found.setdefault(round(view.yaw), name)
    return found


def outlines_of(frames: Mapping[str, Frame], drawings: Drawings) -> dict[str, Floats]:
    """Return what `outline_numbers` says of the outlines of some drawings, by view."""
    figures = {view: drawings[view].figure for view in frames}
    return {view: outline_numbers(mask) for view, mask in figures.items() if mask is not None}


def frames_of(drawings: Drawings) -> dict[str, Frame]:
    """Return the frames of the drawings whose figure can be told from the ground, by view."""
    found = {view: frame_of(drawings[view]) for view in drawings}
    return {view: frame for view, frame in found.items() if frame is not None}


class LearnedPoints:
    """A model and the drawings of one sheet; what the outlines tell is worked out once."""

    def __init__(self, model: ShowModel, sheet: Sheet, drawings: Drawings) -> None:
        self._model, self._sheet, self._drawings = model, sheet, drawings
        self._views = views_by_yaw(sheet)

    @cached_property
    def _told(self) -> tuple[dict[str, Frame], Scores]:
        """The frames of the drawings, none where the character is too unlike the show's."""
        frames = frames_of(self._drawings)
        outlines = outlines_of(frames, self._drawings)
        nothing = np.full(BANDS * PER_BAND, np.nan)
        rows = [outlines.get(self._views.get(yaw, ""), nothing) for yaw in self._model.yaws]
        outline = np.concatenate(rows)
        if self._model.outlines.misfit(outline) > self._model.strangest:
            frames = {}
        return frames, self._model.told_by_outlines(outline)

    def spots(self, placed: Placed) -> dict[tuple[str, str], Expected]:
        """Return where the points that the model knows and that are not placed yet are expected.

        By view and landmark; none where the character is too unlike the show's.
        """
        frames, before = self._told
        if not frames:
            return {}
        shape = np.full((len(self._model.points), 2), np.nan)
        further = np.zeros(shape.shape)
        for n, (yaw, landmark) in enumerate(self._model.points):
            view = self._views.get(yaw, "")
            one = placed.get((view, landmark))
            if one is not None and view in frames:
                shape[n] = frames[view].inside(one.x, one.y)
                unsure = self._sheet.placing_sd * HIDDEN_FACTOR if one.hidden else 0.0
                if np.isfinite(one.sd):
                    unsure = 100.0 * one.sd / frames[view].height
                further[n] = unsure**2
        at, sd = self._model.expected(before, shape.ravel(), further.ravel())
        found = {}
        for n, (yaw, landmark) in enumerate(self._model.points):
            view = self._views.get(yaw, "")
            if view not in frames or (view, landmark) in placed:
                continue
            others = sum(name == landmark and on != view for on, name in placed)
            situation = min(others, SITUATIONS - 1)
            own = float(sd[n] * self._model.doubt[situation, n])
            if math.isfinite(own):
                x, y = frames[view].outside(float(at[n, 0]), float(at[n, 1]))
                percent = frames[view].height / 100.0
                nearer, hidden = bool(self._model.nearer[situation, n]), bool(self._model.hidden[n])
                found[view, landmark] = Expected(x, y, own * percent, percent, nearer, hidden)
        return found

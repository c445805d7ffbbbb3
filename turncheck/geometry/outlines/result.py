"""The result: where no solid body fits the outlines, and what these drawings could not show."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from turncheck.numerics.arrays import Bools, Floats

Kind = Literal["mirror", "outline"]
Side = Literal["left", "right", "both", "height"]

#: What `OutlineComparison.states` says of a row.
FITS, CONTRADICTS, NOT_SEEN = 0, 1, 2


@dataclass(frozen=True)
class Remedy:
    """One change that alone would make a body fit.

    Attributes
    ----------
    side
        Side of the picture; 'both' where they must move by the same amount, 'height' where the
        figure must begin or end elsewhere.
    px
        The least that the outline must move, px of the drawing; outward positive. For 'height' the
        number of picture rows that the figure must gain (positive) or lose.
    """

    view: int
    side: Side
    px: float


@dataclass(frozen=True)
class Contradiction:
    """A stretch of rows that no solid body can fill.

    Attributes
    ----------
    kind
        'mirror' where two drawings from opposite sides are no mirror images, else 'outline'.
    views
        All drawings that take part.
    heights
        Lowest and highest row, reference px above the ground.
    rows
        (V, 2) its first and last picture row in each drawing, px, top first.
    remedies
        Smallest first; each alone would do, along the whole stretch. Empty where no single change
        would.
    amount
        The least px, of the reference, by which some side must move.
    symmetry
        Whether it rests on the body being mirror symmetric.
    """

    kind: Kind
    views: tuple[int, ...]
    heights: tuple[float, float]
    rows: Floats
    remedies: tuple[Remedy, ...]
    amount: float
    symmetry: bool

    @property
    def blamed(self) -> int | None:
        """The one drawing that could be at fault alone; None where it can't be told."""
        suspects = {remedy.view for remedy in self.remedies}
        return suspects.pop() if len(suspects) == 1 else None


@dataclass(frozen=True)
class OutlineComparison:
    """What the outlines of V drawings say on R rows of the body.

    Attributes
    ----------
    refusal
        Why nothing was compared; empty when something was.
    left_out
        (V,) empty where a drawing was compared, else why it was not, for people.
    heights
        (R,) the rows, reference px above the ground.
    contradictions
        From the highest down.
    outward, inward
        (V, 2, R) how far `stretch` of the outline around that row, left and right of the picture,
        could move before these drawings would notice; px of the drawing, inf for ever.
    symmetric, symmetry_note
        (R,) rows where each drawing was also read as its mirror image; why symmetry was dropped,
        wholly or in places, empty where it was not.
    stretch, tolerance
        The shortest part of an outline that is noticed, and what an extent may be off by
        unnoticed, reference px.
    """

    refusal: str
    left_out: tuple[str, ...]
    heights: Floats
    contradictions: tuple[Contradiction, ...]
    outward: Floats
    inward: Floats
    symmetric: Bools
    symmetry_note: str
    stretch: float
    tolerance: float

    def __bool__(self) -> bool:
        return not self.refusal

    @property
    def compared(self) -> Bools:
        """Which drawings were compared; (V,)."""
        return np.array([not why for why in self.left_out], dtype=bool)

    def states(self, view: int, allowed: float) -> NDArray[np.int8]:
        """Say of each row whether a drawing's outline is on model there.

        Parameters
        ----------
        allowed
            Error that may pass, px of the drawing.

        Returns
        -------
        (2, R) array of int
            For left and right: `CONTRADICTS` where a contradiction would be mended there;
            `FITS` where an error of `allowed` px, outward or inward, would have shown and none
            did; else `NOT_SEEN`.
        """
        notices = np.maximum(self.outward[view], self.inward[view]) <= allowed
        out = np.where(notices, FITS, NOT_SEEN).astype(np.int8)
        for found in self.contradictions:
            low, high = found.heights
            within = (self.heights >= low) & (self.heights <= high)
            if view in found.views:
                out[:, within] = NOT_SEEN
            for remedy in found.remedies:
                if remedy.view == view:
                    sides = {"left": [0], "right": [1]}.get(remedy.side, [0, 1])
                    out[np.ix_(np.array(sides), np.flatnonzero(within))] = CONTRADICTS
        return out

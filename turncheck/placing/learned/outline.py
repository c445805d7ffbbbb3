"""A figure's outline as numbers, and the frame that a drawing's points are told in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from turncheck.images.features import row_extents
from turncheck.numerics.arrays import Bools, Floats
from turncheck.placing.drawings import Drawing
from turncheck.placing.silhouette import legs_between, rows_of, run_at

#: Bands that a figure's height is cut into, each with its five numbers: a head of a figure of six
#: heads has seven of them; common practice, no source.
BANDS = 40
PER_BAND = 5


@dataclass(frozen=True)
class Frame:
    """Where a figure stands in its drawing, px of it: the middle of its legs, its sole, its height.

    Positions in the frame are % of the figure's own height, hair and hat counted, x to the right
    and y up.
    """

    middle: float
    sole: float
    height: float

    def inside(self, x: float, y: float) -> tuple[float, float]:
        """Return a position of the drawing in the frame."""
        return 100.0 * (x - self.middle) / self.height, 100.0 * (self.sole - y) / self.height

    def outside(self, x: float, y: float) -> tuple[float, float]:
        """Return a position in the frame as px of the drawing."""
        return self.middle + x * self.height / 100.0, self.sole - y * self.height / 100.0


def frame_of(drawing: Drawing) -> Frame | None:
    """Return the frame of a drawing, or None where its figure can't be told from the ground."""
    if drawing.figure is None or drawing.box is None:
        return None
    left, right = legs_between(drawing.figure)
    _, top, _, bottom = drawing.box
    return Frame(drawing.to_own((left + right) / 2.0), bottom, bottom - top)


def outline_numbers(mask: Bools) -> Floats:
    """Return what a figure's outline is, (BANDS * PER_BAND,), % of its height.

    For each band of its height, from the top: its outermost edges, how much of the band is filled,
    and the edges of the piece nearest to the middle of the legs, which an arm held out is not.
    """
    top, bottom = rows_of(mask)
    left, right = legs_between(mask)
    middle, height = (left + right) / 2.0, bottom - top + 1
    edges = np.linspace(top, bottom + 1, BANDS + 1)
    found = np.zeros((BANDS, PER_BAND))
    filled = mask.sum(axis=1)
    first, last = row_extents(mask)
    for band, numbers in enumerate(found):
        start = min(int(edges[band]), bottom)
        rows = np.arange(start, max(int(np.ceil(edges[band + 1])), start + 1))
        rows = rows[rows <= bottom]
        rows = rows[filled[rows] > 0]
        if not len(rows):  # a hat that floats
            continue
        near, far = run_at(mask[rows[len(rows) // 2]], middle)
        numbers[:2] = first[rows].mean() - middle, last[rows].mean() - middle
        numbers[2] = filled[rows].mean()
        numbers[3:] = near - 0.5 - middle, far + 0.5 - middle
    return 100.0 * found.ravel() / height

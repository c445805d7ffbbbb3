"""Where lines and edges of colour are drawn within a figure, coarsely; elsewhere it is flat."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from turncheck.images.flat_colours import Colours
from turncheck.numerics.arrays import Bools

#: Longest side of the map, cells; common practice, no source.
DETAIL_SIDE_MOST = 250
#: Neighbours this far apart in red, green or blue, of 255, are no flat colour with grain; common
#: practice, no source.
DETAIL_STEP_LEAST = 40


@dataclass(frozen=True, eq=False)
class Detail:
    """The cells of a drawing in which something is drawn.

    Attributes
    ----------
    drawn
        (h, w) bool.
    x, y
        Where the first cell's centre lies, px of the drawing.
    cell
        Side of a cell, px of the drawing.
    """

    drawn: Bools
    x: float = 0.0
    y: float = 0.0
    cell: float = 1.0

    def share(self, x: float, y: float, reach: float) -> float:
        """Return on how much of what lies within `reach` px of a place something is drawn.

        0 where nothing of the map lies there.

        >>> found = Detail(np.array([[False, False, True]]), cell=10.0)
        >>> [found.share(x, 0.0, 8.0) for x in (0.0, 15.0, 99.0)]
        [0.0, 0.5, 0.0]
        """
        rows, columns = np.indices(self.drawn.shape)
        across, down = self.x + columns * self.cell - x, self.y + rows * self.cell - y
        near = self.drawn[np.hypot(across, down) <= reach]
        return float(near.mean()) if near.size else 0.0


#: Of a drawing that nobody has decoded.
NO_DETAIL = Detail(np.zeros((0, 0), dtype=bool))


def detail_of(colours: Colours, x: int, y: int) -> Detail:
    """Return where a figure is drawn on; (x, y) is the first px of its box in the drawing."""
    edges = cv2.morphologyEx(colours.bgr, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    drawn = np.asarray(cv2.inRange(edges, (0,) * 3, (DETAIL_STEP_LEAST - 1,) * 3)) == 0
    side = -(-max(drawn.shape) // DETAIL_SIDE_MOST)
    height, width = (-(-length // side) for length in drawn.shape)
    whole = np.zeros((height * side, width * side), dtype=bool)
    whole[: drawn.shape[0], : drawn.shape[1]] = drawn
    cells = np.asarray(whole.reshape(height, side, width, side).any(axis=(1, 3)), dtype=bool)
    px = side / colours.factor
    return Detail(cells, x + px / 2.0 - 0.5, y + px / 2.0 - 0.5, px)

"""What is read off one drawing's pixels, so that checks need numbers and not pictures."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from turncheck.pictures.figure import FigureMask, FoundBy, figure_mask
from turncheck.pictures.fills import Fill, find_fills
from turncheck.pictures.strokes import Strokes, measure_strokes

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]

#: Furthest that a stored contour lies from the mask's border, px.
CONTOUR_ERROR = 0.75


@dataclass(frozen=True, eq=False)
class DrawingStudy:
    """One drawing in numbers; px of the drawing, y down, (0, 0) the centre of its first pixel.

    Attributes
    ----------
    width, height
        Of the picture, px.
    found_by, doubts
        How the figure was found, and sentences on what was guessed.
    left, right
        (height,) x of the figure's outer edges in each picture row; NaN where it has none.
    contours
        (n, 2) closed lines round the figure and its gaps, int32 px, the longest first.
    area
        Of the figure, px.
    strokes
        None where the drawing has no line work along its border.
    fills
        The largest first.
    """

    width: int
    height: int
    found_by: FoundBy
    doubts: tuple[str, ...]
    left: Floats
    right: Floats
    contours: tuple[npt.NDArray[np.int32], ...]
    area: int
    strokes: Strokes | None
    fills: tuple[Fill, ...]

    @property
    def top(self) -> float:
        """Upper edge of the figure, px; NaN where there is no figure."""
        rows = np.flatnonzero(np.isfinite(self.left))
        return float(rows[0]) - 0.5 if len(rows) else np.nan

    @property
    def bottom(self) -> float:
        """Lower edge of the figure, px; NaN where there is no figure."""
        rows = np.flatnonzero(np.isfinite(self.left))
        return float(rows[-1]) + 0.5 if len(rows) else np.nan


def study_drawing(pixels: Bytes, mask: FigureMask | None = None) -> DrawingStudy:
    """Read off a decoded drawing all that the checks need of it.

    Parameters
    ----------
    pixels
        (H, W, 3) BGR or (H, W, 4) BGRA.
    mask
        The figure where the sheet names a mask; found in the drawing otherwise.

    Examples
    --------
    >>> drawing = np.zeros((60, 40, 4), np.uint8)
    >>> drawing[10:50, 8:20] = (44, 59, 162, 255)
    >>> study = study_drawing(drawing)
    >>> study.found_by, study.top, study.bottom, float(study.left[30]), float(study.right[30])
    ('alpha', 9.5, 49.5, 7.5, 19.5)
    """
    found = figure_mask(pixels) if mask is None else mask
    figure = found.pixels
    left, right = row_extents(figure)
    strokes = measure_strokes(pixels, figure)
    lines, _ = cv2.findContours(figure.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    simple = [cv2.approxPolyDP(line, CONTOUR_ERROR, True)[:, 0] for line in lines]
    contours = sorted((line.astype(np.int32) for line in simple if len(line) > 2), key=len)
    return DrawingStudy(
        width=int(pixels.shape[1]),
        height=int(pixels.shape[0]),
        found_by=found.found_by,
        doubts=found.doubts,
        left=left,
        right=right,
        contours=tuple(contours[::-1]),
        area=int(np.count_nonzero(figure)),
        strokes=strokes,
        fills=find_fills(pixels, figure, strokes.width if strokes else 0.0),
    )


def row_extents(figure: npt.NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Return (H,) the outer edges of an (H, W) figure in each row, px; NaN in empty rows.

    A pixel reaches half a px to either side of its centre.

    >>> left, right = row_extents(np.array([[False, True, True, False], [False] * 4]))
    >>> left.tolist(), right.tolist()
    ([0.5, nan], [2.5, nan])
    """
    some = figure.any(axis=1)
    left = np.where(some, np.argmax(figure, axis=1) - 0.5, np.nan)
    width = figure.shape[1]
    right = np.where(some, width - 1 - np.argmax(figure[:, ::-1], axis=1) + 0.5, np.nan)
    return left, right

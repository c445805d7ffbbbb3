"""What is read off one drawing's pixels, so that checks need numbers and not pictures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
import numpy.typing as npt

from turncheck.images.detail import NO_DETAIL, Detail, detail_of
from turncheck.images.figure_mask import FigureMask, FoundBy, figure_mask
from turncheck.images.flat_colours import Colours, Fill, fills_of, sample_colours
from turncheck.images.stroke_width import Border, Strokes, sample_border, strokes_of
from turncheck.numerics.arrays import Bools, Bytes, Floats

#: Furthest that a stored contour lies from the mask's border, px.
CONTOUR_ERROR = 0.75
#: Paper that is looked at beside the figure, px.
_BESIDE = 16


@dataclass(frozen=True, eq=False)
class ImageFeatures:
    """One drawing in numbers; px of the drawing, y down, (0, 0) the centre of its first pixel.

    Attributes
    ----------
    width, height
        Of the picture, px.
    found_by, doubts
        How the figure was found ("nothing" in `NO_FEATURES` alone), and sentences on what was
        guessed.
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
    detail
        Where something is drawn within it.
    """

    width: int
    height: int
    found_by: FoundBy | Literal["nothing"]
    doubts: tuple[str, ...]
    left: Floats
    right: Floats
    contours: tuple[npt.NDArray[np.int32], ...]
    area: int
    strokes: Strokes | None
    fills: tuple[Fill, ...]
    detail: Detail = NO_DETAIL

    @property
    def box(self) -> tuple[float, float, float, float] | None:
        """Left, top, right and bottom edge of the figure, px; None where there is none."""
        if not np.isfinite(self.left).any():
            return None
        return float(np.nanmin(self.left)), self.top, float(np.nanmax(self.right)), self.bottom

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


#: Of a drawing that nobody has decoded: no figure, no strokes, no fills.
NO_FEATURES = ImageFeatures(
    width=0,
    height=0,
    found_by="nothing",
    doubts=(),
    left=np.empty(0),
    right=np.empty(0),
    contours=(),
    area=0,
    strokes=None,
    fills=(),
)


@dataclass(frozen=True, eq=False)
class Samples:
    """What is taken from a drawing's pixels, so that they need not be kept for its features.

    Attributes
    ----------
    width, height
        Of the picture, px.
    x, y
        The first column and row of the box that holds the figure, px.
    figure
        (h, w) bool, the box.
    border
        What is seen across the figure's border; None where there is hardly one.
    colours
        Of the box.
    """

    width: int
    height: int
    found_by: FoundBy
    doubts: tuple[str, ...]
    x: int
    y: int
    figure: Bools
    border: Border | None
    colours: Colours


def read_features(pixels: Bytes, mask: FigureMask | None = None) -> ImageFeatures:
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
    >>> found = read_features(drawing)
    >>> found.found_by, found.top, found.bottom, float(found.left[30]), float(found.right[30])
    ('alpha', 9.5, 49.5, 7.5, 19.5)
    """
    return features_of(sample_pixels(pixels, mask))


def sample_pixels(pixels: Bytes, mask: FigureMask | None = None) -> Samples:
    """Take from a decoded drawing what its features need; `read_features` says of what."""
    found = figure_mask(pixels) if mask is None else mask
    found_by, doubts = found.found_by, found.doubts
    x, y, across, down = cv2.boundingRect(found.pixels.view(np.uint8))
    # the paper beside the figure takes time and tells nothing
    x0, y0 = max(x - _BESIDE, 0), max(y - _BESIDE, 0)
    box = (slice(y0, y + down + _BESIDE), slice(x0, x + across + _BESIDE))
    figure = found.pixels[box].copy()
    del found
    return Samples(
        width=int(pixels.shape[1]),
        height=int(pixels.shape[0]),
        found_by=found_by,
        doubts=doubts,
        x=x0,
        y=y0,
        figure=figure,
        border=sample_border(pixels, figure, (x0, y0)),
        colours=sample_colours(pixels[box], figure),
    )


def features_of(samples: Samples) -> ImageFeatures:
    """Measure a drawing's samples, as `read_features` does."""
    x, y, figure = samples.x, samples.y, samples.figure
    strokes = strokes_of(samples.border) if samples.border else None
    fills = fills_of(samples.colours, strokes.width if strokes else 0.0)
    left, right = np.full(samples.height, np.nan), np.full(samples.height, np.nan)
    rows = slice(y, y + len(figure))
    left[rows], right[rows] = (edge + x for edge in row_extents(figure))
    lines, _ = cv2.findContours(
        figure.view(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE, offset=(x, y)
    )
    simple = [cv2.approxPolyDP(line, CONTOUR_ERROR, True)[:, 0] for line in lines]
    contours = sorted((line.astype(np.int32) for line in simple if len(line) > 2), key=len)
    return ImageFeatures(
        width=samples.width,
        height=samples.height,
        found_by=samples.found_by,
        doubts=samples.doubts,
        left=left,
        right=right,
        contours=tuple(contours[::-1]),
        area=int(np.count_nonzero(figure)),
        strokes=strokes,
        fills=tuple(fill.moved(x, y) for fill in fills),
        detail=detail_of(samples.colours, x, y),
    )


def row_extents(figure: Bools) -> tuple[Floats, Floats]:
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

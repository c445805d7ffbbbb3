"""How far a figure reaches to each side, row by row, and all drawings on common rows."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from turncheck.numerics.arrays import Bools, Floats, running

LEFT, RIGHT = 0, 1

#: Rows compared per figure height, at most one per px: a row is a tenth of the shortest stretch.
#: Common practice, no source; fewer round that stretch down (see tests/figures/outlines.md).
ROWS_PER_HEIGHT = 1000

#: A row may slip by this many px of its drawing, or share of the figure height, the larger. A
#: pixel's rounding does not grow with the drawing, a hand's unsteadiness does. Common practice, no
#: source: the measurement in tests/figures/outlines.md only says that twice as much costs small
#: errors.
SLIP_PX, SLIP_SHARE = 2.0, 0.002

#: Standard deviations of ruler, yaw and axis that are allowed for (chosen by the measurement in
#: tests/figures/outlines.md).
OUTLINE_COVERAGE = 2.0


@dataclass(frozen=True)
class Outline:
    """One drawing's outline and where it stands.

    Attributes
    ----------
    left, right
        (rows,) column of the leftmost and rightmost figure pixel in each picture row; NaN where the
        row holds no figure.
    scale, ground
        Drawing px per reference px; row of the ground line, px.
    yaw, yaw_sd
        Degrees.
    axis, axis_sd
        Column of the turning axis, px; NaN where the turn could not be solved: then the drawing is
        only compared with the one from the opposite side.
    height_sd
        Standard uncertainty of a height on this drawing's ruler, reference px.
    inked_out
        How much further out than the others' its line may lie because it is heavier, px of the
        drawing; negative where it is lighter.
    """

    left: Floats
    right: Floats
    scale: float
    ground: float
    yaw: float
    yaw_sd: float
    axis: float
    axis_sd: float
    height_sd: float = 0.0
    inked_out: float = 0.0


@dataclass(frozen=True)
class Extents:
    """All outlines on common rows: V drawings, R rows, 2V sides; reference px.

    Side 2v is drawing v's left, 2v + 1 its right; extents count outward from the axis.

    Attributes
    ----------
    heights
        (R,) above the ground.
    low, high
        (2V, R) smallest and largest extent within the slip of the row. `low` is NaN where the
        figure may be missing, `high` where it surely is.
    blank
        (V, R) the drawing surely shows no figure there, though the row lies in the picture.
    """

    heights: Floats
    low: Floats
    high: Floats
    blank: Bools


def common_rows(outlines: Sequence[Outline], figure_height: float) -> Extents:
    """Put all outlines on the same rows of the body.

    A pixel's outer edge, half a pixel beyond its centre, bounds the figure. Rows start at the
    ground line, since soles drawn below it stand there by perspective, and end at the highest
    figure.

    Parameters
    ----------
    outlines
        (V,) the drawings'.
    figure_height
        H, reference px.
    """
    step = max(1.0, figure_height / ROWS_PER_HEIGHT)
    top = max((_top(outline) for outline in outlines), default=0.0)
    return extents_at(outlines, figure_height, np.arange(step / 2, max(top, step), step))


def extents_at(outlines: Sequence[Outline], figure_height: float, heights: Floats) -> Extents:
    """Put all outlines on rows at these heights, (R,) reference px, as `common_rows` does."""
    low = np.full((2 * len(outlines), len(heights)), np.nan)
    high, blank = low.copy(), np.zeros((len(outlines), len(heights)), bool)
    for v, outline in enumerate(outlines):
        reach = outline.scale * slip_of(outline, figure_height)
        rows = np.rint(outline.ground - outline.scale * heights).astype(np.intp)
        half, inked = round(reach), outline.inked_out / outline.scale
        inside = (rows >= half) & (rows < len(outline.left) - half)
        at = rows[inside] - half
        left = (outline.axis - (outline.left - 0.5)) / outline.scale
        right = (outline.right + 0.5 - outline.axis) / outline.scale
        for side, edge in enumerate((left, right)):
            nearest, farthest = (
                running(of, edge, 2 * half + 1)[at] for of in (np.minimum, np.fmax)
            )
            low[2 * v + side, inside] = nearest - max(inked, 0.0)
            high[2 * v + side, inside] = farthest - min(inked, 0.0)
        blank[v, inside] = np.isnan(high[2 * v, inside])
    return Extents(heights, low, high, blank)


def slip_of(outline: Outline, figure_height: float) -> float:
    """Return by how much a row's height may be off, reference px."""
    steady = max(SLIP_PX / outline.scale, SLIP_SHARE * figure_height)
    inked = abs(outline.inked_out) / outline.scale
    return steady + OUTLINE_COVERAGE * outline.height_sd + inked


def _top(outline: Outline) -> float:
    filled = np.flatnonzero(np.isfinite(outline.left))
    return float(outline.ground - filled[0]) / outline.scale if len(filled) else 0.0

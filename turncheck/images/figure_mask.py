"""Which pixels of a drawing are the figure: from its transparency, else told from its paper."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np

from turncheck.errors import TurncheckError
from turncheck.images.colour import on_white, without_alpha
from turncheck.images.paper.on_paper import figure_on_paper
from turncheck.numerics.arrays import Bools, Bytes

FoundBy = Literal["alpha", "paper", "mask"]

#: Transparency says where the figure is when at least this share of the picture is clear.
CLEAR_SHARE_LEAST = 0.02
#: An opaque region that fills this share of its box is a sheet of paper, not a figure.
SHEET_FILL_LEAST = 0.97
#: Alpha from here on is figure: half covered.
FIGURE_ALPHA_LEAST = 128


@dataclass(frozen=True)
class FigureMask:
    """The pixels of a drawing that belong to the figure.

    Attributes
    ----------
    pixels
        (H, W) bool, at the drawing's full size.
    found_by
        The drawing's own alpha, its paper, or a mask that the sheet names.
    doubts
        Sentences for the person who draws; none where nothing was guessed.
    """

    pixels: Bools
    found_by: FoundBy
    doubts: tuple[str, ...] = ()


def figure_mask(pixels: Bytes) -> FigureMask:
    """Find the figure in a drawing.

    Parameters
    ----------
    pixels
        (H, W, 3) BGR or (H, W, 4) BGRA.

    Notes
    -----
    An area that the figure encloses is part of it, unless it has the very colour of the paper
    and solid colour all round, like the gap between an arm and the body; whether such an area
    is a gap or white clothes can't be seen, so it is said among the doubts.

    Examples
    --------
    >>> drawing = np.full((80, 60, 3), 250, np.uint8)
    >>> drawing[20:70, 20:40] = (40, 60, 120)
    >>> found = figure_mask(drawing)
    >>> found.found_by, int(found.pixels.sum())
    ('paper', 1000)
    """
    if pixels.shape[2] == 4:
        solid = np.asarray(cv2.extractChannel(pixels, 3)) >= FIGURE_ALPHA_LEAST
        size = np.count_nonzero(solid)
        if 0 < size <= (1.0 - CLEAR_SHARE_LEAST) * solid.size:
            x, y, across, down = cv2.boundingRect(solid.view(np.uint8))
            box = (slice(y, y + down), slice(x, x + across))
            if size < SHEET_FILL_LEAST * across * down:
                return FigureMask(solid, "alpha")
            inside, doubts = figure_on_paper(without_alpha(pixels[box]))
            if not inside.any():  # one fill from edge to edge
                return FigureMask(solid, "alpha")
            whole = np.zeros(solid.shape, dtype=bool)
            whole[box] = inside
            return FigureMask(whole, "paper", doubts)
    found, doubts = figure_on_paper(on_white(pixels))
    return FigureMask(found, "paper", doubts)


def mask_from(mask: Bytes, shape: tuple[int, int], file: str) -> FigureMask:
    """Return the figure as a mask that somebody painted has it.

    Parameters
    ----------
    mask
        (H, W, 3) BGR or (H, W, 4) BGRA: clear or black is paper, anything else is figure.
    shape
        (H, W) of the drawing.
    file
        The mask's name, for the fault's sentence.

    Raises
    ------
    TurncheckError
        If the mask has another size than the drawing, or is empty.
    """
    if mask.shape[:2] != shape:
        raise TurncheckError(
            f"{file}: the mask is {mask.shape[1]} × {mask.shape[0]} px and its drawing "
            f"{shape[1]} × {shape[0]} px; save the mask at the drawing's size"
        )
    light = mask[:, :, :3].max(axis=2)
    if mask.shape[2] == 4 and int(mask[:, :, 3].min()) < FIGURE_ALPHA_LEAST:
        light = mask[:, :, 3]
    painted = light >= max(int(light.max()), 1) / 2.0  # the half way of a soft border
    if not painted.any():
        raise TurncheckError(f"{file}: the mask is empty; paint the figure white in it")
    return FigureMask(painted, "mask")

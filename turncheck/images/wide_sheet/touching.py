"""Tells whether one connected shape may be two figures that touch."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from turncheck.numerics.arrays import Bools

#: A contact is no thicker than this share of the shape's height; a body is thicker anywhere.
CONTACT_THICKNESS_MOST = 0.22
#: On both sides of a contact stands a part at least this tall and this heavy, as shares of the
#: whole shape; an arm held out is neither. Common practice, no source: others do as well in
#: tests/figures/wide_sheets.md.
SIDE_HEIGHT_LEAST = 0.75
SIDE_AREA_LEAST = 0.22
#: What fills less of its box than this is taken for outlines with gaps, as wide at most as this
#: share of the height.
SPARSE_FILL_MOST = 0.33
_OUTLINE_GAP_MOST = 0.02
_TRIED = 12


@dataclass(frozen=True)
class Join:
    """Where two figures may touch: a column of the picture and how much is drawn in it, px."""

    column: int
    thickness: int


def find_join(shape: Bools) -> Join | None:
    """Return the thinnest column that leaves a whole figure on either side; None if none does.

    Parameters
    ----------
    shape
        (h, w) one figure, or two.
    """
    rows, columns = np.flatnonzero(shape.any(axis=1)), np.flatnonzero(shape.any(axis=0))
    inside = shape[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    height = inside.shape[0]
    if inside.mean() < SPARSE_FILL_MOST:
        inside = _solid(inside)
    thickness = inside.sum(axis=0)
    share = np.cumsum(thickness) / thickness.sum()
    candidates = np.flatnonzero(
        (thickness <= CONTACT_THICKNESS_MOST * height)
        & (share > SIDE_AREA_LEAST)
        & (share < 1.0 - SIDE_AREA_LEAST)
    )
    tried: list[int] = []
    for column in candidates[np.argsort(thickness[candidates], kind="stable")]:
        if any(abs(column - other) < 0.02 * height for other in tried):
            continue
        tried.append(int(column))
        if _is_figure(inside[:, :column], inside) and _is_figure(inside[:, column + 1 :], inside):
            return Join(int(columns[0] + column), int(thickness[column]))
        if len(tried) == _TRIED:
            break
    return None


def _solid(outlines: Bools) -> Bools:
    """Return line art with the gaps of its outlines closed and what they enclose filled."""
    reach = max(3, round(_OUTLINE_GAP_MOST * outlines.shape[0])) | 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    page = cv2.copyMakeBorder(
        outlines.astype(np.uint8), reach, reach, reach, reach, cv2.BORDER_CONSTANT, value=0
    )
    page = cv2.morphologyEx(page, cv2.MORPH_CLOSE, kernel)
    cv2.floodFill(page, None, (0, 0), 2, flags=4)
    return np.asarray(page[reach:-reach, reach:-reach] != 2)


def _is_figure(part: Bools, whole: Bools) -> bool:
    count, _, stats, _ = cv2.connectedComponentsWithStats(part.astype(np.uint8))
    if count < 2:
        return False
    main = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    return bool(
        stats[main, cv2.CC_STAT_HEIGHT] >= SIDE_HEIGHT_LEAST * whole.shape[0]
        and stats[main, cv2.CC_STAT_AREA] >= SIDE_AREA_LEAST * whole.sum()
    )

"""The flat fills of a drawing: which colours it is painted in, and where."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from turncheck.images.colour import hexadecimal, name_of, without_alpha
from turncheck.images.paper.paper import to_lab
from turncheck.numerics.arrays import Bools, Bytes, Floats, Ints, Singles
from turncheck.numerics.robust import median_sd

#: Longest side at which fills are looked for, px.
FILLS_SIDE_MOST = 1000
#: Colours within this much (CIE76) are one fill: the first where most of what is flat has the very
#: colour of its neighbours, the second where grain or light spreads the fills; chosen by the
#: measurement in tests/figures/colours.md.
REACH_EVEN, REACH_GRAINY = 2.0, 5.0
#: Smallest fill that is named, as a share of the figure's flat area.
FILL_SHARE_LEAST = 0.001
#: A pixel is flat where its neighbours differ by no more than this in each of L, a, b.
FLAT_RANGE_MOST = 6.0
#: Line work is no lighter than this, in L; common practice, no source.
LINE_LIGHTNESS_MOST = 22.0
#: Half the step of 8-bit colour, in CIELAB, and never more certain than that.
FILL_SD_LEAST = 0.2
#: Side of the blocks of a fill whose colours vary independently, working px; common practice,
#: no source.
BLOCK_SIDE = 20
#: Light and paper change slowly: however large a fill, it has seen so many kinds of them; common
#: practice, no source.
BLOCK_KINDS = 4
#: Parts of a fill between which it is said to lie: a few stray pixels tell nothing; common
#: practice, no source.
ROWS_BETWEEN = (0.05, 0.95)
_MOST_FILLS = 48


@dataclass(frozen=True)
class Fill:
    """A flat fill.

    Attributes
    ----------
    lab
        CIELAB (D65).
    share
        Of the figure's flat area, 0 to 1.
    at
        (x, y) px of the drawing, well inside its largest patch.
    sd
        Standard uncertainty of its colour, in CIELAB.
    rows
        Between which picture rows nine tenths of it lie, px of the drawing, top first.
    """

    lab: tuple[float, float, float]
    share: float
    at: tuple[float, float]
    sd: float
    rows: tuple[float, float] = (math.nan, math.nan)

    @property
    def label(self) -> str:
        """Its name and hexadecimal, such as 'red #a23b2c'."""
        return f"{name_of(self.lab)} {hexadecimal(self.lab)}"

    def moved(self, x: float, y: float) -> Fill:
        """Return it in a drawing of which its own begins at (x, y) px."""
        first, last = self.rows
        at = (self.at[0] + x, self.at[1] + y)
        return replace(self, at=at, rows=(first + y, last + y))


@dataclass(frozen=True, eq=False)
class Colours:
    """A figure's colours at the size at which fills are looked for.

    Attributes
    ----------
    bgr
        (h, w, 3).
    inside
        (h, w) bool: wholly within the figure.
    factor
        Px of this size per px of the drawing.
    """

    bgr: Bytes
    inside: Bools
    factor: float


def find_fills(pixels: Bytes, figure: Bools, stroke: float = 0.0) -> tuple[Fill, ...]:
    """Find the flat fills of a figure, the largest first.

    Peaks of the colour histogram (cells of 2 in CIELAB) are climbed by mean shift, the fullest
    first; edges, gradients and line work are left out.

    Parameters
    ----------
    pixels
        (H, W, 3) BGR or (H, W, 4) BGRA.
    figure
        (H, W) bool.
    stroke
        Width of the line work, px; dark fills hardly thicker than two strokes are left out.

    Examples
    --------
    >>> drawing = np.full((120, 120, 3), 255, np.uint8)
    >>> drawing[10:110, 20:60] = (44, 59, 162)
    >>> drawing[10:110, 60:100] = (120, 110, 40)
    >>> [(fill.label, round(fill.share, 2)) for fill in find_fills(drawing, drawing[..., 0] < 255)]
    [('red #a23b2c', 0.5), ('teal #286e78', 0.5)]
    """
    return fills_of(sample_colours(pixels, figure), stroke)


def sample_colours(pixels: Bytes, figure: Bools) -> Colours:
    """Return a figure's colours at the size at which fills are looked for."""
    height, width = figure.shape
    factor = min(1.0, FILLS_SIDE_MOST / max(height, width))
    size = (max(round(width * factor), 1), max(round(height * factor), 1))
    bgr = without_alpha(pixels)
    if factor == 1.0:
        return Colours(bgr.copy(), figure, factor)
    page = figure.view(np.uint8) * np.uint8(255)
    small = cv2.resize(bgr, size, interpolation=cv2.INTER_AREA)
    inside = cv2.resize(page, size, interpolation=cv2.INTER_AREA) == 255
    return Colours(np.asarray(small, dtype=np.uint8), inside, factor)


def fills_of(sampled: Colours, stroke: float) -> tuple[Fill, ...]:
    """Return the fills among a figure's colours, as `find_fills` does."""
    lab = to_lab(np.asarray(cv2.medianBlur(sampled.bgr, 3), dtype=np.uint8))
    # the rim is half paper
    inside = cv2.erode(sampled.inside.view(np.uint8), np.ones((3, 3), np.uint8)) > 0
    ranges = _ranges(lab)
    flat = np.flatnonzero(inside & (ranges <= FLAT_RANGE_MOST))
    if len(flat) < 16:
        return ()
    colours = np.ascontiguousarray(lab.reshape(-1, 3).take(flat, axis=0).T)
    cell, means, counts = _cells(colours)
    reach = REACH_EVEN if np.median(ranges.take(flat)) == 0.0 else REACH_GRAINY
    centres = _peaks(means, counts, reach)
    apart = np.linalg.norm(means[:, None, :] - centres[None], axis=2)
    nearest = np.argmin(apart, axis=1).astype(np.int8)
    nearest[apart.min(axis=1) > 1.5 * reach] = len(centres)  # of no fill
    labels = nearest[cell]
    by_fill = np.argsort(labels, kind="stable")  # in each, from top to bottom
    ends = np.cumsum(np.bincount(labels, minlength=len(centres)))[: len(centres)]
    found = []
    for part in np.split(by_fill, ends)[:-1]:
        if len(part) >= FILL_SHARE_LEAST * len(flat):
            rows, columns = np.divmod(flat[part], lab.shape[1])
            share = len(part) / len(flat)
            found.append(_fill(rows, columns, colours[:, part], share, stroke, sampled.factor))
    return tuple(sorted(filter(None, found), key=lambda fill: -fill.share))


def _ranges(lab: Singles) -> Singles:
    """Return how far L, a or b range about each pixel, whichever does most."""
    window = np.ones((5, 5), np.uint8)
    most = np.zeros(lab.shape[:2], dtype=np.float32)
    for index in range(3):
        channel = lab[:, :, index].copy()
        np.maximum(most, cv2.dilate(channel, window) - cv2.erode(channel, window), out=most)
    return most


def _cells(colours: Singles) -> tuple[Ints, Floats, Floats]:
    """Return (n,) each colour's cell of the histogram, the cells' mean colours and their counts."""
    places = np.rint(colours * np.float32(0.5)).astype(np.int32)
    places -= places.min(axis=1, keepdims=True)  # a table of the colours' own span, not of all
    codes = np.ravel_multi_index(tuple(places), tuple(places.max(axis=1) + 1))
    full = np.bincount(codes)
    used = np.flatnonzero(full)
    cell_of = np.zeros(len(full), dtype=np.intp)
    cell_of[used] = np.arange(len(used))
    cell = cell_of[codes]
    counts = full[used].astype(np.float64)
    sums = np.stack([np.bincount(cell, weights=channel) for channel in colours], axis=1)
    return cell, sums / counts[:, None], counts


def _peaks(means: Floats, counts: Floats, reach: float) -> Floats:
    """Return (k, 3) the main peaks of a histogram of colours, the fullest first."""
    least = FILL_SHARE_LEAST * float(counts.sum())
    left = counts.copy()
    centres: list[Floats] = []
    while left.sum() >= least and len(centres) < _MOST_FILLS:
        centre = means[np.argmax(left)]
        for _ in range(6):
            near = np.linalg.norm(means - centre, axis=1) <= reach
            near &= left > 0.0
            if not near.any():
                break
            centre = np.average(means[near], axis=0, weights=left[near])
        taken = (np.linalg.norm(means - centre, axis=1) <= reach) & (left > 0.0)
        taken[np.argmax(left)] = True
        size = float(left[taken].sum())
        left[taken] = 0.0
        # the tail of a fill found already is not another
        alone = all(np.linalg.norm(centre - other) > 1.5 * reach for other in centres)
        if size >= least and alone:
            centres.append(centre)
    return np.array(centres, dtype=np.float64).reshape(-1, 3)


def _fill(
    rows: Ints, columns: Ints, colours: Singles, share: float, stroke: float, factor: float
) -> Fill | None:
    """Return the fill that these (n,) pixels of (3, n) colours are, None where they are line work.

    The rows come in order; `stroke` is in px of the drawing.
    """
    top, left = int(rows[0]), int(columns.min())
    rows, columns = rows - top, columns - left
    part = np.zeros((int(rows[-1]) + 3, int(columns.max()) + 3), dtype=np.uint8)
    part[rows + 1, columns + 1] = 1
    depth = np.asarray(cv2.distanceTransform(part, cv2.DIST_L2, 5))[rows + 1, columns + 1]
    centre = np.array([np.median(channel) for channel in colours])
    # what is flat has lost two px on either side, and a stroke is flat along its middle
    if centre[0] < LINE_LIGHTNESS_MOST and np.mean(depth + 2.0 > stroke * factor) < 0.3:
        return None
    deepest = int(np.argmax(depth))
    first, last = (int(rows[int(of * (len(rows) - 1))]) for of in ROWS_BETWEEN)
    return Fill(
        lab=(float(centre[0]), float(centre[1]), float(centre[2])),
        share=share,
        at=(
            (int(columns[deepest]) + left + 0.5) / factor - 0.5,
            (int(rows[deepest]) + top + 0.5) / factor - 0.5,
        ),
        sd=max(FILL_SD_LEAST, _centre_sd(rows, columns, colours, centre)),
        rows=((first + top + 0.5) / factor - 0.5, (last + top + 0.5) / factor - 0.5),
    )


def _centre_sd(rows: Ints, columns: Ints, colours: Singles, centre: Singles) -> float:
    """Return the standard error of a fill's colour, from blocks that vary independently."""
    where = rows // BLOCK_SIDE * (int(columns.max()) // BLOCK_SIDE + 1) + columns // BLOCK_SIDE
    counts = np.bincount(where)
    used = counts > 0
    counts = counts[used]
    sums = np.stack([np.bincount(where, weights=channel)[used] for channel in colours], axis=1)
    apart = np.linalg.norm(sums / counts[:, None] - centre, axis=1)
    # the median: a shade that is nearly the same colour is not this fill's own spread
    spread = median_sd(np.repeat(apart, counts))
    alike = float(np.sum(counts.astype(np.float64) ** 2)) / float(counts.sum()) ** 2
    return spread * float(np.sqrt(max(alike, 1.0 / BLOCK_KINDS)))

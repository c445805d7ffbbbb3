"""How heavy a drawing's outline is: stroke widths measured across the figure's border."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from turncheck.numerics.arrays import Bools, Bytes, Floats, Ints, Singles
from turncheck.numerics.robust import median_sd

#: Heaviest stroke that counts as an outline, as a share of the figure's height, and never less
#: than so many px; what is wider is a dark fill. Common practice, no source.
STROKE_SHARE_MOST = 0.025
STROKE_PX_MOST = 20.0
#: Least step in luma (of 255) from the line to the fill beyond it.
LUMA_STEP_LEAST = 25.0
#: Line work is there when a stroke is seen along at least this share of the border; common
#: practice, no source: by the measurement in tests/figures/line_weight.md nothing hangs on it from
#: 0.05 to 0.4.
SEEN_SHARE_LEAST = 0.25
#: Its widths keep within this share of their median; chosen by the measurement in
#: tests/figures/line_weight.md.
WIDTH_SPREAD_MOST = 0.6
#: Pieces of outline this many strokes long are taken as drawn independently of each other;
#: common practice, no source.
PIECE_STROKES = 10.0
#: Where a line keeps less of its own colour than this it can't be told from a paler and wider one;
#: common practice, no source.
OWN_LEAST = 0.5
_INK_STEPS = 4
_STEP = 0.5
_BEFORE = 4.0
_MOST_PROFILES = 2400
_MOST_CONTOURS = 200
_AT_ONCE = 128
_BT601 = np.array([0.114, 0.587, 0.299], dtype=np.float32)  # ITU-R BT.601, in B, G, R
_WHITE = np.float32(255.0)
#: The normal distribution: its upper quartile, and its tail by standard deviations.
_QUARTILE = 0.6745
#: Variance of a pixel's extent, px²: no drawing is sharper, and reading between pixels adds as much
#: again that the darkest place is spared.
_PIXEL = 1.0 / 12.0
_SIGMAS = np.linspace(0.0, 5.0, 101)
_TAILS = np.array([math.erfc(z / math.sqrt(2.0)) / 2.0 for z in _SIGMAS])


@dataclass(frozen=True)
class Strokes:
    """The outline's stroke width in one drawing.

    Attributes
    ----------
    width
        Median, px.
    spread
        Robust standard deviation of the pieces' own medians, px.
    pieces
        Number of independent pieces of outline.
    share
        Share of the figure's border along which a stroke was seen, 0 to 1.
    """

    width: float
    spread: float
    pieces: int
    share: float

    @property
    def width_sd(self) -> float:
        """Standard uncertainty of the median width, px: sqrt(pi / 2) spread / sqrt(pieces)."""
        return float(np.sqrt(np.pi / 2.0 / self.pieces)) * self.spread


@dataclass(frozen=True, eq=False)
class Border:
    """The figure's border, and what the drawing shows across it.

    Attributes
    ----------
    points
        (n, 2) px of the figure's box, in order along each contour.
    contour
        (n,) the number of each point's contour.
    offsets
        (k,) px inwards from the border.
    profiles
        (n, k) luma on white, 0 to 255.
    reach
        The heaviest stroke that is looked for, px.
    """

    points: Floats
    contour: Ints
    offsets: Floats
    profiles: Singles
    reach: float


def measure_strokes(pixels: Bytes, figure: Bools) -> Strokes | None:
    """Measure the dark outline along the figure's border.

    From points along the border a profile of luma runs inwards along the normal; the stroke
    reaches from where it is half outside, half line to where it is half line, half fill. That
    is right to a fraction of a pixel, also where the drawing is soft, and needs neither a threshold
    for the whole drawing nor one line colour. Where the fill beyond is as dark as the line nothing
    is measured.

    Parameters
    ----------
    pixels
        (H, W, 3) BGR or (H, W, 4) BGRA.
    figure
        (H, W) bool.

    Returns
    -------
    Strokes or None
        None where the drawing has no line work along its border.

    Examples
    --------
    >>> away = np.hypot(*(np.mgrid[0:200, 0:200] - 100.0))[:, :, None]
    >>> ring = np.clip(4.0 - np.abs(away - 70.0), 0.0, 1.0)
    >>> drawing = np.where(away < 70.0, (90, 150, 200), 255) * (1.0 - ring) + 20.0 * ring
    >>> found = measure_strokes(drawing.round().astype(np.uint8), away[:, :, 0] < 73.5)
    >>> round(found.width, 1), found.share > 0.9
    (7.0, True)
    """
    border = sample_border(pixels, figure)
    return None if border is None else strokes_of(border)


def sample_border(pixels: Bytes, figure: Bools, corner: tuple[int, int] = (0, 0)) -> Border | None:
    """Return what a drawing shows across the figure's border; None where there is hardly one.

    `figure` is the box of the drawing whose first pixel is at `corner` (x, y).
    """
    height = cv2.boundingRect(figure.view(np.uint8))[3]
    reach = max(STROKE_PX_MOST, STROKE_SHARE_MOST * height)
    points, normals, contour = _border(figure)
    if len(points) < 16:
        return None
    pixels = np.ascontiguousarray(pixels)
    offsets = np.arange(-_BEFORE, reach + _BEFORE, _STEP)
    profiles = np.empty((len(points), len(offsets)), dtype=np.float32)
    for first in range(0, len(points), _AT_ONCE):  # few enough to stay in the processor's cache
        some = slice(first, first + _AT_ONCE)
        at = points[some, None, :] + offsets[None, :, None] * normals[some, None, :]
        profiles[some] = _luma(pixels, at + corner)
    return Border(points, contour, offsets, profiles, reach)


def strokes_of(border: Border) -> Strokes | None:
    """Return the strokes along a border, as `measure_strokes` does."""
    widths = _widths(border.profiles, border.offsets, border.reach)
    seen = np.isfinite(widths)
    if seen.mean() < SEEN_SHARE_LEAST:
        return None
    width = float(np.median(widths[seen]))
    if median_sd(widths[seen] - width) > WIDTH_SPREAD_MOST * width:
        return None
    medians = _piece_medians(border.points, border.contour, widths, PIECE_STROKES * width)
    return Strokes(
        width=width,
        spread=median_sd(medians - np.median(medians)),
        pieces=len(medians),
        share=float(seen.mean()),
    )


def _border(figure: Bools) -> tuple[Floats, Floats, Ints]:
    """Return (n, 2) border points in order, their inward normals, and each one's contour."""
    found, _ = cv2.findContours(figure.view(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    longest = sorted((c[:, 0].astype(np.float64) for c in found if len(c) >= 24), key=len)
    longest = longest[: -_MOST_CONTOURS - 1 : -1]
    total = sum(len(c) for c in longest)
    step = max(1, -(-total // _MOST_PROFILES))
    points, normals, names = [], [], []
    for name, line in enumerate(longest):
        smooth = _smoothed(line)
        along = np.roll(smooth, -3, axis=0) - np.roll(smooth, 3, axis=0)
        along = along[::step]
        length = np.linalg.norm(along, axis=1)
        good = length > 1.0
        normal = np.stack([-along[:, 1], along[:, 0]], axis=1)[good] / length[good, None]
        here = smooth[::step][good]
        # contours of a mask all run the same way round what they bound
        if _inside(figure, here + 1.5 * normal) < _inside(figure, here - 1.5 * normal):
            normal = -normal
        points.append(here)
        normals.append(normal)
        names.append(np.full(len(here), name))
    if not points:
        return np.empty((0, 2)), np.empty((0, 2)), np.empty(0, dtype=np.intp)
    return np.concatenate(points), np.concatenate(normals), np.concatenate(names)


def _smoothed(line: Floats) -> Floats:
    """Return a closed line without its pixel steps: a running mean of 5 points."""
    return np.asarray(sum(np.roll(line, shift, axis=0) for shift in range(-2, 3)) / 5.0)


def _inside(figure: Bools, at: Floats) -> float:
    x = np.clip(np.round(at[:, 0]).astype(np.intp), 0, figure.shape[1] - 1)
    y = np.clip(np.round(at[:, 1]).astype(np.intp), 0, figure.shape[0] - 1)
    return float(figure[y, x].mean())


def _luma(pixels: Bytes, at: Floats) -> Singles:
    """Return BT.601 luma (0 to 255) on white at (..., 2) points in px, bilinear.

    Luma, not lightness: coverage by an anti-aliased line is linear in it.
    """
    height, width = pixels.shape[:2]
    x = np.clip(at[..., 0], 0.0, width - 1.001)
    y = np.clip(at[..., 1], 0.0, height - 1.001)
    left, top = x.astype(np.intp), y.astype(np.intp)
    fx, fy = (x - left).astype(np.float32), (y - top).astype(np.float32)
    flat = pixels.reshape(height * width, -1)
    here = top * width + left
    right, below = min(width - 1, 1), min(height - 1, 1) * width

    def one(index: Ints) -> Singles:
        sample = np.take(flat, index, axis=0)
        luma: Singles = sample[..., :3] @ _BT601
        if flat.shape[1] == 4:
            solid = sample[..., 3].astype(np.float32) / _WHITE
            luma = _WHITE + (luma - _WHITE) * solid
        return luma

    upper = one(here) * (1.0 - fx) + one(here + right) * fx
    lower = one(here + below) * (1.0 - fx) + one(here + below + right) * fx
    return np.asarray(upper * (1.0 - fy) + lower * fy)


def _widths(profiles: Singles, offsets: Floats, reach: float) -> Floats:
    """Return (n,) stroke widths, NaN where a profile shows no stroke.

    Where a drawing is soft a thin line is nowhere as dark as its ink: where it is darkest, at a and
    b from its edges, it keeps the shares Phi(-a / blur) of the paper and Phi(-b / blur) of the
    fill. That gives the ink, and the ink the edges.
    """
    start, early = int(_BEFORE / _STEP), int((_BEFORE + 3.0) / _STEP)
    darkest = start - 2 + np.argmin(profiles[:, start - 2 : early], axis=1)
    line = profiles[np.arange(len(profiles)), darkest]
    paper, fill, clear = _grounds(profiles, darkest, line)
    if not clear.any():
        return np.full(len(profiles), np.nan)
    # the drawing's own line colour, for lines that are only a little paler
    usual = float(np.percentile(line, 10))
    ink = common = np.where(line < usual + 0.35 * (255.0 - usual), np.minimum(line, usual), line)
    for _ in range(_INK_STEPS):
        inner = _crossing(profiles, darkest, (ink + fill) / 2.0, +1, offsets)
        outer = _crossing(profiles, darkest, (ink + paper) / 2.0, -1, offsets)
        widths = np.where(clear, inner - outer, np.nan)
        tail = _crossing(profiles, darkest, (ink + 3.0 * paper) / 4.0, -1, offsets)
        softness = float(np.nanmedian(np.where(clear, outer - tail, np.nan))) / _QUARTILE
        blur = math.sqrt(max(softness**2 - _PIXEL, _PIXEL))
        middle = offsets[darkest]
        of_paper, of_fill = (
            np.nan_to_num(np.interp(away / blur, _SIGMAS, _TAILS))
            for away in (middle - outer, inner - middle)
        )
        own = np.maximum(1.0 - of_paper - of_fill, OWN_LEAST)
        ink = np.clip((line - of_paper * paper - of_fill * fill) / own, 0.0, common)
    return np.where((widths > 0.0) & (widths <= reach), widths, np.nan)


def _grounds(profiles: Singles, darkest: Ints, line: Singles) -> tuple[Singles, Singles, Bools]:
    """Return (n,) the luma of paper and fill beside each line, and whether both stand out."""
    length = profiles.shape[1]
    paper = profiles[:, :3].max(axis=1)
    # where the line ends on the inside, and the fill beyond it
    risen = np.arange(length) > darkest[:, None]
    risen &= profiles > (line + LUMA_STEP_LEAST)[:, None]
    end = np.where(risen.any(axis=1), np.argmax(risen, axis=1), length)
    plain = end[:, None] + np.arange(int(1.5 / _STEP), int(4.0 / _STEP))
    fill = np.median(np.take_along_axis(profiles, np.minimum(plain, length - 1), axis=1), axis=1)
    clear = (end < length) & (fill - line >= LUMA_STEP_LEAST) & (paper - line >= LUMA_STEP_LEAST)
    return paper, fill, clear


def _crossing(profiles: Singles, start: Ints, level: Singles, way: int, offsets: Floats) -> Floats:
    """Return (n,) where each profile first rises through its level, going one way."""
    count, length = profiles.shape
    index, start = np.arange(length), start[:, None]
    above = (index > start if way > 0 else index < start) & (profiles > level[:, None])
    first = np.argmax(above[:, ::way], axis=1)
    if way < 0:
        first = length - 1 - first
    before = np.clip(first - way, 0, length - 1)
    each = np.arange(count)
    high, low = profiles[each, first], profiles[each, before]
    share = np.clip((level - low) / np.where(high > low, high - low, 1.0), 0.0, 1.0)
    where = offsets[before] + way * share * _STEP
    return np.where(above.any(axis=1), where, np.nan)


def _piece_medians(points: Floats, contour: Ints, widths: Floats, length: float) -> Floats:
    """Return the median width of each piece of border that mostly shows a stroke."""
    steps = np.r_[0.0, np.linalg.norm(np.diff(points, axis=0), axis=1)]
    steps[np.r_[True, np.diff(contour) != 0]] = 0.0
    pieces = (np.cumsum(steps) // length).astype(np.intp) + contour * (1 << 20)
    starts = np.flatnonzero(np.r_[True, np.diff(pieces) != 0])
    seen = np.add.reduceat(np.isfinite(widths), starts, dtype=np.intp)
    mostly = seen >= 0.5 * np.diff(np.r_[starts, len(pieces)])
    if not mostly.any():
        return np.array([float(np.nanmedian(widths))])
    by_width = widths[np.lexsort((widths, pieces))]  # in each piece, what was not seen last
    starts, seen = starts[mostly], seen[mostly]
    return np.asarray((by_width[starts + (seen - 1) // 2] + by_width[starts + seen // 2]) / 2.0)

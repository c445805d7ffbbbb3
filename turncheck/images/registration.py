"""Lays a redrawn drawing on the one that it was redrawn from, and finds what is drawn otherwise.

Frames: px of the earlier drawing and of the later one, x to the right, y down. Between them lies
a similarity: another scale, a turn, another place; what remains is drawn otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from turncheck.images.colour import on_white
from turncheck.numerics.arrays import Bools, Bytes, Floats

#: Both drawings are looked at with a figure about so tall, px.
WORK_HEIGHT = 1000.0
#: Corners looked for in each drawing (ORB: Rublee et al. 2011, ICCV, 2564), and the least that
#: must agree on one similarity; common practice, no source.
_CORNERS, _AGREE_LEAST = 4000, 30
#: Corners that agree lie so near, px of the work; common practice, no source.
_AGREE_WITHIN = 3.0
#: A face may hold more corners than the body that it moved against: of so many similarities that
#: corners agree on, the one is taken that leaves the least changed; common practice, no source.
_TRIES = 3
#: However many corners agree, no place is known more surely than so, share of the figure height:
#: at other sizes they are all found a little aside. By eye on tests/revisions/test_carrying.py.
_SURE_MOST = 0.0002
#: Colours are compared after a blur of so many px of the work, and differ from so many units of
#: CIELAB (ISO/CIE 11664-4) on.
BLUR, APART = 2.5, 25.0
#: Light and paper differ slowly: over so many px of the work, and by no more than so much of L*
#: and of a* and b*; chosen by eye on photographed paper.
_SLOW, _SHADE_MOST, _TINT_MOST = 160, 20.0, 12.0
#: A line, or the edge of a fill, is a step of so many units of CIELAB from pixel to pixel of the
#: blurred work; chosen by eye.
_STEP = 3.0


@dataclass(frozen=True)
class Registration:
    """How a later drawing lies on an earlier one, and what is drawn otherwise in it.

    Attributes
    ----------
    matrix
        (2, 3) takes a place of the earlier drawing to the later one's.
    centre, spread, error
        Of the corners that agree, px of the earlier drawing: their mean, their root mean square
        distance from it, and the standard uncertainty of their mean.
    size
        Px of the work for one of the earlier drawing.
    changed
        Of the work, what is drawn otherwise.
    drawn
        Of the work, how far the nearest line of the earlier drawing is, px of the work.
    """

    matrix: Floats
    centre: Floats
    spread: float
    error: float
    size: float
    changed: Bools
    drawn: Floats

    @property
    def scale(self) -> float:
        """Px of the later drawing for one of the earlier."""
        return float(np.hypot(*self.matrix[:, 0]))

    def to(self, x: float, y: float) -> tuple[float, float]:
        """Return where a place of the earlier drawing lies in the later one."""
        there = self.matrix @ (x, y, 1.0)
        return float(there[0]), float(there[1])

    def sd(self, x: float, y: float) -> float:
        """Return how surely that is known, standard uncertainty of x and of y, px of the later."""
        away = float(np.hypot(x - self.centre[0], y - self.centre[1]))
        return self.scale * self.error * float(np.hypot(1.0, away / self.spread))

    def changed_share(self, x: float, y: float, reach: float) -> float:
        """Return the share of a square that is drawn otherwise.

        Parameters
        ----------
        x, y, reach
            Its middle and half its side, px of the earlier drawing; it is widened until something
            is drawn in it, for plain cloth looks the same wherever it is put.
        """
        row, column = round(y * self.size), round(x * self.size)
        rows, columns = self.changed.shape
        inside = min(max(row, 0), rows - 1), min(max(column, 0), columns - 1)
        half = round(max(reach * self.size, float(self.drawn[inside]) + reach * self.size / 3.0))
        piece = self.changed[
            max(row - half, 0) : row + half + 1, max(column - half, 0) : column + half + 1
        ]
        return float(piece.mean()) if piece.size else 1.0


def register(earlier: Bytes, later: Bytes, height: float) -> Registration | None:
    """Lay a later drawing on an earlier one.

    Parameters
    ----------
    earlier, later
        (H, W, 3) BGR or (H, W, 4) BGRA.
    height
        Of the earlier figure, px.

    Returns
    -------
    Registration or None
        None where too little of the two agrees.
    """
    size = WORK_HEIGHT / height
    old = _resized(earlier, size)
    new = _resized(later, size * max(earlier.shape[:2]) / max(later.shape[:2]))
    small, small_new = _shrinking(earlier, old), _shrinking(later, new)
    old_lab = _blurred_lab(old)
    pairs = _paired((old, small), (new, small_new))
    best: Registration | None = None
    for _ in range(_TRIES):
        found = _similarity(*pairs, within=_AGREE_WITHIN / small_new[1, 1]) if pairs else None
        if pairs is None or found is None:
            break
        matrix, agreeing = found
        there = (small_new @ np.vstack([matrix, (0.0, 0.0, 1.0)]) @ np.linalg.inv(small))[:2]
        changed = _changed(old_lab, new, there)
        if best is None or changed.sum() < best.changed.sum():
            at, to = (points[agreeing] for points in pairs)
            best = _registration(matrix, at, to, height, changed, _to_lines(old_lab))
        pairs = pairs[0][~agreeing], pairs[1][~agreeing]
    return best


def _registration(
    matrix: Floats, at: Floats, to: Floats, height: float, changed: Bools, drawn: Floats
) -> Registration:
    """Return what a similarity is, with how surely the corners that agree on it tell it."""
    off = (to - _moved(matrix, at)) / np.hypot(*matrix[:, 0])
    centre = at.mean(axis=0)
    return Registration(
        matrix=matrix,
        centre=centre,
        spread=float(np.sqrt(np.mean(np.sum((at - centre) ** 2, axis=1)))),
        error=float(np.hypot(np.sqrt(np.mean(off**2) / len(at)), _SURE_MOST * height)),
        size=WORK_HEIGHT / height,
        changed=changed,
        drawn=drawn,
    )


def _changed(old_lab: Floats, new: Bytes, there: Floats) -> Bools:
    """Return where a drawing differs from an earlier one that a (2, 3) matrix lays it on."""
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    shape = old_lab.shape[1], old_lab.shape[0]
    laid = cv2.warpAffine(new, there, shape, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    inside = cv2.warpAffine(np.ones(new.shape[:2], np.uint8), there, shape, flags=flags) > 0
    return np.asarray(_differs(old_lab, _blurred_lab(np.asarray(laid, np.uint8))) & inside)


def _resized(pixels: Bytes, times: float) -> Bytes:
    """Return a drawing on white, so many times as large."""
    opaque = on_white(pixels) if pixels.shape[2] == 4 else pixels
    way = cv2.INTER_AREA if times < 1.0 else cv2.INTER_LINEAR
    width, height = (max(round(side * times), 1) for side in (opaque.shape[1], opaque.shape[0]))
    return np.asarray(cv2.resize(opaque, (width, height), interpolation=way), np.uint8)


def _shrinking(full: Bytes, resized: Bytes) -> Floats:
    """Return the (3, 3) matrix from a drawing's px to those of the same at another size."""
    across, down = (resized.shape[side] / full.shape[side] for side in (1, 0))
    shift = (0.5 * across - 0.5, 0.5 * down - 0.5)
    return np.array([[across, 0.0, shift[0]], [0.0, down, shift[1]], [0.0, 0.0, 1.0]])


def _moved(matrix: Floats, points: Floats) -> Floats:
    """Return where a (2, 3) matrix takes points (n, 2)."""
    return np.asarray(points @ matrix[:, :2].T + matrix[:, 2], np.float64)


def _paired(*drawings: tuple[Bytes, Floats]) -> tuple[Floats, Floats] | None:
    """Return corners of two drawings that look alike, (n, 2) each, px of the drawings.

    Parameters
    ----------
    drawings
        Of each its resized picture, and the matrix from the drawing's px to that.
    """
    finder = cv2.ORB.create(nfeatures=_CORNERS, fastThreshold=10)
    spots, looks = [], []
    for pixels, small in drawings:
        found, look = finder.detectAndCompute(cv2.cvtColor(pixels, cv2.COLOR_BGR2GRAY), None)
        if look is None:
            return None
        times = finder.getScaleFactor() ** np.array([one.octave for one in found])
        # a corner found in a smaller copy is told by its pixel's outer corner, not its middle
        at = np.array([one.pt for one in found]) + 0.5 * (times[:, None] - 1.0)
        spots.append(_moved(np.asarray(np.linalg.inv(small), np.float64)[:2], at))
        looks.append(look)
    alike = cv2.BFMatcher(cv2.NORM_HAMMING, crossCheck=True).match(*looks)
    old, new = ([one.queryIdx for one in alike], [one.trainIdx for one in alike])
    return spots[0][old], spots[1][new]


def _similarity(at: Floats, to: Floats, within: float) -> tuple[Floats, Bools] | None:
    """Return the similarity on which most corners agree within so many px, and which do."""
    if len(at) < _AGREE_LEAST:
        return None
    first, _ = cv2.estimateAffinePartial2D(
        at, to, ransacReprojThreshold=within, maxIters=5000, confidence=0.999
    )
    if first is None:
        return None
    matrix = np.asarray(first, np.float64)
    near = np.ones(len(at), dtype=bool)
    for _ in range(3):
        near = np.hypot(*(to - _moved(matrix, at)).T) < within
        if near.sum() < _AGREE_LEAST:
            return None
        matrix = _least_squares(at[near], to[near])
    return matrix, near


def _least_squares(at: Floats, to: Floats) -> Floats:
    """Return the similarity nearest to pairs of points (Umeyama 1991, in the plane)."""
    middle, there = at.mean(axis=0), to.mean(axis=0)
    z, w = ((points - mean) @ (1.0, 1.0j) for points, mean in ((at, middle), (to, there)))
    times = complex(np.vdot(z, w) / np.vdot(z, z).real)
    turn = np.array([[times.real, -times.imag], [times.imag, times.real]])
    return np.column_stack([turn, there - turn @ middle])


def _blurred_lab(pixels: Bytes) -> Floats:
    soft = cv2.GaussianBlur(pixels.astype(np.float32) / 255.0, (0, 0), BLUR)
    return np.asarray(cv2.cvtColor(soft, cv2.COLOR_BGR2LAB))


def _differs(old: Floats, new: Floats) -> Bools:
    """Return where two drawings differ by more than light and paper do."""
    apart = new - old
    rows, columns = apart.shape[:2]
    less = max(columns // 16, 1), max(rows // 16, 1)
    small = cv2.resize(apart, less, interpolation=cv2.INTER_AREA)
    kernel = 2 * (_SLOW // 32) + 1
    most = np.array((_SHADE_MOST, _TINT_MOST, _TINT_MOST), np.float32)
    eight = np.rint(np.clip(small, -most, most) + 128.0).astype(np.uint8)
    slow = cv2.medianBlur(eight, kernel).astype(np.float32) - 128.0
    apart = apart - cv2.resize(slow, (columns, rows), interpolation=cv2.INTER_LINEAR)
    return np.asarray(np.einsum("ijk,ijk->ij", apart, apart) > APART**2)


def _to_lines(lab: Floats) -> Floats:
    """Return how far the nearest line or edge of a fill is, px."""
    steps = [cv2.Sobel(lab, cv2.CV_32F, dx, 1 - dx, scale=1 / 8) for dx in (0, 1)]
    steep = sum(np.einsum("ijk,ijk->ij", step, step) for step in steps) > _STEP**2
    return np.asarray(cv2.distanceTransform((~steep).astype(np.uint8), cv2.DIST_L2, 5))

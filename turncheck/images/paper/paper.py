"""What a drawing's paper looks like, and how far each pixel departs from it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from turncheck.numerics.arrays import Bytes, Floats, Singles
from turncheck.numerics.robust import median_sd

#: Width of the border whose colour is taken for paper to begin with, as a share of the shorter
#: side; common practice, no source.
BORDER_WIDTH = 0.02
#: Below this difference in CIELAB nothing is told from paper, however even the paper is.
PAPER_STEP_LEAST = 4.0
#: Paper reaches up to so many of its own spreads; chosen by the measurement in
#: tests/figures/paper.md.
PAPER_SPREADS = 4.5
_SAMPLES = 20_000


@dataclass(frozen=True)
class Paper:
    """The paper of a drawing at working size.

    Attributes
    ----------
    surface
        (h, w, 3) CIELAB of the empty paper, light and stains counted in.
    even
        (h, w, 3) the same without its creases and stains.
    apart
        (h, w) how far each pixel lies from the surface in CIELAB (CIE76).
    spread
        Robust spread of the paper about its surface, in CIELAB.
    """

    surface: Singles
    even: Singles
    apart: Singles
    spread: float

    @property
    def step(self) -> float:
        """Difference in CIELAB beyond which a pixel is not paper."""
        return max(PAPER_STEP_LEAST, PAPER_SPREADS * self.spread)


def make_tables() -> None:
    """Let OpenCV make its tables for CIELAB, which it takes some 70 ms for the first time."""
    to_lab(np.zeros((1, 1, 3), np.uint8))


def to_lab(bgr: Bytes) -> Singles:
    """Return CIELAB (D65) of (h, w, 3) BGR of 8 bit.

    >>> to_lab(np.full((1, 1, 3), 255, np.uint8)).round(1).ravel().tolist()
    [100.0, 0.0, 0.0]
    """
    scaled = bgr.astype(np.float32) * np.float32(1.0 / 255.0)
    return np.asarray(cv2.cvtColor(scaled, cv2.COLOR_BGR2LAB), dtype=np.float32)


def find_paper(lab: Singles) -> Paper:
    """Fit the paper's colour as a smooth surface, starting from the picture's border.

    A plane through the border's main colour grows into a cubic as more of the picture turns
    out to be paper; what is left (creases, stains) is followed by a local mean over the paper.
    """
    height, width = lab.shape[:2]
    step = max(1, round(np.sqrt(height * width / _SAMPLES)))
    rows, columns = np.mgrid[0:height:step, 0:width:step]
    colours = lab[::step, ::step].reshape(-1, 3).astype(np.float64)
    u = (2.0 * columns / max(width - 1, 1) - 1.0).ravel()
    v = (2.0 * rows / max(height - 1, 1) - 1.0).ravel()
    rim = BORDER_WIDTH * min(height, width) + 1
    border = (
        (rows < rim) | (columns < rim) | (rows >= height - rim) | (columns >= width - rim)
    ).ravel()
    centre = _main_colour(colours[border])
    apart = np.linalg.norm(colours - centre, axis=1)
    use = border & (apart < 15.0)
    every_term = _terms(u, v)
    # a plane, then with the squares, then the cubes
    for count, reach in ((3, 12.0), (3, 10.0), (6, 8.0), (6, 8.0), (10, 6.0), (10, 6.0)):
        terms = every_term[:, :count]
        weight = use.astype(np.float64)[:, None]
        # a little ridge keeps a corner without paper from bending the surface away
        ridge = 1e-3 * float(use.sum()) * np.eye(count)
        ridge[0, 0] = 0.0
        fitted = np.linalg.solve((terms * weight).T @ terms + ridge, (terms * weight).T @ colours)
        apart = np.linalg.norm(colours - terms @ fitted, axis=1)
        spread = median_sd(apart[use])
        use = apart < min(reach, max(PAPER_STEP_LEAST, 4.0 * spread))
    surface = _surface(fitted, height, width)
    return _followed(lab, surface, min(8.0, max(PAPER_STEP_LEAST, PAPER_SPREADS * spread)))


def _main_colour(colours: Floats) -> Floats:
    """Return the mean of the fullest cell of the colours' histogram, grown a little."""
    cells = np.round(colours / 6.0).astype(np.int64)
    names, counts = np.unique(cells, axis=0, return_counts=True)
    start = names[np.argmax(counts)] * 6.0
    for _ in range(3):
        near = np.linalg.norm(colours - start, axis=1) < 10.0
        start = colours[near].mean(axis=0)
    return np.asarray(start)


def _terms(u: Floats, v: Floats) -> Floats:
    """Return (n, 10) the terms of a cubic, those of the lowest degree first."""
    powers = [(i - j, j) for i in range(4) for j in range(i + 1)]
    return np.stack([u**a * v**b for a, b in powers], axis=1)


def _surface(coefficients: Floats, height: int, width: int) -> Singles:
    """Return the polynomial at every pixel, from a coarse grid (it is smooth)."""
    grid = 65
    v, u = np.meshgrid(np.linspace(-1, 1, grid), np.linspace(-1, 1, grid), indexing="ij")
    coarse = _terms(u.ravel(), v.ravel()) @ coefficients
    x = np.linspace(0, grid - 1, width, dtype=np.float32)
    y = np.linspace(0, grid - 1, height, dtype=np.float32)
    maps = np.meshgrid(x, y)
    field = coarse.reshape(grid, grid, 3).astype(np.float32)
    return np.asarray(cv2.remap(field, maps[0], maps[1], cv2.INTER_LINEAR), dtype=np.float32)


def _followed(lab: Singles, surface: Singles, reach: float) -> Paper:
    """Return the surface with the local mean of what it leaves over on paper added."""
    height, width = lab.shape[:2]
    rest = lab - surface
    paper = _length(rest) < reach
    small = (max(width // 8, 1), max(height // 8, 1))
    shares = cv2.resize(paper.astype(np.float32), small, interpolation=cv2.INTER_AREA)
    of_paper = cv2.copyTo(rest, paper.view(np.uint8))
    means = cv2.resize(of_paper, small, interpolation=cv2.INTER_AREA)
    sigma = 0.02 * max(small)
    shares = cv2.GaussianBlur(shares, (0, 0), sigma)
    means = cv2.GaussianBlur(means, (0, 0), sigma)
    local = np.asarray(means, dtype=np.float32) / (np.asarray(shares)[:, :, None] + 0.05)
    followed = surface + cv2.resize(local, (width, height), interpolation=cv2.INTER_LINEAR)
    apart = _length(lab - followed)
    # half of a two-dimensional normal lies within 1.18 of its spread
    spread = float(np.median(apart[paper])) / 1.18 if paper.any() else 0.0
    return Paper(followed, surface, apart, spread)


def _length(values: Singles) -> Singles:
    squares = cv2.transform(cv2.multiply(values, values), np.ones((1, 3), np.float32))
    return np.asarray(cv2.sqrt(squares), dtype=np.float32)

"""Where the edge of a disc lies: a circle over one colour's pixels, then fitted to sub-pixels."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from turncheck.numerics.arrays import Bools, Floats
from turncheck.numerics.robust import TUKEY_C, biweights, median_sd

#: Largest disc, px; common practice, no source, as are the next two.
RADIUS_MOST = 13.0
#: A pixel is a mixture with a third colour when it lies this far beside the line between the
#: two, as a share of their distance.
MIXED_SHARE_LEAST = 0.35
#: BGR to luma and, at a third of its weight, chroma (ITU-R BT.601), which JPEG keeps at half the
#: resolution.
COLOUR_METRIC = np.array([[0.114, 0.5, -0.081], [0.587, -0.331, -0.419], [0.299, -0.169, 0.5]])
COLOUR_METRIC = COLOUR_METRIC * [1.0, 0.3, 0.3]
_STEPS = 25
#: How far the first guess may lie from the disc's centre, px.
_SEARCH = 3.0


@dataclass(frozen=True)
class Circle:
    """Centre and radius, px of the patch that it lies in."""

    x: float
    y: float
    radius: float


def enclosing_circle(worth: Floats, circle: Circle) -> Circle:
    """Return the circle that holds most pixels of the disc's colour (1) and fewest others (-1).

    Of circles that are as good as each other, the mean.
    """
    rows, columns = (place.ravel() for place in np.indices(worth.shape))
    steps = np.arange(-_SEARCH, _SEARCH + 0.1, 0.5)
    y, x = (
        place.ravel() for place in np.meshgrid(circle.y + steps, circle.x + steps, indexing="ij")
    )
    distance = np.hypot(columns - x[:, None], rows - y[:, None])
    order = np.argsort(distance, axis=1)
    ordered, worth = np.take_along_axis(distance, order, axis=1), worth.ravel()[order]
    gained = np.cumsum(worth, axis=1)
    first, each = np.argmax(gained, axis=1), np.arange(len(x))
    # the circle may lie anywhere between the last pixel it needs and the next it must not
    after = (worth < 0) & (np.arange(worth.shape[1]) > first[:, None])
    last = ordered[each, first]
    beyond = np.where(after.any(axis=1), ordered[each, np.argmax(after, axis=1)], np.inf)
    radius = (last + np.minimum(beyond, last + 2.0)) / 2.0
    best = gained[each, first]
    top = best >= best.max() - 1.0
    return Circle(*(float(values[top].mean()) for values in (x, y, radius)))


def fitted_circle(
    colours: Floats, clear: Bools, circle: Circle, inside: Floats
) -> tuple[Circle, float, float, Floats] | None:
    """Fit a circle to how much of each pixel about its edge the disc covers.

    The cover of a pixel is where its colour lies between the disc's and what lies outside in the
    same direction; a straight edge at distance d covers r + 1/2 - d of it, held to 0 and 1.
    Pixels that are not clear of a line, a mixture with a third colour, or beyond a line that
    crosses the disc are left out; Gauss-Newton with Tukey's weights does the rest.

    Returns
    -------
    tuple or None
        The circle, the RMS misfit of the cover, the share of the edge that is seen and the median
        colour around; None if too few pixels are left.
    """
    rows, columns = np.mgrid[0 : colours.shape[0], 0 : colours.shape[1]].astype(np.float64)
    values = np.array([circle.x, circle.y, circle.radius])
    misfit, edge, around = np.inf, 0.0, inside
    for step in range(_STEPS):
        x, y, radius = values
        away_x, away_y = columns - x, rows - y
        distance = np.maximum(np.hypot(away_x, away_y), 1e-6)
        rim = clear & (np.abs(distance - radius) < 1.6)
        if rim.sum() < 6:
            return None
        ux, uy, d = away_x[rim] / distance[rim], away_y[rim] / distance[rim], distance[rim]
        here = colours[rim]
        outer = _sampled(colours, x + ux * (radius + 2.0), y + uy * (radius + 2.0))
        within = max(radius - 1.8, 0.0)
        inner = _sampled(colours, x + ux * within, y + uy * within)
        across = outer - inside
        length = np.maximum(np.linalg.norm(across, axis=1), 1e-6)
        way = across @ COLOUR_METRIC
        share = np.sum(((here - inside) @ COLOUR_METRIC) * way, axis=1)
        share /= np.maximum(np.sum(way**2, axis=1), 1e-6)
        beside = np.linalg.norm(here - inside - share[:, None] * across, axis=1)
        seen = (
            (length > 20.0)
            & (beside < np.maximum(MIXED_SHARE_LEAST * length, 12.0))
            & (np.linalg.norm(inner - inside, axis=1) < np.maximum(0.3 * length, 14.0))
        )
        if seen.sum() < 6:
            return None
        cover = 1.0 - share[seen]
        model = np.clip(radius + 0.5 - d[seen], 0.0, 1.0)
        rest = cover - model
        # the slope where the edge crosses the pixel, softened so that a start off by a px moves
        slope = np.where(np.abs(radius - d[seen]) < (1.3 if step < 8 else 0.8), 1.0, 0.0)
        scale = max(median_sd(rest), 0.03, 0.4 * 0.7**step)
        weight = biweights(rest, TUKEY_C * scale)
        weight *= np.minimum(length[seen] / 100.0, 1.0) ** 2
        jacobian = slope[:, None] * np.stack([ux[seen], uy[seen], np.ones(int(seen.sum()))], axis=1)
        normal = (jacobian * weight[:, None]).T @ jacobian + 1e-6 * np.eye(3)
        move = np.linalg.solve(normal, (jacobian * weight[:, None]).T @ rest)
        values = values + np.clip(move, -1.0, 1.0)
        if not (0.5 < values[2] < 2 * RADIUS_MOST):
            return None
        misfit = float(np.sqrt(np.sum(weight * rest**2) / max(float(np.sum(weight)), 1e-9)))
        directions = np.unique(np.floor((np.arctan2(uy, ux)[seen] + np.pi) / (np.pi / 12)))
        edge = len(directions) / 24.0
        around = np.median(outer[seen], axis=0)
        if step > 10 and float(np.abs(move).max()) < 1e-4:
            break
    return Circle(*(float(value) for value in values)), misfit, edge, around


def _sampled(colours: Floats, x: Floats, y: Floats) -> Floats:
    """Return (n, 3) the colours at (n,) places, bilinear, the border going on outwards."""
    maps = (x.astype(np.float32)[None], y.astype(np.float32)[None])
    sampled = cv2.remap(
        colours.astype(np.float32), *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(sampled[0], dtype=np.float64)

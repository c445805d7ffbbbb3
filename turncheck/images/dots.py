"""Finds small coloured discs left on a drawing and where their centres lie, to sub-pixels."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from turncheck.images.colour import on_white
from turncheck.images.paper.paper import to_lab
from turncheck.numerics.robust import TUKEY_C, biweights, median_sd

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

#: Radii looked for, px.
DOT_RADII = (1.5, 13.0)
#: Differences in each CIELAB channel within which pixels have a disc's colour, the closest last: a
#: fill of nearly the same colour needs the closest. Chosen by the measurement in
#: tests/figures/dots.md; what follows is common practice, no source.
COLOUR_APART_STEPS = (22, 12, 6, 4)
#: A line as wide as this may cross a disc, px.
_LINE = 5
#: Below this difference in CIELAB from what lies around it a disc's edge can't be trusted.
CONTRAST_LEAST = 15.0
#: At least this share of the edge must be seen.
EDGE_SHARE_LEAST = 0.33
#: At least this share of the disc must have its colour: a crossing line takes the rest.
FILLED_SHARE_LEAST = 0.4
#: Largest departure of the edge from a circle, as a share of covered pixels (RMS).
ROUND_MISFIT_MOST = 0.25
#: A line is darker than this share of the lightness of the disc and of what lies around it.
INK_LIGHTNESS_MOST = 0.6
#: A disc's mean colour lies within this of the one asked for, CIELAB.
NAMED_COLOUR_APART_MOST = 16.0
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
class Dot:
    """A disc on a drawing.

    Attributes
    ----------
    x, y
        Centre, px of the drawing; (0, 0) is the centre of the top-left pixel, y down.
    radius
        px.
    colour
        CIELAB (D65) of its inside.
    contrast
        Difference in CIELAB from what lies around it.
    edge
        Share of its edge that is seen.
    doubt
        Why its place can't be trusted; '' where it can.
    """

    x: float
    y: float
    radius: float
    colour: tuple[float, float, float]
    contrast: float
    edge: float
    doubt: str = ""


def lab_of(code: str) -> tuple[float, float, float]:
    """Return CIELAB (D65) of an sRGB colour written as #rrggbb.

    >>> [round(value) for value in lab_of("#ffffff")]
    [100, 0, 0]
    """
    blue_green_red = [int(code[i : i + 2], 16) for i in (5, 3, 1)]
    values = to_lab(np.array([[blue_green_red]], np.uint8))[0, 0]
    return float(values[0]), float(values[1]), float(values[2])


def lab_at(pixels: Bytes, x: int, y: int) -> tuple[float, float, float]:
    """Return the median CIELAB of the nine pixels about a place in the picture."""
    near = on_white(pixels[max(y - 1, 0) : y + 2, max(x - 1, 0) : x + 2])
    values = np.median(to_lab(near).reshape(-1, 3), axis=0)
    return float(values[0]), float(values[1]), float(values[2])


def find_dots(pixels: Bytes, colours: Sequence[tuple[float, float, float]]) -> list[Dot]:
    """Find the discs of some colours.

    Parameters
    ----------
    pixels
        (H, W, 3) BGR or (H, W, 4) BGRA, which is laid on white.
    colours
        CIELAB of the discs that may be there.

    Returns
    -------
    list
        From top to bottom, no two on the same spot.

    Examples
    --------
    >>> drawing = np.full((40, 40, 3), 240, np.uint8)
    >>> _ = cv2.circle(drawing, (20, 16), 5, (0, 0, 255), -1)
    >>> [(round(dot.x), round(dot.y)) for dot in find_dots(drawing, [lab_of("#ff0000")])]
    [(20, 16)]
    """
    bgr = on_white(pixels)
    lab = np.asarray(cv2.cvtColor(bgr, cv2.COLOR_BGR2LAB), dtype=np.uint8)
    found: list[tuple[float, float, Dot]] = []
    for colour in colours:
        for start, alike in _candidates(lab, colour):
            dot, misfit = _measured(bgr, start, colour, alike)
            if dot is not None:
                found.append((-alike, misfit, dot))
    kept: list[Dot] = []
    # the closest colours are only for fills that are nearly alike: they see less of the disc
    for *_, dot in sorted(found, key=lambda one: (bool(one[2].doubt), *one[:2])):
        if all(np.hypot(dot.x - o.x, dot.y - o.y) > max(dot.radius, o.radius) for o in kept):
            kept.append(dot)
    return sorted(kept, key=lambda dot: (dot.y, dot.x))


@dataclass(frozen=True)
class _Circle:
    x: float
    y: float
    radius: float


def _candidates(lab: Bytes, colour: tuple[float, float, float]) -> Iterator[tuple[_Circle, float]]:
    """Yield circles around small patches of a colour, and within what difference it was.

    Patches a line's width apart are one.
    """
    centre = np.array([colour[0] * 2.55, colour[1] + 128, colour[2] + 128])
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_LINE + 2, _LINE + 2))
    largest = 2 * DOT_RADII[1] + 4
    for alike in COLOUR_APART_STEPS:
        reach = np.array([2.55 * alike, alike, alike])
        low, high = (
            np.clip(np.floor(centre - reach), 0, 255),
            np.clip(np.ceil(centre + reach), 0, 255),
        )
        mask = cv2.inRange(lab, low, high)
        if not mask.any():
            return
        joined = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, kernel)
        _, labels, stats, _ = cv2.connectedComponentsWithStats(joined)
        small = (stats[:, cv2.CC_STAT_WIDTH] <= largest) & (stats[:, cv2.CC_STAT_HEIGHT] <= largest)
        small[0] = False
        for part in np.flatnonzero(small):
            left, top, width, height, _ = (int(value) for value in stats[part])
            area = (slice(top, top + height), slice(left, left + width))
            rows, columns = np.nonzero((labels[area] == part) & (mask[area] > 0))
            if len(rows) < 3 or min(width, height) < 0.4 * max(width, height):
                continue
            points = np.stack([columns, rows], axis=1).astype(np.float32)
            (x, y), radius = cv2.minEnclosingCircle(points)
            yield _Circle(left + x, top + y, max(radius + 0.3, DOT_RADII[0])), alike


def _measured(
    bgr: Bytes, start: _Circle, colour: tuple[float, float, float], alike: float
) -> tuple[Dot | None, float]:
    """Return the disc that a circle is the first guess of, and how far its edge is from round."""
    reach = int(np.ceil(start.radius)) + 6
    left, top = max(round(start.x) - reach, 0), max(round(start.y) - reach, 0)
    patch = bgr[top : round(start.y) + reach + 1, left : round(start.x) + reach + 1]
    rows, columns = np.mgrid[0 : patch.shape[0], 0 : patch.shape[1]].astype(np.float64)
    colours = patch.astype(np.float64)
    circle = _Circle(start.x - left, start.y - top, start.radius)
    apart = np.linalg.norm(to_lab(patch) - np.array(colour), axis=2)
    near = (np.hypot(columns - circle.x, rows - circle.y) < circle.radius) & (apart < alike)
    if near.sum() < 3:
        return None, np.inf
    purest = np.sort(apart[near])[: max(3, int(near.sum()) // 2)][-1]
    inside = np.median(colours[near & (apart <= purest)], axis=0)
    clear = ~_inked(to_lab(patch)[:, :, 0], circle)
    # what lies between the two colours may be either, blurred
    worth = np.where(apart < alike, 1.0, np.where(clear & (apart > 2 * alike), -1.0, 0.0))
    circle = _enclosing(worth, circle)
    unlined = clear
    if clear[np.hypot(columns - circle.x, rows - circle.y) < 0.7 * circle.radius].all():
        clear = np.ones_like(clear)  # what is dark lies under the disc: its edge is seen against it
    fit = _fitted(colours, clear, circle, inside)
    if fit is None:
        return None, np.inf
    circle, misfit, edge, around = fit
    distance = np.hypot(columns - circle.x, rows - circle.y)
    core = distance < max(circle.radius - 0.7, 1.0)
    # named by its very middle, whatever colour it was looked for by
    middle = unlined & (distance < max(circle.radius - 2.0, 1.0))
    if middle.any():
        inside = np.median(colours[middle], axis=0)
    inside_lab = to_lab(inside[None, None].astype(np.uint8))[0, 0]
    core &= unlined
    same = np.linalg.norm(to_lab(patch) - inside_lab, axis=2) < alike
    filled = float(same[core].mean()) if core.any() else 1.0
    off = float(np.linalg.norm(inside_lab - np.array(colour)))
    if (
        not DOT_RADII[0] <= circle.radius <= DOT_RADII[1]
        or filled < FILLED_SHARE_LEAST
        or off > NAMED_COLOUR_APART_MOST
    ):
        return None, np.inf
    if misfit > ROUND_MISFIT_MOST:
        return None, np.inf
    contrast = float(np.linalg.norm(to_lab(around[None, None].astype(np.uint8))[0, 0] - inside_lab))
    doubt = ""
    if contrast < CONTRAST_LEAST:
        doubt = "its colour is too near the fill under it"
    elif edge < EDGE_SHARE_LEAST:
        doubt = "too little of its edge is seen"
    return (
        Dot(
            left + circle.x,
            top + circle.y,
            circle.radius,
            (float(inside_lab[0]), float(inside_lab[1]), float(inside_lab[2])),
            contrast,
            edge,
            doubt,
        ),
        misfit,
    )


def _inked(lightness: npt.NDArray[np.float32], circle: _Circle) -> Bools:
    """Return where a line darker than both the disc and what lies around it is, or is near."""
    rows, columns = np.mgrid[0 : lightness.shape[0], 0 : lightness.shape[1]]
    distance = np.hypot(columns - circle.x, rows - circle.y)
    ring = np.abs(distance - circle.radius - 4.0) < 2.0
    disc = float(np.median(lightness[distance <= max(circle.radius, 1.0)]))
    around = float(np.median(lightness[ring])) if ring.any() else disc
    ink = (lightness < INK_LIGHTNESS_MOST * min(disc, around)).astype(np.uint8)
    return np.asarray(cv2.dilate(ink, np.ones((3, 3), np.uint8)) > 0)


def _enclosing(worth: Floats, circle: _Circle) -> _Circle:
    """Return the circle that holds most pixels of the disc's colour (1) and fewest others (-1).

    Of circles that are as good as each other, the mean.
    """
    rows, columns = np.mgrid[0 : worth.shape[0], 0 : worth.shape[1]]
    worth = worth.ravel()
    steps = np.arange(-_SEARCH, _SEARCH + 0.1, 0.5)
    found: list[tuple[float, float, float, float]] = []
    for y in circle.y + steps:
        for x in circle.x + steps:
            distance = np.hypot(columns - x, rows - y).ravel()
            order = np.argsort(distance)
            gained = np.cumsum(worth[order])
            ordered = distance[order]
            best = float(gained.max())
            # the circle may lie anywhere between the last pixel it needs and the next it must not
            first = int(np.argmax(gained))
            beyond = ordered[first + 1 :][worth[order][first + 1 :] < 0]
            radius = float(ordered[first] + min([*beyond[:1], ordered[first] + 2.0])) / 2.0
            found.append((best, float(x), float(y), radius))
    table = np.array(found)
    top = table[table[:, 0] >= table[:, 0].max() - 1.0]
    x, y, radius = top[:, 1:].mean(axis=0)
    return _Circle(float(x), float(y), float(radius))


def _fitted(
    colours: Floats, clear: Bools, circle: _Circle, inside: Floats
) -> tuple[_Circle, float, float, Floats] | None:
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
        if not (0.5 < values[2] < 2 * DOT_RADII[1]):
            return None
        misfit = float(np.sqrt(np.sum(weight * rest**2) / max(float(np.sum(weight)), 1e-9)))
        directions = np.unique(np.floor((np.arctan2(uy, ux)[seen] + np.pi) / (np.pi / 12)))
        edge = len(directions) / 24.0
        around = np.median(outer[seen], axis=0)
        if step > 10 and float(np.abs(move).max()) < 1e-4:
            break
    return _Circle(*(float(value) for value in values)), misfit, edge, around


def _sampled(colours: Floats, x: Floats, y: Floats) -> Floats:
    """Return (n, 3) the colours at (n,) places, bilinear, the border going on outwards."""
    maps = (x.astype(np.float32)[None], y.astype(np.float32)[None])
    sampled = cv2.remap(
        colours.astype(np.float32), *maps, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(sampled[0], dtype=np.float64)

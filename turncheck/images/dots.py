"""Finds small coloured discs left on a drawing and where their centres lie, to sub-pixels."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from turncheck.images.colour import on_white
from turncheck.images.disc_edge import RADIUS_MOST, Circle, enclosing_circle, fitted_circle
from turncheck.images.paper.paper import to_lab
from turncheck.numerics.arrays import Bools, Bytes, Floats, Singles

#: Radii looked for, px.
DOT_RADII = (1.5, RADIUS_MOST)
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
#: Nor may its colour be hidden just inside a longer stretch of its rim than this share: what is
#: left of a disc that is half covered fits a smaller one as well. Of a small disc a line across
#: may hide more. Chosen by the measurement in tests/figures/dots.md.
RIM_GAP_MOST = 0.42
#: What is this near a line and an edge shows no colour of its own, px. Chosen by the same.
BLUR_WIDTH = 1.5
#: A smaller disc, px, is hidden all about by a line across; common practice, no source.
RIM_RADIUS_LEAST = 5.5
_COVERED = "too much of it is covered"
#: At least this share of the disc must have its colour: a crossing line takes the rest.
FILLED_SHARE_LEAST = 0.4
#: Largest departure of the edge from a circle, as a share of covered pixels (RMS).
ROUND_MISFIT_MOST = 0.25
#: A line is darker than this share of the lightness of the disc and of what lies around it.
INK_LIGHTNESS_MOST = 0.6
#: A disc's mean colour lies within this of the one asked for, CIELAB.
NAMED_COLOUR_APART_MOST = 16.0


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
            measured = _measured(bgr, start, colour, alike)
            if measured is not None:
                dot, misfit = measured
                found.append((-alike, misfit, dot))
    kept: list[Dot] = []
    # the closest colours are only for fills that are nearly alike: they see less of the disc, so
    # that what is covered by the wider ones may pass for a smaller disc by them
    for *_, dot in sorted(found, key=lambda one: (one[2].doubt not in ("", _COVERED), *one[:2])):
        if all(np.hypot(dot.x - o.x, dot.y - o.y) > max(dot.radius, o.radius) for o in kept):
            kept.append(dot)
    return sorted(kept, key=lambda dot: (dot.y, dot.x))


def _candidates(lab: Bytes, colour: tuple[float, float, float]) -> Iterator[tuple[Circle, float]]:
    """Yield circles around small patches of a colour, and within what difference it was.

    Patches a line's width apart are one.
    """
    centre = np.array([colour[0] * 2.55, colour[1] + 128, colour[2] + 128])
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (_LINE + 2, _LINE + 2))
    largest = 2 * DOT_RADII[1] + 4
    for alike in COLOUR_APART_STEPS:
        reach = np.array([2.55 * alike, alike, alike])
        low, high = np.floor(centre - reach), np.ceil(centre + reach)
        mask = cv2.inRange(lab, np.clip(low, 0, 255), np.clip(high, 0, 255))
        x0, y0, across, down = cv2.boundingRect(mask)
        if not across:
            return
        x0, y0 = max(x0 - len(kernel), 0), max(y0 - len(kernel), 0)
        mask = mask[y0 : y0 + down + 2 * len(kernel), x0 : x0 + across + 2 * len(kernel)]
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
            yield Circle(x0 + left + x, y0 + top + y, max(radius + 0.3, DOT_RADII[0])), alike


def _measured(
    bgr: Bytes, start: Circle, colour: tuple[float, float, float], alike: float
) -> tuple[Dot, float] | None:
    """Return the disc that a circle is the first guess of, and how far its edge is from round."""
    reach = int(np.ceil(start.radius)) + 6
    left, top = max(round(start.x) - reach, 0), max(round(start.y) - reach, 0)
    patch = bgr[top : round(start.y) + reach + 1, left : round(start.x) + reach + 1]
    rows, columns = np.mgrid[0 : patch.shape[0], 0 : patch.shape[1]].astype(np.float64)
    colours = patch.astype(np.float64)
    circle = Circle(start.x - left, start.y - top, start.radius)
    apart = np.linalg.norm(to_lab(patch) - np.array(colour), axis=2)
    near = (np.hypot(columns - circle.x, rows - circle.y) < circle.radius) & (apart < alike)
    if near.sum() < 3:
        return None
    purest = np.sort(apart[near])[: max(3, int(near.sum()) // 2)][-1]
    inside = np.median(colours[near & (apart <= purest)], axis=0)
    clear = ~_inked(to_lab(patch)[:, :, 0], circle)
    # what lies between the two colours may be either, blurred
    worth = np.where(apart < alike, 1.0, np.where(clear & (apart > 2 * alike), -1.0, 0.0))
    circle = enclosing_circle(worth, circle)
    unlined = clear
    if clear[np.hypot(columns - circle.x, rows - circle.y) < 0.7 * circle.radius].all():
        clear = np.ones_like(clear)  # what is dark lies under the disc: its edge is seen against it
    fit = fitted_circle(colours, clear, circle, inside)
    if fit is None:
        return None
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
    rim = same & (distance < circle.radius - 0.7) & (distance > circle.radius - 2.5)
    gap = _longest_gap(np.arctan2(rows - circle.y, columns - circle.x)[rim])
    off = float(np.linalg.norm(inside_lab - np.array(colour)))
    if (
        not DOT_RADII[0] <= circle.radius <= DOT_RADII[1]
        or filled < FILLED_SHARE_LEAST
        or off > NAMED_COLOUR_APART_MOST
        or misfit > ROUND_MISFIT_MOST
    ):
        return None
    contrast = float(np.linalg.norm(to_lab(around[None, None].astype(np.uint8))[0, 0] - inside_lab))
    doubt = ""
    if contrast < CONTRAST_LEAST:
        doubt = "its colour is too near the fill under it"
    elif edge < EDGE_SHARE_LEAST:
        doubt = "too little of its edge is seen"
    elif circle.radius >= RIM_RADIUS_LEAST and gap > max(RIM_GAP_MOST, _lined(circle.radius)):
        doubt = _COVERED
    x, y = left + circle.x, top + circle.y
    lab = (float(inside_lab[0]), float(inside_lab[1]), float(inside_lab[2]))
    return Dot(x, y, circle.radius, lab, contrast, edge, doubt), misfit


def _lined(radius: float) -> float:
    """Return the longest stretch of its rim that a line across hides of a disc, as a share of it.

    That is where what is left beyond the line is too narrow to be seen.
    """
    hidden = (_LINE + BLUR_WIDTH) / radius
    return float(np.arccos(np.clip(1.0 - hidden, -1.0, 1.0)) / np.pi)


def _longest_gap(directions: Floats) -> float:
    """Return the longest stretch of a full turn without any of some directions, radians."""
    if not len(directions):
        return 1.0
    turns = np.sort(directions) / (2.0 * np.pi)
    return float(np.diff(np.r_[turns, turns[0] + 1.0]).max())


def _inked(lightness: Singles, circle: Circle) -> Bools:
    """Return where a line darker than both the disc and what lies around it is, or is near."""
    rows, columns = np.mgrid[0 : lightness.shape[0], 0 : lightness.shape[1]]
    distance = np.hypot(columns - circle.x, rows - circle.y)
    ring = np.abs(distance - circle.radius - 4.0) < 2.0
    disc = float(np.median(lightness[distance <= max(circle.radius, 1.0)]))
    around = float(np.median(lightness[ring])) if ring.any() else disc
    ink = (lightness < INK_LIGHTNESS_MOST * min(disc, around)).astype(np.uint8)
    return np.asarray(cv2.dilate(ink, np.ones((3, 3), np.uint8)) > 0)

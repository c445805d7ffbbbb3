"""Enclosed areas that have the paper's colour: a gap seen through, or white clothes."""

from __future__ import annotations

import cv2
import numpy as np

from turncheck.numerics.arrays import Bools, Singles

#: Smallest enclosed area that is looked at, as a share of the figure's height squared.
GAP_AREA_LEAST = 1e-4
#: A gap's colour is the paper's to within this much in CIELAB; chosen by the measurement in
#: tests/figures/paper.md.
GAP_COLOUR_APART_MOST = 1.9
#: A gap has solid colour beyond at least this share of its rim; common practice, no source.
GAP_SOLID_RIM_LEAST = 0.6
#: A gap lies so far from the outside, as shares of the figure's height: more than an outline and no
#: more than an arm; chosen by the measurement in tests/figures/paper.md.
GAP_DEPTH = (0.012, 0.12)


def open_gaps(
    body: Bools, plain: Bools, lab: Singles, even: Singles
) -> tuple[list[Bools], Bools | None]:
    """Return the enclosed areas taken for gaps, and those taken for white clothes.

    A gap has the very colour of the paper outside, nothing drawn in it, solid colour beyond
    most of its rim, and an arm between it and the outside. Only clothes that could be mistaken
    for gaps, having nearly the paper's colour, are returned.

    Parameters
    ----------
    body
        (h, w) the figure with all that it encloses.
    plain
        (h, w) where neither a line nor a fill is; faint strokes count as plain.
    lab, even
        (h, w, 3) the colours, and the even paper's; CIELAB.
    """
    height = float(np.ptp(np.flatnonzero(body.any(axis=1)))) + 1.0
    page = (body & plain).astype(np.uint8)
    alike = cv2.morphologyEx(page, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(alike, connectivity=4)
    depth = cv2.distanceTransform(
        cv2.copyMakeBorder(body.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0),
        cv2.DIST_L2,
        3,
    )[1:-1, 1:-1]
    gaps: list[Bools] = []
    clothes = np.zeros_like(body)
    margin = round(GAP_DEPTH[1] * height)
    for label in range(1, count):
        x, y, w, h, size = stats[label]
        if size < GAP_AREA_LEAST * height**2:
            continue
        near = (
            slice(max(y - margin, 0), y + h + margin),
            slice(max(x - margin, 0), x + w + margin),
        )
        area = labels[near] == label
        outside = ~body[near] & plain[near]
        if not outside.any():
            continue
        rest = lab[near] - even[near]
        offset = np.median(rest[area], axis=0) - np.median(rest[outside], axis=0)
        unlike = float(np.linalg.norm(offset)) / GAP_COLOUR_APART_MOST
        if unlike > 2.0:
            continue
        nearest = float(depth[near][area].min()) / height
        between = GAP_DEPTH[0] < nearest < GAP_DEPTH[1]
        if unlike <= 1.0 and between and _is_seen_through(area, body[near] & ~plain[near], height):
            gap = np.zeros_like(body)
            gap[near] = area
            gaps.append(gap)
        else:
            clothes[near] |= area
    return gaps, clothes if clothes.any() else None


def _is_seen_through(area: Bools, solid: Bools, height: float) -> bool:
    """Whether nothing is drawn in an area and solid colour lies beyond its rim."""
    # beyond an outline of about 1 % of the figure
    far = max(3, round(0.02 * height))
    x, y, across, down = cv2.boundingRect(area.view(np.uint8))
    near = (slice(max(y - far, 0), y + down + far), slice(max(x - far, 0), x + across + far))
    page, solid = np.pad(area[near].view(np.uint8), 1), solid[near]
    contours, _ = cv2.findContours(page, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    whole = np.zeros_like(page)
    cv2.drawContours(whole, contours, -1, 1, cv2.FILLED)
    if whole.sum() > 1.02 * page.sum():
        return False  # like a pupil in an eye
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * far + 1, 2 * far + 1))
    less = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * far - 1, 2 * far - 1))
    ring = (cv2.dilate(page, disc) > cv2.dilate(page, less))[1:-1, 1:-1]
    return bool(ring.any()) and float(solid[ring].mean()) >= GAP_SOLID_RIM_LEAST

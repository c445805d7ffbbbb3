"""Gives what hangs free on a wide sheet (hair, props) to the figure that it belongs to."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from turncheck.numerics.arrays import Bools, Floats

Labels = npt.NDArray[np.int32]

#: A part belongs to the figure nearest to it within so many times its own size, held to these
#: shares of the figures' height: a strand of hair lies close, a prop may stand apart. Common
#: practice, no source: tests/figures/wide_sheets.md has other values.
PART_REACH = 0.6
PART_APART_NEAR, PART_APART_FAR = 0.03, 0.1
#: What is larger than this share of the height is a prop, not a letter: it belongs to a figure
#: that it is near to in columns alone; common practice, no source, as is the next.
PROP_SIZE_LEAST = 0.06
#: Parts under the soles are lettering; this much of the height may hang below them.
PART_BELOW_MOST = 0.01
#: Parts smaller than this share of the height are dust.
DUST_SIZE_MOST = 0.004
#: Two figures are as near to a part as each other when their distances differ by less.
AS_NEAR_RATIO = 1.3
#: A pale fill lies this close to the outline that it belongs to, px.
_TOUCHING = 2.0
#: How often a part may hang on a part that was itself given to a figure.
_CHAIN = 4


@dataclass(frozen=True)
class Box:
    """First and last column and row of a figure, px of the sheet."""

    left: int
    top: int
    right: int
    bottom: int


def box_of(mask: Bools) -> Box:
    """Return the box of what is True in an (h, w) mask that is not empty."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    return Box(int(columns[0]), int(rows[0]), int(columns[-1]), int(rows[-1]))


def with_parts(bodies: Labels, marks: Bools, doubts: list[str]) -> Labels:
    """Return the figures with the smaller parts that belong to them.

    Parameters
    ----------
    bodies
        (h, w) the figures' bodies, numbered from 1; 0 elsewhere.
    marks
        (h, w) everything that is drawn.
    doubts
        Sentences on what could as well belong elsewhere are added.

    Returns
    -------
    ndarray
        (h, w) as `bodies`; -1 for lettering and whatever else belongs to no figure.
    """
    owners = _with_nearest(bodies, marks, doubts, everywhere=True)
    for _ in range(_CHAIN):
        before = owners
        owners = _with_nearest(np.maximum(owners, 0), marks, [], everywhere=False)
        if np.array_equal(np.maximum(before, 0), np.maximum(owners, 0)):
            break
    return owners


def _with_nearest(bodies: Labels, marks: Bools, doubts: list[str], *, everywhere: bool) -> Labels:
    """Return the figures with the parts that are near; only those in their columns if asked."""
    boxes = [box_of(bodies == k) for k in range(1, int(bodies.max()) + 1)]
    height = max(box.bottom - box.top + 1 for box in boxes)
    rest = marks & (bodies == 0)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(rest.astype(np.uint8))
    labels = np.asarray(labels, dtype=np.int32)
    distances = _distances(bodies, labels, count)
    owner = np.full(count, -1, np.int32)
    owner[0] = 0
    for part in range(1, count):
        left, top, width, tall, _ = (int(value) for value in stats[part])
        size = max(width, tall)
        away = distances[:, part]
        if away.min() <= _TOUCHING:
            owner[part] = int(np.argmin(away)) + 1
            continue
        if size < DUST_SIZE_MOST * height:
            owner[part] = 0
            continue
        if size > PROP_SIZE_LEAST * height:
            gaps = [
                max(box.left - left - width, left - box.right - 1, _TOUCHING)
                if top + tall > box.top
                else np.inf
                for box in boxes
            ]
            away = np.minimum(away, gaps)
        order = np.argsort(away, kind="stable")
        first, distance = int(order[0]), float(away[order[0]])
        box = boxes[first]
        below = top > box.bottom + PART_BELOW_MOST * height - 1
        above = top + tall <= box.top
        reach = (
            PART_APART_NEAR * height
            if above
            else np.clip(PART_REACH * size, PART_APART_NEAR * height, PART_APART_FAR * height)
        )
        within = left >= box.left and left + width - 1 <= box.right
        if below or distance > reach or not (everywhere or within):
            if size > PROP_SIZE_LEAST * height and not below and not above:
                doubts.append(f"something near ({left}, {top}) belongs to no figure; left out")
            continue
        owner[part] = first + 1
        if len(boxes) > 1 and away[order[1]] < max(
            AS_NEAR_RATIO * distance, PART_APART_NEAR * height
        ):
            one, other = sorted(int(k) + 1 for k in order[:2])
            doubts.append(
                f"something between figures {one} and {other} was given to figure {first + 1}"
            )
    return np.where(bodies > 0, bodies, owner[labels]).astype(np.int32)


def _distances(bodies: Labels, labels: npt.NDArray[np.int32], count: int) -> Floats:
    """Return (figures, count) the smallest distance of each part from each body, px."""
    number = int(bodies.max())
    near = np.full((number, count), np.inf)
    for k in range(number):
        away = cv2.distanceTransform((bodies != k + 1).astype(np.uint8), cv2.DIST_L2, 3)
        np.minimum.at(near[k], labels.ravel(), np.asarray(away, dtype=np.float64).ravel())
    return near

"""Long ruled lines (guides, ground lines, frames): found and taken out of the line work."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from turncheck.numerics.arrays import Bools, Floats, Ints, Singles

#: A ruled line is at most this thick, as a share of the picture's longer side; chosen by the
#: measurement in tests/figures/paper.md.
RULED_THICKNESS_MOST = 0.008
#: It covers at least this share of the picture's extent along it. Common practice, no source: a
#: shorter line may be a thing that the figure holds.
RULED_LENGTH_LEAST = 0.22
#: A ruled line comes this near the picture's edge, as a share; a staff or a cane does not.
RULED_FROM_EDGE_MOST = 0.1
#: Furthest tilt of a ruled line from level or plumb, degrees; a scan lies no more askew.
RULED_TILT_MOST = 3.0
#: The marks across a line are this much longer at most than they usually are along it, px; what is
#: longer crosses or touches it. Chosen by the measurement in tests/figures/paper.md.
RULED_RUN_SLACK = 1
#: Marks of a line lie this near the line as it was voted for, px; common practice, no source.
RULED_OFF_MOST = 3


@dataclass(frozen=True, eq=False)
class _Across:
    """What is marked across a line in each column of the picture, (w,) each.

    A soft border makes the marks `run` longer than the line is thick: its thickness is that of
    its `core`, where it has at least half of its `peak` strength. Where nothing is marked, or
    too much, no core is thin.
    """

    top: Ints
    run: Ints
    core: Ints
    peak: Singles

    @property
    def middle(self) -> Floats:
        return np.asarray(self.top + (self.run - 1) / 2.0)


def without_ruled_lines(marks: Bools, strength: Singles) -> tuple[Bools, int]:
    """Return the marks without long level or plumb lines, and how many lines went.

    Where such a line crosses something thicker or stronger than itself, that stays, so that
    crossed outlines have no gap.

    Parameters
    ----------
    marks
        (h, w) whatever is not paper.
    strength
        (h, w) how far from paper.
    """
    level, count = _without_level_lines(marks, strength)
    plumb, more = _without_level_lines(level.T, strength.T)
    return np.ascontiguousarray(plumb.T), count + more


def _without_level_lines(marks: Bools, strength: Singles) -> tuple[Bools, int]:
    height, width = marks.shape
    # so thick a line has half its strength in one more row where it lies between rows
    thickest = round(RULED_THICKNESS_MOST * max(height, width)) + 1
    left = marks.copy()
    count = 0
    for line in _level_lines(marks, thickest):
        across = _across(left, strength, line, 2 * thickest)
        for _ in range(2):
            line = _straightened(line, across.middle, across.core <= thickest)
            across = _across(left, strength, line, 2 * thickest)
        thin = across.core <= thickest
        if thin.sum() < RULED_LENGTH_LEAST * width or not _near_edge(thin, width):
            continue
        longest = float(np.median(across.run[thin])) + RULED_RUN_SLACK
        strongest = 1.5 * float(np.median(across.peak[thin]))
        gone = thin & (across.run <= longest) & (across.peak < strongest)
        left[_runs(across, gone)] = False
        count += 1
    return left, count


def _level_lines(marks: Bools, thickest: int) -> Iterator[Floats]:
    """Yield (w,) the y of likely level lines, the longest first."""
    width = marks.shape[1]
    page = marks.astype(np.uint8)
    kernel = np.ones((2 * thickest + 2, 1), np.uint8)  # soft borders counted in
    thin = page - np.asarray(cv2.morphologyEx(page, cv2.MORPH_OPEN, kernel), dtype=np.uint8)
    # only the upper edge of each mark: one pixel a column, so that votes are lengths
    edge = thin.copy()
    edge[1:] &= 1 - thin[:-1]
    tilt = np.radians(RULED_TILT_MOST)
    found = cv2.HoughLines(
        edge,
        1.0,
        np.radians(0.1),
        max(20, round(0.5 * RULED_LENGTH_LEAST * width)),
        min_theta=np.pi / 2 - tilt,
        max_theta=np.pi / 2 + tilt,
    )
    if found is None:
        return
    x = np.arange(width)
    taken: list[Floats] = []
    for rho, theta in np.reshape(found, (-1, found.shape[-1]))[:400, :2]:
        y = (rho - x * np.cos(theta)) / np.sin(theta)
        if any(np.abs(y - other).min() < thickest for other in taken):
            continue
        taken.append(y)
        yield y
        if len(taken) == 24:
            return


def _straightened(line: Floats, middle: Floats, thin: Bools) -> Floats:
    """Return the line laid through the thin marks along it: votes are only good to a pixel."""
    at = np.flatnonzero(thin)
    if len(at) < 2:
        return line
    centre = at.mean()
    off = middle[at] - line[at]
    slope = float(np.sum((at - centre) * off)) / float(np.sum((at - centre) ** 2))
    return np.asarray(line + off.mean() + slope * (np.arange(len(line)) - centre))


def _across(marks: Bools, strength: Singles, line: Floats, reach: int) -> _Across:
    """Measure the marks across a line, up to `reach` px of them."""
    height, width = marks.shape
    half = reach + RULED_OFF_MOST + 1
    rows = np.round(line).astype(np.intp) + np.arange(-half, half + 1)[:, None]
    at = (np.clip(rows, 0, height - 1), np.arange(width))
    marked = marks[at] & (rows >= 0) & (rows < height)
    place = np.arange(len(rows))[:, None]
    away = np.where(marked, np.abs(place - half), len(rows))
    start = np.argmin(away, axis=0)
    found = away.min(axis=0) <= RULED_OFF_MOST
    before = np.where(~marked & (place < start), place, -1).max(axis=0)
    after = np.where(~marked & (place > start), place, len(rows)).min(axis=0)
    inside = (place > before) & (place < after)
    level = np.where(inside, strength[at], 0.0)
    peak = level.max(axis=0)
    run = after - before - 1
    core = np.count_nonzero(inside & (level >= peak / 2.0), axis=0)
    top = rows[0] + before + 1
    return _Across(top, run, np.where(found & (run <= reach), core, len(rows)), peak)


def _near_edge(thin: Bools, width: int) -> bool:
    at = np.flatnonzero(thin)
    return bool(
        at[0] < RULED_FROM_EDGE_MOST * width or at[-1] > (1.0 - RULED_FROM_EDGE_MOST) * width
    )


def _runs(across: _Across, gone: Bools) -> tuple[Ints, Ints]:
    """Return the rows and columns of all marks across a line in the columns that are gone."""
    columns = np.flatnonzero(gone)
    lengths = across.run[columns]
    within = np.arange(lengths.sum()) - np.repeat(np.cumsum(lengths) - lengths, lengths)
    return np.repeat(across.top[columns], lengths) + within, np.repeat(columns, lengths)

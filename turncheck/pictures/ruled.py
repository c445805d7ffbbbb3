"""Long ruled lines (guides, ground lines, frames): found and taken out of the line work."""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
import numpy.typing as npt

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float32]

#: A ruled line is at most this thick and covers at least this much, both as shares of the
#: picture's extent along and across it; chosen by the measurement in DEVELOPERS.md.
THICKEST = 0.006
SHORTEST = 0.22
#: A ruled line comes this near the picture's edge, as a share; a staff or a cane does not.
FROM_EDGE = 0.1
#: Furthest tilt of a ruled line from level or plumb, degrees; a scan lies no more askew.
TILT = 3.0


def without_ruled_lines(marks: Bools, strength: Floats) -> tuple[Bools, int]:
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


def _without_level_lines(marks: Bools, strength: Floats) -> tuple[Bools, int]:
    height, width = marks.shape
    thickest = max(3, round(THICKEST * max(height, width)))
    left = marks.copy()
    count = 0
    # a thin line's own strength, wherever on its soft flank it is read
    peak = np.asarray(cv2.dilate(strength, np.ones((5, 1), np.uint8)))
    for line in _level_lines(marks, thickest):
        rows, runs = _runs_across(left, line, thickest + 2)
        for _ in range(2):
            line = _straightened(line, rows, (runs > 0) & (runs <= thickest))
            rows, runs = _runs_across(left, line, thickest + 2)
        thin = (runs > 0) & (runs <= thickest)
        if thin.sum() < SHORTEST * width or not _near_edge(thin, width):
            continue
        thickness = float(np.median(runs[thin]))
        inside = peak[np.clip(rows, 0, height - 1), np.arange(width)]
        usual = float(np.median(inside[thin]))
        gone = thin & (runs <= 1.6 * thickness + 1.0) & (inside < 1.5 * usual)
        _erase(left, rows, gone, thickest + 2)
        count += 1
    return left, count


def _level_lines(marks: Bools, thickest: int) -> Iterator[npt.NDArray[np.float64]]:
    """Yield (w,) the y of likely level lines, the longest first."""
    width = marks.shape[1]
    page = marks.astype(np.uint8)
    kernel = np.ones((thickest + 2, 1), np.uint8)
    thin = page - np.asarray(cv2.morphologyEx(page, cv2.MORPH_OPEN, kernel), dtype=np.uint8)
    # only the upper edge of each mark: one pixel a column, so that votes are lengths
    edge = thin.copy()
    edge[1:] &= 1 - thin[:-1]
    tilt = np.radians(TILT)
    found = cv2.HoughLines(
        edge,
        1.0,
        np.radians(0.1),
        max(20, round(0.5 * SHORTEST * width)),
        min_theta=np.pi / 2 - tilt,
        max_theta=np.pi / 2 + tilt,
    )
    if found is None:
        return
    x = np.arange(width)
    taken: list[npt.NDArray[np.float64]] = []
    for rho, theta in np.reshape(found, (-1, found.shape[-1]))[:400, :2]:
        y = (rho - x * np.cos(theta)) / np.sin(theta)
        if any(np.abs(y - other).min() < 2 * thickest for other in taken):
            continue
        taken.append(y)
        yield y
        if len(taken) == 24:
            return


def _straightened(
    line: npt.NDArray[np.float64], rows: npt.NDArray[np.intp], thin: Bools
) -> npt.NDArray[np.float64]:
    """Return the line laid through the thin marks along it: votes are only good to a pixel."""
    at = np.flatnonzero(thin)
    if len(at) < 2:
        return line
    middle = at.mean()
    slope = float(np.sum((at - middle) * (rows[at] - line[at]))) / float(np.sum((at - middle) ** 2))
    lift = float(np.mean(rows[at] - line[at]))
    straight: npt.NDArray[np.float64] = line + lift + slope * (np.arange(len(line)) - middle)
    return straight


def _runs_across(
    marks: Bools, line: npt.NDArray[np.float64], reach: int
) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
    """Return (w,) a marked row near the line in each column, and the length of its run."""
    height, width = marks.shape
    columns = np.arange(width)
    rows = np.round(line).astype(np.intp)
    best = np.full(width, -10 * reach, dtype=np.intp)
    for shift in (0, 1, -1, 2, -2, 3, -3):
        row = rows + shift
        inside = (row >= 0) & (row < height)
        hit = inside & marks[np.clip(row, 0, height - 1), columns] & (best < -reach)
        best = np.where(hit, row, best)
    runs = (best >= 0).astype(np.intp)
    for way in (-1, 1):
        going = best >= 0
        for step in range(1, reach + 1):
            row = best + way * step
            inside = (row >= 0) & (row < height)
            going &= inside & marks[np.clip(row, 0, height - 1), columns]
            runs += going
    return best, runs


def _near_edge(thin: Bools, width: int) -> bool:
    at = np.flatnonzero(thin)
    return bool(at[0] < FROM_EDGE * width or at[-1] > (1.0 - FROM_EDGE) * width)


def _erase(marks: Bools, rows: npt.NDArray[np.intp], gone: Bools, reach: int) -> None:
    """Take the run through `rows` out of the marks in the columns that are gone."""
    height = marks.shape[0]
    columns = np.flatnonzero(gone)
    row = rows[columns]
    for way in (-1, 1):
        going = np.ones(len(columns), dtype=bool)
        for step in range(way > 0, reach + 1):
            at = row + way * step
            going &= (at >= 0) & (at < height)
            at = np.clip(at, 0, height - 1)
            going &= marks[at, columns] | (step == 0)
            marks[at[going], columns[going]] = False

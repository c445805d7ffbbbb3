"""Finds the figures of a wide sheet and cuts each out on the same rows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from turncheck.images.figure_mask import CLEAR_SHARE_LEAST, FIGURE_ALPHA_LEAST
from turncheck.images.paper.on_paper import (
    filled,
    strong_step,
    weak_parts,
    without_faint_strokes,
)
from turncheck.images.paper.paper import find_paper, to_lab
from turncheck.images.paper.ruled_lines import without_ruled_lines
from turncheck.images.wide_sheet.parts import Box, box_of, with_parts
from turncheck.images.wide_sheet.touching import find_join
from turncheck.numerics.arrays import Bools, Bytes, Ints

Labels = npt.NDArray[np.int32]

#: Longest side at which figures are looked for, px: a box is known to one pixel of it.
SPLIT_SIDE_MOST = 3200
#: A part is a figure of its own from this share of the tallest part's height and of the usual tall
#: part's area on; chosen by the measurement in tests/figures/wide_sheets.md.
BODY_HEIGHT_LEAST = 0.55
BODY_AREA_LEAST = 0.2
#: Two parts of a column, each at least this share of it, are figures of two rows: what hangs free
#: above or below a figure is smaller. Common practice, no source.
STACKED_HEIGHT_LEAST = 0.3
#: Paper left around a figure, as a share of the tallest figure's height; common practice.
CUT_MARGIN = 0.05


@dataclass(frozen=True)
class Split:
    """What was found on a wide sheet, from left to right.

    Attributes
    ----------
    owners
        (h, w) at working size: 0 paper, k figure number k, -1 lettering and whatever else belongs
        to no figure.
    paper
        (h, w, 3) BGR of the empty paper, or None where transparency tells the figures.
    boxes
        Of each figure, px of the sheet at full size.
    unsure
        Why the number of figures can't be settled; empty where it can.
    stacked
        Numbers of the figures that are two, one above the other: the sheet has two rows.
    doubts
        Sentences on what was guessed.
    """

    owners: Labels
    paper: Bytes | None
    boxes: tuple[Box, ...]
    unsure: str
    stacked: tuple[int, ...]
    doubts: tuple[str, ...]


@dataclass(frozen=True)
class _Marks:
    """Line work with what it encloses, and with unlined pale fills too; (h, w) each."""

    lined: Bools
    all: Bools
    paper: Bytes | None
    shaded: bool


def find_figures(pixels: Bytes, count: int | None = None) -> Split:
    """Find the figures of a wide sheet.

    Parameters
    ----------
    pixels
        (H, W, 3) BGR or (H, W, 4) BGRA.
    count
        How many there are, where somebody said so: figures that touch are parted at their
        narrowest, and the smallest are taken for props, until there are so many.

    Examples
    --------
    >>> sheet = np.full((120, 200, 3), 245, np.uint8)
    >>> sheet[20:100, 30:60] = sheet[25:100, 120:150] = (40, 60, 120)
    >>> [(box.left, box.right) for box in find_figures(sheet).boxes]
    [(30, 59), (120, 149)]
    """
    height, width = pixels.shape[:2]
    factor = max(1.0, max(height, width) / SPLIT_SIDE_MOST)
    small = pixels
    if factor > 1.0:
        size = (max(round(width / factor), 1), max(round(height / factor), 1))
        small = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    marks = _marks(small)
    doubts: list[str] = []
    if marks.shaded:
        doubts.append("soft shades beside the figures were taken for shadows; no box counts them")
    labels = _bodies_of(marks, doubts)
    if count is not None:
        labels = _brought_to(count, labels, doubts)
    number = int(labels.max())
    if number:
        labels = with_parts(labels, marks.all, doubts)
    if count is None:
        unsure = _touching(labels)
    else:
        unsure = "" if number == count else f"only {number} can be told apart, not {count}"
    figures = [labels == k for k in range(1, number + 1)]
    rows, columns = _nearest(labels.shape[0], height), _nearest(labels.shape[1], width)
    boxes = tuple(_at_full_size(box_of(figure), rows, columns) for figure in figures)
    stacked = tuple(k for k, figure in enumerate(figures, start=1) if _is_stacked(figure))
    return Split(labels, marks.paper, boxes, unsure, stacked, tuple(doubts))


def _nearest(count: int, full: int) -> Ints:
    """Return (full,) which of so many rows or columns of the working size lies nearest to each."""
    index = np.arange(count, dtype=np.int32)[None]
    nearest = cv2.resize(index, (full, 1), interpolation=cv2.INTER_NEAREST)
    return np.asarray(nearest[0], dtype=np.intp)


def _at_full_size(box: Box, rows: Ints, columns: Ints) -> Box:
    """Return a box at full size, given which working row and column each of it lies nearest to."""
    return Box(
        left=int(np.searchsorted(columns, box.left)),
        top=int(np.searchsorted(rows, box.top)),
        right=int(np.searchsorted(columns, box.right, side="right")) - 1,
        bottom=int(np.searchsorted(rows, box.bottom, side="right")) - 1,
    )


def cut_out(pixels: Bytes, split: Split) -> Iterator[Bytes]:
    """Yield each figure's drawing: all on the same rows of the sheet, alone on its paper.

    What belongs to another figure or to none (lettering) is replaced by clear or by paper; ruled
    lines stay as they are drawn.

    Parameters
    ----------
    pixels
        (H, W, 3) BGR or (H, W, 4) BGRA, the sheet that was split.

    Yields
    ------
    ndarray
        (h, w, 3 or 4), one at a time: a large sheet leaves no room for all of them.
    """
    height, width = pixels.shape[:2]
    owner_rows, owner_columns = (
        _nearest(count, full)
        for count, full in zip(split.owners.shape, (height, width), strict=True)
    )
    paper = split.paper
    if paper is not None and paper.shape[:2] != (height, width):
        paper = np.asarray(cv2.resize(paper, (width, height)), dtype=np.uint8)
    top = min(box.top for box in split.boxes)
    bottom = max(box.bottom for box in split.boxes)
    margin = round(CUT_MARGIN * (bottom - top + 1))
    rows = slice(max(top - margin, 0), min(bottom + margin + 1, height))
    for number, box in enumerate(split.boxes, start=1):
        area = (rows, slice(max(box.left - margin, 0), min(box.right + margin + 1, width)))
        owners = split.owners[owner_rows[area[0]][:, None], owner_columns[area[1]]]
        # a border's soft pixels lie outside what was found: the nearer owner has them
        own = cv2.dilate((owners == number).astype(np.uint8), np.ones((3, 3), np.uint8))
        theirs = ((owners != 0) & (owners != number)).astype(np.uint8)
        gone = (cv2.dilate(theirs, np.ones((7, 7), np.uint8)) > 0) & (own == 0)
        drawing = pixels[area].copy()
        drawing[gone] = 0 if paper is None else _opaque(paper[area], drawing)[gone]
        yield drawing


def _opaque(paper: Bytes, like: Bytes) -> Bytes:
    if like.shape[2] == 3:
        return paper
    return np.dstack([paper, np.full(paper.shape[:2], 255, np.uint8)])


def _marks(pixels: Bytes) -> _Marks:
    """Return whatever is drawn, ruled lines taken out."""
    if (
        pixels.shape[2] == 4
        and float((pixels[:, :, 3] < FIGURE_ALPHA_LEAST).mean()) > CLEAR_SHARE_LEAST
    ):
        alpha = pixels[:, :, 3]
        marks, _ = without_ruled_lines(alpha >= FIGURE_ALPHA_LEAST, alpha.astype(np.float32))
        solid = filled(marks)
        return _Marks(solid, solid, None, False)
    lab = to_lab(np.ascontiguousarray(pixels[:, :, :3]))
    paper = find_paper(lab)
    marks, _ = without_ruled_lines(paper.apart > paper.step, paper.apart)
    strong = _without_frames(marks & (paper.apart > strong_step(paper)))
    lined = filled(strong)
    weak = without_faint_strokes(marks & ~lined)
    pale, shadow = weak_parts(weak, lined, lab, paper) if lined.any() else (weak, lined)
    shaded = bool(shadow.sum() > 0.002 * lined.sum())
    surface = np.asarray(cv2.cvtColor(paper.surface, cv2.COLOR_LAB2BGR))
    empty = np.clip(np.round(surface * 255.0), 0, 255).astype(np.uint8)
    return _Marks(lined, filled(_without_frames(strong | pale)), empty, shaded)


def _without_frames(marks: Bools) -> Bools:
    """Return the marks without lines drawn all round the sheet."""
    height, width = marks.shape
    _, labels, stats, _ = cv2.connectedComponentsWithStats(marks.astype(np.uint8))
    area = stats[:, cv2.CC_STAT_AREA]
    frame = (
        (stats[:, cv2.CC_STAT_WIDTH] > 0.85 * width)
        & (stats[:, cv2.CC_STAT_HEIGHT] > 0.85 * height)
        & (area < 0.1 * height * width)
    )
    frame[0] = False
    return np.asarray(marks & ~frame[labels])


def _bodies_of(marks: _Marks, doubts: list[str]) -> Labels:
    """Return (h, w) the bodies of the figures, numbered from left to right; 0 elsewhere."""
    lined, full = _bodies(marks.lined), _bodies(marks.all)
    if int(lined.max()) <= int(full.max()):
        return full
    doubts.append("pale marks run from figure to figure; they were left out of the boxes")
    return lined


def _bodies(marks: Bools) -> Labels:
    """Return (h, w) the tall heavy parts, numbered from left to right; 0 elsewhere."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(marks.astype(np.uint8))
    found = np.zeros(marks.shape, np.int32)
    if count < 2:
        return found
    heights, areas = stats[:, cv2.CC_STAT_HEIGHT], stats[:, cv2.CC_STAT_AREA]
    tall = [k for k in range(1, count) if heights[k] >= BODY_HEIGHT_LEAST * heights[1:].max()]
    usual = float(np.median(areas[tall]))
    bodies = [k for k in tall if areas[k] >= BODY_AREA_LEAST * usual]
    numbers = np.zeros(count, np.int32)
    spans: list[tuple[int, int]] = []
    for k in sorted(bodies, key=lambda k: int(stats[k, cv2.CC_STAT_LEFT])):
        left = int(stats[k, cv2.CC_STAT_LEFT])
        right = left + int(stats[k, cv2.CC_STAT_WIDTH]) - 1
        # parts one above the other are one figure, cut through somewhere
        same = next((n for n, span in enumerate(spans) if _share(span, (left, right)) > 0.6), None)
        if same is None:
            spans.append((left, right))
        else:
            spans[same] = (spans[same][0], max(right, spans[same][1]))
        numbers[k] = len(spans) if same is None else same + 1
    return np.asarray(numbers[labels], dtype=np.int32)


def _share(one: tuple[int, int], other: tuple[int, int]) -> float:
    """Return how much two spans of columns share, as a part of the narrower."""
    shared = min(one[1], other[1]) - max(one[0], other[0]) + 1
    return shared / (min(one[1] - one[0], other[1] - other[0]) + 1)


def _is_stacked(figure: Bools) -> bool:
    """Whether a figure is two with empty rows between them, each tall enough for one."""
    rows = np.flatnonzero(figure.any(axis=1))
    if len(rows) < 2:
        return False
    gap = int(np.argmax(np.diff(rows)))
    least = STACKED_HEIGHT_LEAST * (rows[-1] - rows[0] + 1)
    parts = (rows[gap] - rows[0] + 1, rows[-1] - rows[gap + 1] + 1)
    return bool(rows[gap + 1] - rows[gap] > 1 and min(parts) >= least)


def _touching(labels: Labels) -> str:
    """Return which figures may be more than one, '' where none may."""
    joined = [k for k in range(1, int(labels.max()) + 1) if find_join(labels == k) is not None]
    if not joined:
        return ""
    if len(joined) == 1:
        return f"figure {joined[0]} looks like two or more that touch"
    return f"figures {_listed(joined)} each look like two or more that touch"


def _brought_to(count: int, labels: Labels, doubts: list[str]) -> Labels:
    """Return the bodies as so many as were told, or as near to it as they can be brought."""
    number = int(labels.max())
    if number < count:
        doubts.append("figures that touch were cut apart at the thinnest column; look there")
        return _parted(labels, count)
    areas = np.bincount(labels.ravel(), minlength=number + 1)[1:]
    kept = np.sort(np.argsort(areas)[::-1][:count]) + 1
    numbers = np.zeros(number + 1, np.int32)
    numbers[kept] = np.arange(1, count + 1)
    return np.asarray(numbers[labels], dtype=np.int32)


def _parted(labels: Labels, count: int) -> Labels:
    """Return the bodies with those that touch parted, the thinnest contact first."""
    number = int(labels.max())
    joins = {k: find_join(labels == k) for k in range(1, number + 1)}
    columns = np.arange(labels.shape[1])
    parted = labels.copy()
    while number < count:
        contacts = [(join.thickness, k) for k, join in joins.items() if join is not None]
        if not contacts:
            break
        _, k = min(contacts)
        number += 1
        join = joins[k]
        assert join is not None
        parted[(parted == k) & (columns > join.column)[None, :]] = number
        joins |= {n: find_join(parted == n) for n in (k, number)}
    return _in_order(parted)


def _in_order(labels: Labels) -> Labels:
    """Return the same figures numbered from left to right."""
    number = int(labels.max())
    middles = [float(np.nonzero(labels == k)[1].mean()) for k in range(1, number + 1)]
    numbers = np.zeros(number + 1, np.int32)
    numbers[np.argsort(middles) + 1] = np.arange(1, number + 1)
    return np.asarray(numbers[labels], dtype=np.int32)


def _listed(numbers: list[int]) -> str:
    return f"{', '.join(map(str, numbers[:-1]))} and {numbers[-1]}"

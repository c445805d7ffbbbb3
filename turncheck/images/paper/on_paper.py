"""Tells a figure from the paper it is drawn on."""

from __future__ import annotations

import cv2
import numpy as np

from turncheck.images.paper.gaps import open_gaps
from turncheck.images.paper.paper import Paper, find_paper, to_lab
from turncheck.images.paper.ruled_lines import without_ruled_lines
from turncheck.numerics.arrays import Bools, Bytes, Singles

#: Longest side at which the figure is looked for, px; its border is then refined at full size.
FIGURE_SIDE_MOST = 1400
#: Line work departs from the paper by more than faint construction lines do; CIELAB, the range
#: that Otsu's threshold is held to. Common practice, no source.
STRONG_STEP = (18.0, 32.0)
#: A faint stroke narrower than this share of the picture's longer side is construction.
FAINT_WIDTH_MOST = 0.006
#: A part that hangs free belongs to the figure within this share of the figure's height.
LOOSE_APART_MOST = 0.025
#: A shadow has the paper's colour, only darker: at most this much chroma apart from it.
SHADOW_CHROMA_MOST = 6.0


def figure_on_paper(bgr: Bytes) -> tuple[Bools, tuple[str, ...]]:
    """Return the figure on (H, W, 3) BGR paper, and sentences on what was guessed.

    Where there is none it is empty, with a doubt.
    """
    shape = bgr.shape[:2]
    factor = min(1.0, FIGURE_SIDE_MOST / max(shape))
    small = bgr
    if factor < 1.0:
        size = (max(round(shape[1] * factor), 1), max(round(shape[0] * factor), 1))
        small = np.asarray(cv2.resize(bgr, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    lab = to_lab(small)
    paper = find_paper(lab)
    found, doubts = _find(lab, paper, 1.0 / factor)
    if not found.any() or found.all():  # noise from edge to edge stands on no paper
        return np.zeros(shape, dtype=bool), ("no figure was found on the paper",)
    return _refined(found, bgr, paper), tuple(doubts)


def _find(lab: Singles, paper: Paper, scale: float) -> tuple[Bools, list[str]]:
    """Return the figure at working size and what was guessed; `scale` is full px per px."""
    doubts: list[str] = []
    drawn = paper.apart > paper.step
    marks, ruled = without_ruled_lines(drawn, paper.apart)
    if ruled:
        doubts.append(f"{_many(ruled, 'ruled line')} taken out")
    strong = marks & (paper.apart > strong_step(paper))
    enclosed = filled(strong)
    body, tall = _joined(enclosed)
    if not body.any():
        body, tall = _joined(filled(without_faint_strokes(marks)))
        if not body.any():
            return body, doubts

    # what only the paper rule finds: pale fills without an outline stay, shadows go
    weak = without_faint_strokes(marks & ~enclosed)
    pale, shadow = weak_parts(weak, body, lab, paper)
    area = float(body.sum())
    if shadow.sum() > 0.002 * area:
        doubts.append(f"a soft shade {_where(shadow, scale)} was taken for a shadow and left out")
    if pale.sum() > 0.002 * area:
        doubts.append(f"a pale area without an outline {_where(pale, scale)} was taken in")
        body, tall = _joined(filled(strong | pale))
    body = body & ~_remnants(body & ~tall, drawn & ~marks)
    loose = body & ~tall
    if loose.any():
        doubts.append(f"a part that hangs free {_where(loose, scale)} was taken in")

    plain = ~(strong | without_faint_strokes(marks & ~strong))
    opened, closed = open_gaps(body, plain, lab, paper.even)
    for gap in opened:
        doubts.append(
            f"an enclosed area {_where(gap, scale)} has the paper's colour; it was taken for a gap"
        )
        body = body & ~gap
    if closed is not None:
        doubts.append(
            f"an enclosed area {_where(closed, scale)} has the paper's colour; "
            "it was taken for white clothes"
        )
    return body, doubts


def strong_step(paper: Paper) -> float:
    """Return how far line work departs from the paper: Otsu (1979), held to `STRONG_STEP`."""
    levels = np.clip(paper.apart * 2.0, 0, 255).astype(np.uint8)
    otsu, _ = cv2.threshold(levels, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    return max(float(np.clip(otsu / 2.0, *STRONG_STEP)), paper.step)


def filled(marks: Bools) -> Bools:
    """Return the marks with whatever they close off from the picture's border."""
    # a gap of one pixel in an outline does not let the paper in
    page = cv2.morphologyEx(marks.view(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    page = cv2.copyMakeBorder(page, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    cv2.floodFill(page, None, (0, 0), 2, flags=4)
    return np.asarray(page[1:-1, 1:-1] != 2)


def without_faint_strokes(marks: Bools) -> Bools:
    """Return the marks without strokes as narrow as construction lines."""
    reach = max(3, round(FAINT_WIDTH_MOST * max(marks.shape))) | 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    return np.asarray(cv2.morphologyEx(marks.view(np.uint8), cv2.MORPH_OPEN, kernel) > 0)


def _joined(marks: Bools) -> tuple[Bools, Bools]:
    """Return the largest part with the smaller ones near it, and the largest alone."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(marks.view(np.uint8))
    if count < 2:
        return np.zeros_like(marks), np.zeros_like(marks)
    main = 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    tall = labels == main
    reach = LOOSE_APART_MOST * float(stats[main, cv2.CC_STAT_HEIGHT])
    keep = np.zeros(count, dtype=bool)
    keep[main] = True
    least = 2e-5 * float(stats[main, cv2.CC_STAT_HEIGHT]) ** 2
    waiting = [i for i in range(1, count) if i != main and stats[i, cv2.CC_STAT_AREA] >= least]
    if not waiting:
        return tall, tall
    away = cv2.distanceTransform((~tall).view(np.uint8), cv2.DIST_L2, 3)
    near = np.full(count, np.inf)
    np.minimum.at(near, labels[marks].astype(np.intp), away[marks])
    keep[[i for i in waiting if near[i] <= reach]] = True
    return keep[labels], tall


def _remnants(loose: Bools, ruled: Bools) -> Bools:
    """Return the loose parts that are left over from ruled lines."""
    if not (loose.any() and ruled.any()):
        return np.zeros_like(loose)
    close = cv2.dilate(ruled.astype(np.uint8), np.ones((7, 7), np.uint8)).ravel()
    _, labels = cv2.connectedComponents(loose.astype(np.uint8))
    shared = np.bincount(labels.ravel(), weights=close) / np.bincount(labels.ravel())
    shared[0] = 0.0
    return np.asarray((shared > 0.4)[labels])


def weak_parts(weak: Bools, body: Bools, lab: Singles, paper: Paper) -> tuple[Bools, Bools]:
    """Split weak parts that touch the body into pale fills and shadows."""
    pale, shadow = np.zeros_like(weak), np.zeros_like(weak)
    if not weak.any():
        return pale, shadow
    _, labels, stats, _ = cv2.connectedComponentsWithStats(weak.view(np.uint8))
    beside = cv2.dilate(body.view(np.uint8), np.ones((5, 5), np.uint8)) > 0
    for label in np.flatnonzero(np.bincount(labels[beside & weak])):
        x, y, width, height, _ = stats[label]
        box = (slice(y, y + height), slice(x, x + width))
        part = labels[box] == label
        light, red, yellow = np.median(lab[box][part] - paper.surface[box][part], axis=0)
        dull = light < 0.0 and float(np.hypot(red, yellow)) < SHADOW_CHROMA_MOST
        (shadow if dull else pale)[box][part] = True
    return pale, shadow


def _refined(found: Bools, bgr: Bytes, paper: Paper) -> Bools:
    """Return the figure at full size, its border where it is half ink and half paper."""
    height, width = bgr.shape[:2]
    factor = width / found.shape[1]
    # the border lies within a working pixel or two of where it was found
    page = found.astype(np.uint8)
    square = np.ones((3, 3), np.uint8)
    unsure = cv2.dilate(page, square) + page + cv2.erode(page, square)  # 0 paper to 3 figure
    whole = np.asarray(cv2.resize(unsure, (width, height), interpolation=cv2.INTER_NEAREST))
    refined: Bools = (whole == 3).ravel()
    at = np.flatnonzero(((whole == 1) | (whole == 2)).ravel())
    rows, columns = np.divmod(at, width)
    # the strongest mark nearby is the ink (or the fill) whose border this is
    ink = np.asarray(cv2.dilate(paper.apart, np.ones((5, 5), np.uint8)))
    near_rows = np.minimum((rows / factor).astype(np.intp), found.shape[0] - 1)
    near_columns = np.minimum((columns / factor).astype(np.intp), found.shape[1] - 1)
    half = np.maximum(ink[near_rows, near_columns] / 2.0, paper.step)
    colours = to_lab(bgr.reshape(-1, 1, 3)[at])[:, 0]
    here = np.linalg.norm(colours - paper.surface[near_rows, near_columns], axis=1)
    refined[at] = here > half
    return refined.reshape(height, width)


def _where(part: Bools, scale: float) -> str:
    rows, columns = np.nonzero(part)
    middle = len(rows) // 2  # a pixel of the part itself, which its centre need not be
    return f"near ({columns[middle] * scale:.0f}, {rows[middle] * scale:.0f})"


def _many(count: int, thing: str) -> str:
    return f"1 {thing} was" if count == 1 else f"{count} {thing}s were"

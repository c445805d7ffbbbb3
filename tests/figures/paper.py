"""The page on telling a figure from its paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache

import cv2
import numpy as np
import numpy.typing as npt

from tests.figures.constants import GAPS, PAPER, RULED_LINES
from tests.figures.sweeping import Row, tried
from tests.images.papers import CREAM, GUIDE, INK, Bytes, drawing, on_paper, ruled_across
from turncheck.images.figure_mask import figure_mask

Bools = npt.NDArray[np.bool_]

FIGURES = ("odo/three_quarter", "pim/side", "brindle/front")
FILL, OUTLINE = (60, 90, 170, 255), (40, 30, 35, 255)


# Telling line work and fills from paper


def box(width: int = 200, height: int = 400, fill: Sequence[int] = FILL, line: int = 5) -> Bytes:
    """A block of one fill with an outline, BGRA; wide margins left and right are clear."""
    page = np.zeros((height, width + 200, 4), np.uint8)
    page[:, 100:-100] = OUTLINE if line else fill
    page[line : height - line, 100 + line : -100 - line] = fill
    return page


def rough(page: Bytes, sd: float) -> Bytes:
    """The page with a scan's noise."""
    noise = np.random.default_rng(0).normal(0.0, sd, page.shape)
    return np.clip(np.rint(page + noise), 0, 255).astype(np.uint8)


def line_art(name: str, upper: float, lower: float) -> Bytes:
    """A sample drawing with paper for its fills, its lines fainter: by halves, 1 is ink."""
    pixels = drawing(name).copy()
    lines = 1.0 - np.clip((pixels[:, :, :3].max(axis=2) - 40.0) / 60.0, 0.0, 1.0)
    middle = pixels.shape[0] // 2
    lines[:middle] *= upper
    lines[middle:] *= lower
    paper = np.array(CREAM, np.float64)
    pixels[:, :, :3] = np.rint(paper + (np.array(INK) - paper) * lines[:, :, None])
    return pixels


@cache
def inked() -> list[tuple[Bytes, Bools]]:
    """Coloured drawings on papers with all kinds of things besides, and on a noisy one."""
    kinds = ("construction", "shadow", "all")
    pages = [on_paper(drawing(name), kind) for name in FIGURES[:2] for kind in kinds]
    return pages + [(rough(page, 6.0), true) for page, true in pages[-1:]]


@cache
def faint() -> list[tuple[Bytes, Bools]]:
    """Line art, all of it or half of it faint."""
    ways = ((0.2, 0.2), (0.3, 0.3), (0.5, 0.5), (0.3, 1.0), (0.5, 1.0))
    return [
        on_paper(line_art("odo/three_quarter", *how), kind)
        for how in ways
        for kind in ("construction", "clean")
    ]


@cache
def pale() -> list[tuple[Bytes, Bools]]:
    """Blocks without an outline, a little darker than an even or a noisy paper."""
    pages = []
    for less in (16, 24, 32, 48):
        page, true = on_paper(box(fill=(*(c - less for c in CREAM), 255), line=0), "clean")
        pages += [(rough(page, sd), true) for sd in (1.0, 4.0, 8.0)]
    return pages


def overlaps(pages: Iterable[tuple[Bytes, Bools]]) -> list[float]:
    """Intersection over union of the found and the true figure, a page each."""
    found = [(figure_mask(page).pixels, true) for page, true in pages]
    return [float((one & true).sum() / (one | true).sum()) for one, true in found]


def on_papers() -> Row:
    of_art, of_blocks = overlaps(faint()), overlaps(pale())
    return {
        "least overlap, coloured": f"{min(overlaps(inked())):.3f}",
        "faint line art found": f"{sum(o > 0.9 for o in of_art)} of {len(of_art)}",
        "pale blocks found": f"{sum(o > 0.95 for o in of_blocks)} of {len(of_blocks)}",
    }


# Ruled lines


@cache
def ruled() -> list[tuple[Bytes, Bools, Bools]]:
    """A drawing with lines of 1 to 8 px, sharp and soft, a little askew, in noise."""
    name, pages = "odo/three_quarter", []
    for longest, colour in ((1000, INK), (1400, GUIDE)):
        for thick in (1, 3, 6, 8):
            for blur in (0.0, 1.5):
                page, true, lines = ruled_across(
                    drawing(name), longest, thick, colour=colour, tilt=0.3, blur=blur
                )
                pages.append((rough(page, 3.0), true, lines))
    return pages


@cache
def stubs() -> list[tuple[Bytes, Bools, Bools]]:
    """A block at whose foot a line of 3 px from the page's edge ends, so many shares long."""
    pages = []
    for share in (0.15, 0.2, 0.25, 0.3, 0.4):
        true = np.zeros((1000, 1000), bool)
        left = round(share * 1000)
        true[200:900, left : left + 300] = True
        page = np.full((1000, 1000, 3), CREAM, np.uint8)
        page[true] = FILL[:3]
        line = np.zeros_like(true)
        line[880:883, 4:left] = True
        page[line] = INK
        pages.append((page, true, line))
    return pages


@cache
def poles() -> list[tuple[Bytes, Bools, Bools]]:
    """A block that holds a level pole, 0.8 to 2 % of the page thick, nearly to the page's edge."""
    pages = []
    for thick in (8, 10, 12, 16, 20):
        true = np.zeros((1000, 1000), bool)
        true[200:900, 350:650] = True
        pole = np.zeros_like(true)
        pole[400 : 400 + thick, 60:350] = True
        page = np.full((1000, 1000, 3), CREAM, np.uint8)
        page[true] = FILL[:3]
        page[pole] = INK
        pages.append((page, true | pole, pole))
    return pages


@cache
def touching() -> list[tuple[Bytes, Bools]]:
    """White blocks with an outline of 2 or 3 px that stand on an inked line."""
    pages = []
    for outline in (2, 3):
        for thick in (2, 4, 6, 8):
            true = np.zeros((1000, 1000), bool)
            true[200:900, 350:650] = True
            page = np.full((1000, 1000, 3), CREAM, np.uint8)
            page[true] = page[900 : 900 + thick] = INK
            page[200 + outline : 900 - outline, 350 + outline : 650 - outline] = CREAM
            pages.append((page, true))
    return pages


def on_ruled() -> Row:
    def gone(pages: Iterable[tuple[Bytes, Bools, Bools]]) -> int:
        count = 0
        for page, true, line in pages:
            reach = np.ones((41, 41), np.uint8)
            beside = line & (cv2.dilate((true & ~line).astype(np.uint8), reach) == 0)
            count += not figure_mask(page).pixels[beside].any()
        return count

    whole = overlaps(touching())
    return {
        "lines of 1 to 8 px gone": f"{gone(ruled())} of {len(ruled())}",
        "short lines gone": f"{gone(stubs())} of {len(stubs())}",
        "poles kept": f"{len(poles()) - gone(poles())} of {len(poles())}",
        "white blocks on a line whole": f"{sum(o > 0.95 for o in whole)} of {len(whole)}",
    }


# Gaps and white clothes


def windowed(depth: float, colour: Sequence[int]) -> Bytes:
    """A block with a window, `depth` of its height from its side, of a colour or clear."""
    page = box()
    left = 100 + round(depth * 400)
    page[120:260, max(left - 5, 100) : left + 45] = OUTLINE
    page[125:255, left : left + 40] = colour
    return page


@cache
def windows() -> list[tuple[Bytes, bool]]:
    """Windows on papers: gaps behind arms, and clothes of nearly or just the paper's colour."""
    pages = []
    for seed, kind in enumerate(("clean", "textured")):
        for depth in (0.02, 0.05, 0.08, 0.11):
            pages.append((on_paper(windowed(depth, (0, 0, 0, 0)), kind, seed)[0], True))
        for less in (-8, -6, -4, 4, 6, 8):  # of the blue: 2 to 4 in CIELAB
            fill = (CREAM[0] + less, *CREAM[1:], 255)
            pages.append((on_paper(windowed(0.06, fill), kind, seed)[0], False))
        for depth in (0.01, 0.17):  # a cuff at the very rim, a panel on the chest
            pages.append((on_paper(windowed(depth, (*CREAM, 255)), kind, seed)[0], False))
    return pages


def on_windows() -> Row:
    opened = [
        (gap, any("taken for a gap" in doubt for doubt in figure_mask(page).doubts))
        for page, gap in windows()
    ]
    gaps = sum(gap for gap, _ in opened)
    return {
        "gaps found": f"{sum(found for gap, found in opened if gap)} of {gaps}",
        "clothes taken for gaps": f"{sum(found for gap, found in opened if not gap)} of "
        f"{len(opened) - gaps}",
    }


def page() -> str:
    return f"""# The figure on its paper

## Line work and fills

Six pages of coloured drawings on papers with construction lines, shadows and all else, and one with
noise: least overlap of the found and the true figure. Ten pages of line art, all or half of it
faint (found: overlap above 0.9). Twelve blocks without outline, 16 to 48 of 255 darker than an even
or a noisy paper (found: overlap above 0.95).

{tried(on_papers, PAPER)}

`SPREADS` does not matter up to 4.5; beyond, pale blocks are lost. The lower limit of `STRONG`
trades: a lower one finds a little more faint line art and these pages show no loss, but they hold
construction lines of one strength only, so it stays; the upper one does not matter.

## Ruled lines

A drawing of 1000 and 1400 px with lines of 1, 3, 6 and 8 px, sharp and soft, in noise (gone:
nothing of them is left 20 px from the figure); lines of 15 to 40 % of the page that end at the
figure; level poles in the hand, 0.8 to 2 % of the page thick; white blocks with an outline of 2 or
3 px that stand on an inked line of 2 to 8 px.

{tried(on_ruled, RULED_LINES)}

`THICKEST` was 0.006, which missed lines of 8 px at 1000 px. `SLACK` of 2 eats the thin sole on the
line, 0 leaves scraps. `SHORTEST` only says what is taken for a line: the measure can't decide it.

## Gaps and white clothes

Blocks with a window on clean and on textured paper: clear, behind arms of 2 to 11 % of the height;
or clothes 2 to 4 in CIELAB off the paper, or just of its colour, at the rim or on the chest.

{tried(on_windows, GAPS)}

`SAME` does not matter from 1.0 to 1.9; no clothes nearer than 2 were tried.
"""

"""What the constants of finding figures, ruled lines, gaps and outlines are worth.

`python -m tests.images.sweeps` prints the tables of DEVELOPERS.md, in a few minutes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from itertools import groupby
from operator import itemgetter
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
import pandas as pd

from tests.images.papers import (
    CREAM,
    GUIDE,
    INK,
    SAMPLES,
    Bytes,
    drawing,
    on_paper,
    ruled_across,
)
from tests.images.wide_sheets import CASES, compose, sample_figures, scaled
from tests.sweeping import sweep
from turncheck.images.figure_mask import figure_mask
from turncheck.images.stroke_width import measure_strokes
from turncheck.images.wide_sheet.splitting import find_figures

Bools = npt.NDArray[np.bool_]
Figures = Mapping[str, Any]

FIGURES = ("odo/three_quarter", "pim/side", "brindle/front")
FILL, OUTLINE = (60, 90, 170, 255), (40, 30, 35, 255)
HOME = "turncheck.images"


def box(width: int = 200, height: int = 400, fill: Sequence[int] = FILL, line: int = 5) -> Bytes:
    """A block of one fill with an outline, BGRA; wide margins left and right are clear."""
    page = np.zeros((height, width + 200, 4), np.uint8)
    page[:, 100:-100] = OUTLINE if line else fill
    page[line : height - line, 100 + line : -100 - line] = fill
    return page


# Telling line work and fills from paper


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


def on_papers() -> Figures:
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


def on_ruled() -> Figures:
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


def on_windows() -> Figures:
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


# Figures of a wide sheet


@cache
def sheets() -> list[tuple[Bytes, int]]:
    """Wide sheets and how many figures they have.

    Besides the usual cases: a low cart stands last, or one view is drawn at 0.75 of the size.
    """
    made = []
    for case in ("guides", "props", "props, clear"):
        for seed in range(5):
            rng = np.random.default_rng(seed)
            sheet = compose(sample_figures(rng, 240), rng, **CASES[case])
            made.append((sheet.pixels, len(sheet.boxes)))
    for seed in range(3):
        rng = np.random.default_rng(seed)
        figures = sample_figures(rng, 240)
        cart = scaled(box(120, 110), 1.0)
        made.append((compose([*figures, cart], rng).pixels, len(figures)))
        figures[1] = scaled(figures[1], 0.75)
        made.append((compose(figures, rng).pixels, len(figures)))
    return made


def on_sheets() -> Figures:
    counts = [(len(find_figures(pixels).boxes), true) for pixels, true in sheets()]
    return {
        "counts right": f"{sum(found == true for found, true in counts)} of {len(counts)}",
        "too few": sum(found < true for found, true in counts),
        "too many": sum(found > true for found, true in counts),
    }


# Line work


@cache
def outlined() -> list[tuple[Bytes, Bools]]:
    """The sample drawings, whole and at 40 %."""
    pages = []
    for file in sorted(SAMPLES.glob("*/*.png")):
        if file.parent.name in ("odo", "pim", "brindle"):
            whole = drawing(f"{file.parent.name}/{file.stem}")
            for pixels in (whole, cv2.resize(whole, None, fx=0.4, fy=0.4, interpolation=3)):
                pages.append((pixels, pixels[:, :, 3] >= 128))
    return pages


@cache
def peeled() -> list[tuple[Bytes, Bools]]:
    """The same without the outline: fills to the border, with what is drawn within."""
    pages = []
    for pixels, figure in outlined():
        strokes = measure_strokes(pixels, figure)
        assert strokes is not None
        reach = 2 * round(1.5 * strokes.width) + 1
        kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
        less = cv2.erode(figure.astype(np.uint8), kernel) > 0
        page = pixels.copy()
        page[~less] = 0
        pages.append((page, less))
    return pages


@cache
def partly() -> list[tuple[Bytes, Bools, float]]:
    """The same with an outline on the left alone, at 10 to 50 % of the width, and its width."""
    pages = []
    for (pixels, figure), (bare, less) in list(zip(outlined(), peeled(), strict=True))[::2]:
        strokes = measure_strokes(pixels, figure)
        assert strokes is not None
        columns = np.flatnonzero(figure.any(axis=0))
        for share in (0.1, 0.2, 0.3, 0.5):
            cut = int(columns[0] + share * np.ptp(columns))
            page, mask = bare.copy(), less.copy()
            page[:, :cut], mask[:, :cut] = pixels[:, :cut], figure[:, :cut]
            pages.append((page, mask, strokes.width))
    return pages


def on_outlines() -> Figures:
    def measured(pages: Iterable[tuple[Bytes, Bools]]) -> int:
        return sum(measure_strokes(*page) is not None for page in pages)

    found = [(measure_strokes(page, mask), true) for page, mask, true in partly()]
    off = [abs(strokes.width / true - 1.0) for strokes, true in found if strokes is not None]
    return {
        "outlined: measured": f"{measured(outlined())} of {len(outlined())}",
        "partly outlined: measured": f"{len(off)} of {len(found)}",
        "width off, 90th percentile": f"{np.percentile(off, 90):.0%}" if off else "-",
        "without outline: measured": f"{measured(peeled())} of {len(peeled())}",
    }


SWEEPS: tuple[tuple[str, Sequence[Any], Callable[[], Figures]], ...] = (
    ("paper.SPREADS", (2.5, 3.5, 4.5, 6.0, 8.0), on_papers),
    (
        "onpaper.STRONG",
        ((8.0, 32.0), (12.0, 32.0), (18.0, 32.0), (24.0, 32.0), (18.0, 24.0), (18.0, 45.0)),
        on_papers,
    ),
    ("ruled.THICKEST", (0.003, 0.006, 0.008, 0.01, 0.015), on_ruled),
    ("ruled.SLACK", (0, 1, 2), on_ruled),
    ("ruled.SHORTEST", (0.1, 0.16, 0.22, 0.3, 0.4), on_ruled),
    ("gaps.SAME", (0.5, 1.0, 1.5, 1.9, 2.5, 3.5), on_windows),
    (
        "gaps.ARM",
        ((0.004, 0.12), (0.012, 0.12), (0.03, 0.12), (0.012, 0.08), (0.012, 0.16), (0.012, 0.2)),
        on_windows,
    ),
    ("splitting.TALL", (0.2, 0.4, 0.55, 0.7, 0.9), on_sheets),
    ("splitting.HEAVY", (0.0, 0.1, 0.2, 0.35, 0.5), on_sheets),
    ("strokes.LEAST_SHARE", (0.05, 0.15, 0.25, 0.4, 0.6), on_outlines),
    ("strokes.MOST_SPREAD", (0.2, 0.4, 0.6, 0.8, 1.2), on_outlines),
)


def markdown(table: pd.DataFrame) -> str:
    """A table as markdown."""
    rows = [list(table.columns), ["---"] * table.shape[1], *table.to_numpy().tolist()]
    return "\n".join(f"| {' | '.join(map(str, row))} |" for row in rows)


def main() -> None:
    for measure, group in groupby(SWEEPS, key=itemgetter(2)):
        tables = []
        for constant, values, _ in group:
            table = sweep(f"{HOME}.{constant}", values, measure)
            table.insert(0, "constant", constant)
            tables.append(table.rename(columns={constant.split(".")[1]: "value"}))
        print(f"\n{markdown(pd.concat(tables))}", flush=True)


if __name__ == "__main__":
    main()

"""The page on cutting wide sheets."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np

from tests.figures.constants import PARTS, SPLITTING, TOUCHING
from tests.figures.markdown import table
from tests.figures.paper import box
from tests.figures.sweeping import Row, tried
from tests.images.papers import Bytes
from tests.images.wide_sheets import CASES, WideSheet, compose, sample_figures, scaled
from turncheck.images.wide_sheet.splitting import Split, find_figures

SHEETS, TALL = 14, 360


def boxes_off(split: Split, sheet: WideSheet) -> int:
    """Return the largest error of a box's side, px."""
    found = [(one.left, one.top, one.right, one.bottom) for one in split.boxes]
    return int(np.abs(np.array(found) - sheet.boxes).max())


def rates() -> Iterator[Row]:
    """Counts right per case, and how far the boxes are off."""
    for case, how in CASES.items():
        off = []
        for seed in range(SHEETS):
            rng = np.random.default_rng(seed)
            sheet = compose(sample_figures(rng, TALL), rng, **how)
            split = find_figures(sheet.pixels)
            if not split.unsure and len(split.boxes) == len(sheet.boxes):
                off.append(boxes_off(split, sheet))
        yield {
            "sheet": case,
            "counted right": f"{len(off)} of {SHEETS}",
            "boxes off by up to, px": max(off),
        }


def overlapping(overlap: int, seeds: int) -> Iterator[tuple[Bytes, int]]:
    """Yield sheets whose figures overlap by so many px, and how many figures they have."""
    for seed in range(seeds):
        rng = np.random.default_rng(seed)
        figures = sample_figures(rng, TALL)
        yield compose(figures, rng, gap=(-overlap, 1 - overlap)).pixels, len(figures)


def overlaps() -> Iterator[Row]:
    """Whether it is asked how many there are, and parted right when told."""
    for overlap in (0, 3, 8, 20):
        sheets = list(overlapping(overlap, SHEETS))
        asked = sum(bool(find_figures(pixels).unsure) for pixels, _ in sheets)
        parted = sum(not find_figures(pixels, count).unsure for pixels, count in sheets)
        yield {
            "overlap, px": overlap,
            "asked": f"{asked} of {SHEETS}",
            "parted when told": f"{parted} of {SHEETS}",
        }


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


def on_sheets() -> Row:
    counts = [(len(find_figures(pixels).boxes), true) for pixels, true in sheets()]
    return {
        "counts right": f"{sum(found == true for found, true in counts)} of {len(counts)}",
        "too few": sum(found < true for found, true in counts),
        "too many": sum(found > true for found, true in counts),
    }


@cache
def with_parts() -> list[WideSheet]:
    """Return sheets with props, tufts of hair and lettering beside the figures."""
    made = []
    for case in ("labels", "guides", "props", "props, clear"):
        for seed in range(3):
            rng = np.random.default_rng(seed)
            made.append(compose(sample_figures(rng, 240), rng, **CASES[case]))
    return made


def on_parts() -> Row:
    """Whose boxes hold all that is the figure's, and nothing else."""
    right, off = 0, []
    for sheet in with_parts():
        split = find_figures(sheet.pixels)
        if len(split.boxes) == len(sheet.boxes):
            right += not split.unsure
            off.append(boxes_off(split, sheet))
    return {
        "counts right": f"{right} of {len(with_parts())}",
        "boxes within 4 px": f"{sum(each <= 4 for each in off)} of {len(off)}",
        "largest error, px": max(off),
    }


@cache
def touching() -> list[tuple[Bytes, int]]:
    return [one for overlap in (0, 3, 8) for one in overlapping(overlap, 4)]


@cache
def apart() -> list[tuple[Bytes, int]]:
    """Return sheets on which no figures touch."""
    made = []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        figures = sample_figures(rng, TALL)
        made.append((compose(figures, rng).pixels, len(figures)))
    return made


def on_touching() -> Row:
    """Whether touching figures are asked about and parted, and single ones left alone."""
    asked = sum(bool(find_figures(pixels).unsure) for pixels, _ in touching())
    parted = sum(not find_figures(pixels, count).unsure for pixels, count in touching())
    left = sum(not find_figures(pixels).unsure for pixels, _ in apart())
    return {
        "touching: asked": f"{asked} of {len(touching())}",
        "touching: parted when told": f"{parted} of {len(touching())}",
        "apart: not asked": f"{left} of {len(apart())}",
    }


def page() -> str:
    return f"""# Wide sheets

Figures of the samples, 360 px tall, 14 sheets of each kind: on clear, flat, uneven and textured
ground, with labels, guides, props, frames, shadows, pale paints, gaps of 5 and 15 px.

{table(rates())}

A prop that hangs free between two figures takes a box far off. Figures that overlap:

{table(overlaps())}

## What is a figure

With guides, with props (on paper and clear), with a low cart beside the figures, with one view at
0.75 of its size.

{tried(on_sheets, SPLITTING)}

## Whose a part is

12 sheets with lettering, guides, props and tufts of hair that do not touch their figure.

{tried(on_parts, PARTS)}

`REACH` and `FAR` do not matter here. A `NEAR` of 0.06 keeps more tufts of hair whole; lettering
that stands nearer than these sheets have it would come along, so it stays.

## Where figures touch

12 sheets whose figures touch or overlap by 3 or 8 px, and 8 on which they do not.

{tried(on_touching, TOUCHING)}

Neither matters within these bounds.
"""

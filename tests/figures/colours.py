"""The page on fills and paints."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np
import numpy.typing as npt

from tests.figures.constants import COLOURS, FILLS
from tests.figures.markdown import table
from tests.figures.sweeping import Row, tried
from tests.images.papers import Bytes, drawing, on_paper
from tests.simulations import test_palette_rates as simulated
from tests.simulations.test_palette_rates import SHEETS, as_drawn, through_jpeg
from turncheck.images.colour import differences
from turncheck.images.flat_colours import LINE_LIGHTNESS_MOST, find_fills
from turncheck.images.paper.paper import to_lab

Bools = npt.NDArray[np.bool_]


def rates() -> Iterator[Row]:
    for seen in (as_drawn, through_jpeg):
        found = [row for name in SHEETS for row in simulated.clean(name, seen)]
        judged = [row.verdict for row in found if row.verdict != "not_measured"]
        for apart in (1.0, 2.0, 3.0, 5.0, 8.0, 12.0):
            named = [simulated.repainted(name, seen, k, apart) for name in SHEETS for k in range(5)]
            yield {
                "drawings": seen.__name__.replace("_", " "),
                "clean rows": len(judged),
                "off model": judged.count("off_model"),
                "undecided": judged.count("undecided"),
                "painted apart": f"{apart:g}",
                "named": f"{sum(named)} of {len(named)}",
            }


def repainting() -> Row:
    """Rows on clean sheets, and fills named that are painted over, seen through JPEG."""
    rows = [
        row.verdict
        for seen in (as_drawn, through_jpeg)
        for name in SHEETS
        for row in simulated.clean(name, seen)
    ]

    def named(numbers: range, apart: float) -> int:
        return sum(
            simulated.repainted(name, through_jpeg, number, apart)
            for name in SHEETS
            for number in numbers
        )

    large, small = range(4), range(5, 9)
    return {
        "on model": rows.count("on_model"),
        "undecided": rows.count("undecided"),
        "off model": rows.count("off_model"),
        **{f"large, {apart:g} apart": named(large, apart) for apart in (3.0, 8.0, 12.0)},
        **{f"small, {apart:g} apart": named(small, apart) for apart in (5.0, 8.0, 12.0)},
    }


PAPERS = ("clear", "white", "textured", "uneven", "jpeg")
DRAWINGS = ("odo/front", "pim/front", "brindle/side")
LARGE = 0.005  # of the drawing
NEAR = 6.0  # CIEDE2000: paper and light tint a paint


@cache
def paints(name: str) -> list[tuple[float, float, float]]:
    """Return the colours (CIELAB) that cover at least `LARGE` of a sample drawing."""
    pixels = drawing(name)
    opaque = pixels[pixels[:, :, 3] == 255][:, :3]
    colours, counts = np.unique(opaque, axis=0, return_counts=True)
    large = colours[counts >= LARGE * len(opaque)]
    return [
        tuple(map(float, lab)) for lab in to_lab(large[None])[0] if lab[0] >= LINE_LIGHTNESS_MOST
    ]


def fills() -> Row:
    """How many paints are found as a fill, and how many fills as large as they are no paint."""
    row = {}
    for paper in PAPERS:
        own = total = drawn = 0
        for name in DRAWINGS:
            found = [fill for fill in find_fills(*seen_on(name, paper)) if fill.share >= LARGE]
            apart = differences([fill.lab for fill in found], paints(name))
            near = apart.min(axis=1) <= NEAR
            own += len(set(apart.argmin(axis=1)[near]))
            total, drawn = total + len(found), drawn + len(paints(name))
        row[paper] = f"{own} of {drawn}, {total - own} more"
    return row


@cache
def seen_on(name: str, paper: str) -> tuple[Bytes, Bools]:
    pixels = drawing(name)
    return (pixels, pixels[:, :, 3] == 255) if paper == "clear" else on_paper(pixels, paper)


def page() -> str:
    return f"""# Colours

The sample sheets, as drawn and through JPEG (quality 85); in one drawing one of the five largest
fills is painted over:

{table(rates())}

The tolerance is 2.3 (CIEDE2000). Beyond 10 a fill is another paint, unless it fills the place of
the one that its drawing alone lacks; it is then named as missing or extra where turning can't have
hidden it, and left undecided elsewhere.

## Which fill is which

Verdicts of clean sheets (drawn and through JPEG), then how many of 12 fills are named that are
painted over, seen through JPEG, among the four largest and the sixth to ninth.

{tried(repainting, COLOURS)}

A wider `DELTA_E_SAME_PAINT` or `DELTA_E_SAME_SMALL` and a smaller `FILL_SHARE_SMALL` take one paint
for another on clean sheets; `FILL_SHARE_OWN_PAINT` below 0.004 only adds rows of tiny fills, above
it makes false ones. `DELTA_E_SAME_SMALL` does as well from 1.5 to 5. `PLACE_OVERLAP_LEAST` and
`PLACE_AS_LARGE` call no clean sheet off model at any value here; the first is held well above
chance all the same, since what only the back shows may lie as high as what it hides.

## What is one fill

The front of Odo and Pim and Brindle's side, clear and on papers: how many of their colours that
cover 0.5 % or more are found as a fill, and how many fills as large are none of them.

{tried(fills, FILLS)}

`REACH_EVEN` is for drawings without grain: 1 splits fills that light changes, from 3 on paints of
one hue become one. `REACH_GRAINY` is for the others: 2 splits fills, 8 loses a fifth of the paints.
3.5 finds two paints more here than 5, with one splinter more at most: too few drawings to move it.
"""

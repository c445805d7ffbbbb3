"""The page on finding dots."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import numpy as np

from tests.figures.constants import DOTS
from tests.figures.markdown import table
from tests.figures.sweeping import Row, tried
from tests.images.discs import code_of, disc_drawing, jpeg
from tests.images.papers import Bytes
from turncheck.images.dots import find_dots, lab_of

DISCS, FEW = 40, 15
ACROSS, UNDER = "a line across", "an outline under"
KINDS = tuple(
    f"{saved}{over}"
    for saved in ("PNG", "JPEG")
    for over in ("", f", {ACROSS}", f", {ACROSS}, {UNDER}")
)


@cache
def discs(kind: str, radius: int) -> list[tuple[Bytes, tuple[float, float], str]]:
    """Return drawings with a disc, its centre and its colour."""
    made = []
    for seed in range(DISCS):
        rng = np.random.default_rng([seed, radius])
        pixels, at, colour = disc_drawing(rng, radius, line=ACROSS in kind, outline=UNDER in kind)
        made.append((jpeg(pixels) if "JPEG" in kind else pixels, at, code_of(colour)))
    return made


def found(kind: str, radius: int, most: int = DISCS) -> tuple[list[float], int]:
    """Return the errors of centres found without doubt, px, and how many discs are lost."""
    off, lost = [], 0
    for pixels, (x, y), colour in discs(kind, radius)[:most]:
        dots = find_dots(pixels, [lab_of(colour)])
        lost += not dots
        off += [value for dot in dots if not dot.doubt for value in (dot.x - x, dot.y - y)][:2]
    return off, lost


def rms(off: list[float]) -> str:
    return f"{np.sqrt(np.mean(np.square(off))):.2f}" if off else "–"


def rates() -> Iterator[Row]:
    for kind in KINDS:
        row = {"drawing": kind}
        for radius in (2, 3, 4, 5, 6, 8, 10, 12):
            off, lost = found(kind, radius)
            row[f"r {radius}"] = rms(off) + (f" ({lost})" if lost else "")
        yield row


def with_constants() -> Row:
    """Errors and losses with both lines, and with a fill nearly of the disc's colour."""
    row = {}
    for saved in ("PNG", "JPEG"):
        cells = [found(f"{saved}, {ACROSS}, {UNDER}", radius, FEW) for radius in (4, 8)]
        row[f"{saved}: RMS, px"] = rms([value for errors, _ in cells for value in errors])
        row[f"{saved}: lost"] = f"{sum(lost for _, lost in cells)} of {FEW * len(cells)}"
    off, _ = found(f"JPEG, {ACROSS}", 6)
    row["JPEG, line, r 6: sure"] = f"{len(off) // 2} of {DISCS}"
    row["JPEG, line, r 6: RMS, px"] = rms(off)
    off, lost = [], 0
    for pixels, (x, y), colour in alike():
        dots = find_dots(pixels, [lab_of(colour)])
        lost += not dots
        off += [value for dot in dots if not dot.doubt for value in (dot.x - x, dot.y - y)][:2]
    row["fill nearly alike: RMS, px"] = rms(off)
    row["fill nearly alike: lost"] = f"{lost} of {len(alike())}"
    sure = [
        float(np.hypot(dot.x - x, dot.y - y))
        for pixels, (x, y), colour in half_covered()
        for dot in find_dots(pixels, [lab_of(colour)])
        if not dot.doubt
    ]
    row["covered: sure"] = f"{len(sure)} of {len(half_covered())}"
    row["off by over 0.5 px"] = sum(off > 0.5 for off in sure)
    return row


@cache
def half_covered() -> list[tuple[Bytes, tuple[float, float], str]]:
    """Return discs of which another part covers 20 to 70 % of the diameter."""
    made = []
    for radius in (4, 8, 12):
        for covered in (0.2, 0.3, 0.4, 0.5, 0.6, 0.7):
            for seed in range(5):
                rng = np.random.default_rng([seed, radius])
                pixels, at, colour = disc_drawing(rng, radius, covered=covered)
                made.append((jpeg(pixels) if seed % 2 else pixels, at, code_of(colour)))
    return made


@cache
def alike() -> list[tuple[Bytes, tuple[float, float], str]]:
    """Return discs on a fill that differs from them by 20 to 40 of 255 in each channel."""
    made = []
    for seed in range(FEW):
        rng = np.random.default_rng(seed)
        disc = tuple(int(c) for c in rng.integers(60, 200, 3))
        below = tuple(int(c + s) for c, s in zip(disc, rng.integers(20, 41, 3), strict=True))
        pixels, at, colour = disc_drawing(rng, 6.0, fill=below, disc=disc)
        made.append((pixels, at, code_of(colour)))
    return made


def page() -> str:
    return f"""# Dots

40 discs a cell: RMS error of the centre in px, how many are lost in brackets; lines of 3 px,
JPEG of quality 85.

{table(rates())}

## How near a pixel's colour must be to a disc's

Each of `COLOUR_APART_STEPS` is tried in turn, in every CIELAB channel of 8 bit. Drawings with both
lines, radii 4 and 8, 15 discs each; 40 of radius 6 with a line across; then 15 of radius 6 on a
fill that differs by 20 to 40 of 255 in each channel.

{tried(with_constants, DOTS)}

Without the closest of them a disc on a fill of nearly its colour is never found; without the widest
those that JPEG spoils are lost. 12 serves neither alone. The last columns are
discs of radius 4, 8 and 12 of which another part covers 20 to 70 % of the diameter: what is left of
one that is half covered fits a smaller circle as well. Beyond `RIM_GAP_MOST` it is unsure, unless
it is so small that a line across hides as much: a line of 5 px and `BLUR_WIDTH`.
"""

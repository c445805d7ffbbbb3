"""The figures on cutting sheets and centring dots that DEVELOPERS.md quotes.

python -m tests.images.rates         # both, a few minutes
python -m tests.images.rates split
python -m tests.images.rates dots
"""

from __future__ import annotations

import sys

import numpy as np

from tests.images.discs import code_of, disc_drawing, jpeg
from tests.images.wide_sheets import CASES, compose, sample_figures
from turncheck.images.dots import find_dots, lab_of
from turncheck.images.wide_sheet.splitting import find_figures

SHEETS, TALL, DISCS = 14, 360, 40


def boxes_off(split, truth):
    """The largest error of a box's side, px."""
    found = [(box.left, box.top, box.right, box.bottom) for box in split.boxes]
    return int(np.abs(np.array(found) - truth).max())


def split_rates():
    """Counts right per case, and how far the boxes are off."""
    for case, how in CASES.items():
        off = []
        for seed in range(SHEETS):
            rng = np.random.default_rng(seed)
            sheet = compose(sample_figures(rng, TALL), rng, **how)
            split = find_figures(sheet.pixels)
            if not split.unsure and len(split.boxes) == len(sheet.boxes):
                off.append(boxes_off(split, sheet.boxes))
        print(f"{case:14} right {len(off)} of {SHEETS}, boxes off by up to {max(off)} px")
    for overlap in (0, 3, 8, 20):
        asked, told = 0, 0
        for seed in range(SHEETS):
            rng = np.random.default_rng(seed)
            figures = sample_figures(rng, TALL)
            sheet = compose(figures, rng, gap=(-overlap, 1 - overlap))
            asked += bool(find_figures(sheet.pixels).unsure)
            told += not find_figures(sheet.pixels, len(figures)).unsure
        print(f"overlap {overlap:2} px: asked {asked}, right when told {told} of {SHEETS}")


def dot_rates():
    """RMS error of the centres, and how many discs are lost or doubtful."""
    for kind in ("PNG", "PNG line", "PNG outline line", "JPEG", "JPEG line", "JPEG outline line"):
        for radius in (2, 3, 4, 5, 6, 8, 10, 12):
            off, lost, doubtful = [], 0, 0
            for seed in range(DISCS):
                rng = np.random.default_rng([seed, radius])
                pixels, (x, y), colour = disc_drawing(
                    rng, radius, line=" line" in kind, outline="outline" in kind
                )
                pixels = jpeg(pixels) if "JPEG" in kind else pixels
                found = find_dots(pixels, [lab_of(code_of(colour))])
                sure = [dot for dot in found if not dot.doubt]
                lost += not found
                doubtful += bool(found) and not sure
                off += [value for dot in sure[:1] for value in (dot.x - x, dot.y - y)]
            rms = f"{np.sqrt(np.mean(np.square(off))):.3f} px" if off else "none"
            print(f"{kind:18} r = {radius:2}: RMS {rms}, lost {lost}, doubtful {doubtful}")


if __name__ == "__main__":
    wanted = sys.argv[1:] or ["split", "dots"]
    if "split" in wanted:
        split_rates()
    if "dots" in wanted:
        dot_rates()

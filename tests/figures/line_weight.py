"""The page on line weight."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from itertools import combinations

import cv2
import numpy as np
import numpy.typing as npt

from tests.figures.constants import LINE_WORK, WEIGHTS
from tests.figures.markdown import table
from tests.figures.sweeping import Row, tried, value_of
from tests.images.papers import SAMPLES, Bytes, drawing, on_paper, stroked
from tests.simulations.test_palette_rates import SHEETS, views_of
from turncheck.images.stroke_width import Strokes, measure_strokes

Bools = npt.NDArray[np.bool_]

PAPERS = ("white", "textured", "uneven", "jpeg")
(LEAST_SD,) = WEIGHTS


@cache
def strokes(name: str, view: str, paper: str) -> Strokes:
    """Return the outline of a sample drawing on a paper."""
    found = measure_strokes(*on_paper(drawing(f"{name}/{view}"), paper))
    assert found is not None
    return found


def biases() -> Iterator[Row]:
    """How much wider strokes of known width are measured, px."""
    silhouette = drawing("odo/side")[:, :, 3]
    for soft in (0.0, 0.5, 0.8, 1.2):
        for fill in (80.0, 127.0, 200.0):
            row = {"soft, px": f"{soft:g}", "fill": f"{fill:g}"}
            for width in (2.0, 2.4, 3.0, 3.6, 4.8, 7.0, 12.0):
                page, figure = stroked(silhouette, 700, width, fill)
                page = cv2.GaussianBlur(page, (0, 0), soft) if soft else page
                found = measure_strokes(page, figure)
                row[f"{width:g} px"] = f"{found.width - width:+.2f}" if found else "-"
            yield row


def weights() -> Row:
    """Differences of stroke width that are due to nobody's brush."""
    same, other = [], []
    for name in SHEETS:
        views = views_of(name)
        for view in views:
            one, *again = (strokes(name, view, paper) for paper in PAPERS)
            same += [_weight_z(one, two) for two in again]
        pairs = combinations([strokes(name, view, PAPERS[0]) for view in views], 2)
        other += [_weight_z(one, two) for one, two in pairs]
    return {
        "one drawing on two papers": f"{np.mean(np.array(same) <= 1.96):.0%} of {len(same)}",
        "two drawings of a sheet": f"{np.mean(np.array(other) <= 1.96):.0%} of {len(other)}",
    }


def _weight_z(one: Strokes, two: Strokes) -> float:
    sds = [each.width_sd for each in (one, two)]
    return abs(one.width - two.width) / float(np.hypot(*np.hypot(sds, value_of(LEAST_SD))))


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


def on_outlines() -> Row:
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


def page() -> str:
    return f"""# Line weight

## How true a width is

A silhouette 700 px tall with a stroke of known width inside its edge, ink of luma 36, blurred by a
Gaussian as by scanning or resizing: measured minus true width, px.

{table(biases())}

Without allowing for softness a stroke of 3 px reads 0.30 px wider at 0.8 px, and one 20 % thicker
as 13 %. Under 3 px and beyond 0.8 px a fill as dark as 80 leaves too little to tell.

## How sure a width is

Share of differences within 1.96 uncertainties, of stroke widths that differ by nobody's brush;
sample drawings.

{tried(weights, WEIGHTS)}

Paper and JPEG alone would need 0.05 px; drawings of one sheet need 0.1.

## Whether there is line work

The 13 sample drawings whole and at 40 %; the 13 with the outline left at the left 10 to 50 % of
their width only, and how far the width is off; all 26 with the outline peeled off.

{tried(on_outlines, LINE_WORK)}

`SEEN_SHARE_LEAST` does not matter from 0.05 to 0.4: the spread alone turns unlined drawings away,
from 0.2 to 0.8 alike.
"""

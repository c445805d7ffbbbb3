"""Features of drawings that nobody drew: an outline of a width, and fills of given colours."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from turncheck.images.features import ImageFeatures
from turncheck.images.flat_colours import Fill
from turncheck.images.paper.paper import to_lab
from turncheck.images.stroke_width import Strokes

COAT, SKIN, BOOTS, BADGE = "#2f6f78", "#f0b98d", "#6b4230", "#b8452f"
SHARES: Mapping[str, float] = {COAT: 0.6, SKIN: 0.2, BOOTS: 0.15, BADGE: 0.005}


def stroke(width: float, spread: float = 0.1) -> Strokes:
    return Strokes(width=width, spread=spread, pieces=50, share=0.9)


NOWHERE = (math.nan, math.nan)


def fill(colour: str, share: float, sd: float = 0.2, rows: tuple[float, float] = NOWHERE) -> Fill:
    """A fill of a hexadecimal colour, at a place that tells which it is."""
    bgr = [int(colour[i : i + 2], 16) for i in (5, 3, 1)]
    light, a, b = to_lab(np.array(bgr, np.uint8).reshape(1, 1, 3))[0, 0]
    at = (float(bgr[2]), float(bgr[1]))
    return Fill(lab=(float(light), float(a), float(b)), share=share, at=at, sd=sd, rows=rows)


def fills(changes: Mapping[str, str | None] | None = None) -> tuple[Fill, ...]:
    """The usual fills, some painted otherwise or (None) not seen."""
    named = {colour: (changes or {}).get(colour, colour) for colour in SHARES}
    return tuple(fill(seen, SHARES[own]) for own, seen in named.items() if seen is not None)


def features_with(strokes: Strokes | None, painted: Sequence[Fill]) -> ImageFeatures:
    return ImageFeatures(
        width=1000,
        height=1500,
        found_by="alpha",
        doubts=(),
        left=np.full(1500, np.nan),
        right=np.full(1500, np.nan),
        contours=(),
        area=0,
        strokes=strokes,
        fills=tuple(painted),
    )


def drawn(
    views: Iterable[str],
    widths: Mapping[str, float | None] | None = None,
    painted: Mapping[str, Sequence[Fill]] | None = None,
) -> dict[str, ImageFeatures]:
    """Features of drawings: 7 px outlines and the usual fills unless told otherwise."""
    features = {}
    for view in views:
        width = (widths or {}).get(view, 7.0)
        strokes = None if width is None else stroke(width)
        features[view] = features_with(strokes, (painted or {}).get(view, fills()))
    return features

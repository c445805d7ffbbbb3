"""Points and drawings that have parted: exported at another size, flipped or exchanged since.

The points that are seen lie on the figure, and its ground at the lowest of it. What lies off it
everywhere alike is no matter of a drawing.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from turncheck.geometry.measurement import Measurement
from turncheck.images.features import ImageFeatures
from turncheck.mistakes.slip import Slip, does, named

#: Shares of the figure's height. A ground is this far above its lowest point everywhere, and alike
#: to within the second, before it is doubted; common practice, no source.
RAISED_LEAST = 0.015
ALIKE = 0.007
#: Cloth and shadows may reach below the soles in every drawing, feet may not: their points lie this
#: far below the ground in most, as a share of the figure's height; common practice, no source.
FEET_BELOW = 0.003
#: How much larger or smaller the points are, as a share, before another export is told; common
#: practice, no source.
RESIZED_LEAST = 0.012
#: Points lie off the figure by this share of its height, on the mean of those seen, before another
#: picture is looked for, and on that by no more than a quarter as much; common practice, no source.
POINTS_OFF_LEAST = 0.0025
MUCH_BETTER = 0.25
#: About an eye, within this share of the figure's height, so much of a drawing is drawn on; common
#: practice, no source.
EYE_REACH = 0.02
EYE_DRAWN_LEAST = 0.4
#: Where the eyes should be another picture shows so much less of that than theirs; common practice,
#: no source.
EYE_GONE_MOST = 0.4


def find_parted_drawings(measured: Measurement) -> Iterator[Slip]:
    """Yield drawings that were flipped, or exchanged, since their points were placed."""
    drawn = [(v, one) for v, one in enumerate(measured.features) if one.area]
    own = {v: _off(measured, v, one) for v, one in drawn}
    flipped = tuple(
        measured.views[v]
        for v, one in drawn
        if own[v] >= POINTS_OFF_LEAST
        and _off(measured, v, one, flipped=True) < MUCH_BETTER * own[v]
    )
    if flipped:
        it = does(flipped, "it", "them")
        yield Slip(
            "flipped_since",
            f"The points on {named(flipped)} lie on the mirror image of the figure: the "
            f"{does(flipped, 'drawing was', 'drawings were')} flipped since; flip {it} back, or "
            "place the points again",
            flipped,
            is_of_files=True,
        )
    for (v, one), (w, other) in combinations(drawn, 2):
        views = measured.views[v], measured.views[w]
        here = (own[v] + own[w]) / 2.0
        if {*views} & {*flipped}:
            continue
        beside = here >= POINTS_OFF_LEAST and (
            _off(measured, v, other) + _off(measured, w, one) < MUCH_BETTER * 2.0 * here
        )
        if beside or _eyes_on(measured, v, w) or _eyes_on(measured, w, v):
            yield Slip(
                "files_exchanged",
                f"The points on {named(views)} lie on each other's figure: the two files were "
                "exchanged since; exchange them in the sheet",
                views,
                is_of_files=True,
            )


def _eyes_on(measured: Measurement, v: int, w: int) -> bool:
    """Whether the eyes that drawing v alone shows are missing on it, and drawn on w at their place.

    An outline may be its own mirror image, front and back; a face is not behind.
    """
    seen = ~measured.hidden & np.isfinite(measured.x)
    eyes = measured.columns(*measured.sheet.vocabulary.eyes)
    if len(eyes) < 2 or not seen[v, eyes].all() or seen[w, eyes].any():
        return False
    reach = EYE_REACH * (measured.features[v].bottom - measured.features[v].top)

    def drawn_on(drawing: int) -> float:
        detail = measured.features[drawing].detail
        spots = zip(measured.x[v, eyes], measured.y[v, eyes], strict=True)
        return float(np.mean([detail.share(x, y, reach) for x, y in spots]))

    own = drawn_on(v)
    if own > EYE_GONE_MOST:  # of no other can more than all be drawn on
        return False
    other = drawn_on(w)
    return other >= EYE_DRAWN_LEAST and own <= EYE_GONE_MOST * other


def find_another_export(measured: Measurement) -> Iterator[Slip]:
    """Yield that all points are of drawings at another size, or their ground is too high."""
    drawn = measured.features
    ground = measured.y[:, measured.landmarks.index("ground")]
    if len(drawn) < 2 or not all(one.area for one in drawn):
        return
    bottom, top = (np.array([getattr(one, at) for one in drawn]) for at in ("bottom", "top"))
    above = (bottom - ground) / (bottom - top)
    larger = (ground + 0.5) / (bottom + 0.5)
    off = float(np.median(larger)) - 1.0
    across = _larger_across(measured) - 1.0
    if np.ptp(larger) < ALIKE and abs(off) > RESIZED_LEAST and abs(across - off) < abs(off) / 2.0:
        yield Slip(
            "another_size",
            f"All points lie where they would at {100.0 * (1.0 + off):.0f} % of these drawings' "
            "size: the drawings were exported at another size since; export them as they were, or "
            "place the points again",
            measured.views,
        )
    elif above.min() > RAISED_LEAST and np.ptp(above) < ALIKE and _feet_below(measured):
        px = float(np.median(bottom - ground))
        yield Slip(
            "ground_high",
            f"The ground lies some {px:.0f} px above the lowest of the figure in every drawing; "
            "place it on the line the soles stand on",
            measured.views,
        )


def _feet_below(measured: Measurement) -> bool:
    """Whether points of the body lie below the ground, in most drawings."""
    ground = measured.y[:, measured.landmarks.index("ground")]
    lowest = (np.nanmax(measured.y, axis=1) - ground) / (measured.sizes * measured.figure_height)
    return bool(np.median(lowest) > FEET_BELOW)


def _off(measured: Measurement, v: int, drawn: ImageFeatures, *, flipped: bool = False) -> float:
    """Return how far outside a figure's rows the points seen on a view lie.

    The mean, as a share of the figure's height.
    """
    seen = ~measured.hidden[v] & np.isfinite(measured.x[v])
    seen[measured.landmarks.index("ground")] = False
    x, y = measured.x[v, seen, None], measured.y[v, seen, None]
    if flipped:
        x = drawn.width - 1.0 - x
    rows = np.flatnonzero(np.isfinite(drawn.left))
    beside = np.maximum(np.maximum(drawn.left[rows] - x, x - drawn.right[rows]), 0.0)
    away = np.sqrt((beside**2 + (rows - y) ** 2).min(axis=1, initial=np.inf))
    return float(away.mean() / len(rows)) if len(x) else np.nan


def _larger_across(measured: Measurement) -> float:
    """Return by how much the midline lies further from the left edge than the figure's, as a ratio.

    The median of the drawings from straight in front and behind; NaN without one.
    """
    found: list[float] = []
    for v in measured.straight_on:
        middles = [measured.x[v, pair].mean() for pair in measured.pairs]
        drawn = measured.features[v]
        if np.isfinite(middles).any():
            middle = np.nanmedian((drawn.left + drawn.right) / 2.0)
            found.append(float((np.nanmedian(middles) + 0.5) / (middle + 0.5)))
    return float(np.median(found)) if found else np.nan

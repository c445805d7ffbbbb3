"""Two drawings in each other's place, told by how far apart pairs stand in each."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from turncheck.geometry.measurement import Measurement
from turncheck.mistakes.slip import Slip, named
from turncheck.numerics.arrays import Floats
from turncheck.plain import capital

#: Pairs this far apart somewhere, % of the figure height, tell how far a body is turned, and so
#: many have to; common practice, no source.
PAIR_APART_LEAST = 3.0
PAIRS_LEAST = 3
#: How much narrower or wider than asked a drawing is that is another one, and how near it is to
#: what is asked of that, as a cosine of the yaw; common practice, no source.
WIDTH_OFF_LEAST = 0.4
WIDTH_NEAR_MOST = 0.2


def find_exchanged_drawings(measured: Measurement) -> Iterator[Slip]:
    """Yield two drawings that are each as wide as the other should be."""
    asked = np.abs([np.cos(np.radians(view.yaw)) for view in measured.sheet.views.values()])
    drawn = _narrowing(measured) * asked.max()
    for one, other in combinations(range(len(asked)), 2):
        crossed = np.abs(drawn[[one, other]] - asked[[other, one]])
        if (
            abs(asked[one] - asked[other]) > WIDTH_OFF_LEAST - WIDTH_NEAR_MOST
            and (np.abs(drawn[[one, other]] - asked[[one, other]]) > WIDTH_NEAR_MOST).all()
            and (crossed < WIDTH_NEAR_MOST).all()
        ):
            views = measured.views[one], measured.views[other]
            yield Slip(
                "drawings_exchanged",
                f"{capital(named(views))} look exchanged: each is turned as the other should "
                "be; exchange their files together with their points, or their yaws",
                views,
            )


def _narrowing(measured: Measurement) -> Floats:
    """Return (V,) how wide pairs stand in each drawing, as a share of the widest; NaN if unknown.

    Seen level that is the cosine of the yaw, without its sign.
    """
    x = measured.x / measured.sizes[:, None] * 100.0 / measured.figure_height
    wide = np.array([np.abs(x[:, one] - x[:, two]) for one, two in measured.pairs]).reshape(
        -1, len(x)
    )
    widest = np.nan_to_num(wide).max(axis=1, initial=0.0)
    share = wide[widest > PAIR_APART_LEAST] / widest[widest > PAIR_APART_LEAST, None]
    found = np.full(len(x), np.nan)
    enough = np.isfinite(share).sum(axis=0) >= PAIRS_LEAST
    found[enough] = np.nanmedian(share[:, enough], axis=0)
    return found

"""The page on who is blamed."""

from __future__ import annotations

from collections.abc import Iterator

from tests.figures.constants import MAJORITY
from tests.figures.markdown import table
from tests.figures.sweeping import Row, tried
from tests.simulations import test_blame_rates as simulated


def rates() -> Iterator[Row]:
    for views, shares in ((3, (0.1, 0.2)), (4, (0.1, 0.2)), (5, (0.1, 0.2))):
        for share in shares:
            for bad, reference in (("side", "front"), ("front", "front"), ("front", "consensus")):
                found = simulated.rates(views, share, bad, reference, 200)
                yield {
                    "views": views,
                    "drifted": f"{share:.0%}",
                    "in": bad,
                    "reference": reference,
                    "named": f"{found.found:.1%}",
                    "clean blamed": f"{found.blamed:.2%}",
                    "clean off model": f"{found.off_model:.2%}",
                }


def named() -> Row:
    """Named, and clean ones blamed: with a wide tolerance, and one finer than the placings."""
    out = {}
    for tolerance, sizes in ((1.0, (2.0, 4.0)), (0.2, (2.0, 4.0)), (0.2, (0.6, 1.2))):
        # not the remembered one: the constant has changed
        found = simulated.rates.__wrapped__(4, 0.2, "front", "front", 30, tolerance, sizes)
        kind = f"{sizes[0]:g} to {sizes[1]:g} %, tolerance {tolerance:g} %"
        out[kind] = f"{found.found:.1%}, {found.blamed:.2%}"
    return out


def page() -> str:
    return f"""# Who is blamed

The largest group of views that agree pairwise, within 2.576 standard uncertainties or the
tolerance, outvotes the rest. Drifts of 2 to 4 % H on a share of one drawing's landmarks, placing
sd 0.15 % H, sizes fitted, 200 sheets a row:

{table(rates())}

## How near views must lie to agree

Drawing named, clean placings blamed; drifts on a fifth of the front, four views, 30 sheets.

{tried(named, MAJORITY)}

With the usual tolerance it does not matter, since the tolerance is wider. With one finer than the
placings 2.576 (99 % of a normal) names most of the small drifts.
"""

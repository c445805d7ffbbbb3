"""The page on putting views on one scale of heights."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.figures.constants import HEIGHT_SCALE
from tests.figures.markdown import table
from tests.figures.sweeping import Row, tried
from tests.simulations import test_ruler_rates as simulated

KINDS = ("none", "an arm, 20 %", "20 % one way", "30 % one way", "40 % one way", "the top 25 %")


def rates() -> Iterator[Row]:
    for kind in KINDS:
        fits = simulated.height_scales(kind, 2000)
        errors = [simulated.largest_error(fit.ground, fit.scale) for fit in fits]
        yield {
            "drifted": kind,
            "95th percentile of the largest height error, % H": f"{np.percentile(errors, 95):.2f}",
            "distrusted": f"{np.mean([bool(fit.distrust) for fit in fits]):.1%}",
        }


def distrust() -> Row:
    """How many fits are distrusted, of each kind of figure."""
    return {
        f"distrusted: {kind}": f"{np.mean([bool(fit.distrust) for fit in fits]):.1%}"
        for kind, fits in ((kind, simulated.height_scales(kind, 600)) for kind in KINDS)
    }


def page() -> str:
    return f"""# Heights on one scale

Least median of squares, then Tukey's biweight (c = 4.685) on residuals over their known
uncertainty. 20 landmarks, placing sd 0.2 % of the figure height H, drifts of 1 to 4 % H, 2,000
figures a row:

{table(rates())}

What is not noticed: a quarter of the landmarks, all at one end of the figure, drifting together
(last row).

## When a fit is distrusted

When fewer than `SCALE_AGREEING_LEAST` of its landmarks lie within `SCALE_AGREES_WITHIN` standard
uncertainties. The same figures, 600 a row:

{tried(distrust, HEIGHT_SCALE)}

One with 40 % drifted should be distrusted: its heights are off by twice the error of the others.
With a share of 0.6 it is not; with 0.8 figures with 30 % drifted are, whose heights are still right
to 0.5 % H. Agreement within 2 distrusts four in ten of those too; from 2.5 to 3.5 there is little
to choose: 3 distrusts no figure with a fifth drifted in 600.
"""

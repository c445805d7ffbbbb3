"""How near the reconciled body comes to open bodies on which nothing was tuned."""

import numpy as np
import pytest

from tests.simulations.reconciled_bodies import Sheets, errors
from tests.simulations.sheet_bodies import FOUR

SHEETS = 80
CASES = {"four views": Sheets(), "three views": Sheets(views=FOUR[:3])}


@pytest.mark.parametrize("case", CASES)
def test_intervals_of_the_body_hold_as_often_as_they_say(case):
    """The rows of a sheet hang together: 80 sheets tell 95 % to about 1.5 % (one sd)."""
    for axis, rows in errors(CASES[case], SHEETS).groupby("axis"):
        of = rows[np.isfinite(rows.error)]
        assert len(of) > 0.85 * len(rows), axis
        assert 0.925 <= (of.error.abs() < 1.96 * of.sd).mean() <= 0.985, axis


def test_heights_come_nearer_than_one_placing_does():
    rows = errors(CASES["four views"], SHEETS)
    pivots = rows[(rows.axis == "Y") & rows.is_pivot]
    assert np.sqrt((pivots.error**2).mean()) <= 0.15


def test_a_pivot_that_one_drawing_has_wrong_is_outvoted():
    rows = errors(Sheets(drift=2.5), 2 * SHEETS)
    pivots = rows[(rows.axis == "Y") & rows.drifted]
    assert pivots.error.abs().quantile(0.95) <= 0.35
    assert pivots.front.abs().quantile(0.95) > 2.0  # of the front alone
    assert pivots.error.isna().mean() <= 0.05

"""How often a verdict is right, over many seeded figures on fitted height_scales.

The figures stand in tests/figures/verdicts.md.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from turncheck.geometry.guard_bands import judge
from turncheck.geometry.height_adjustment import adjust_heights

H = 1000.0
LANDMARKS = 20
SD = 0.15 / 100 * H
TOLERANCE = 1.0
SECOND = np.array([[False, True]])


@cache
def outcomes(
    true_drift: float, trials: int = 3000, every: int = 4
) -> tuple[dict[str, float], float]:
    """Share of each verdict on one drifted landmark, and of errors within 1.96 u.

    The landmark drifts by `true_drift` % of the figure height; sizes of drawings vary. Errors are
    of that one and of `every` fourth (say) landmark.
    """
    rng = np.random.default_rng(7)
    sd = np.full(LANDMARKS, SD)
    found: dict[str, int] = {}
    inside = total = 0
    for _ in range(trials):
        heights = np.sort(rng.uniform(0.0, H, LANDMARKS))
        heights[[0, -1]] = 0.0, H
        planted = np.zeros(LANDMARKS)
        at = rng.integers(1, LANDMARKS - 1)
        planted[at] = true_drift / 100 * H * rng.choice([-1.0, 1.0])
        scale = rng.uniform(0.5, 2.0)
        y = 3000.0 - scale * (heights + planted + rng.normal(0.0, SD, LANDMARKS))
        reference = 2000.0 - heights - rng.normal(0.0, SD, LANDMARKS)
        both, sds = np.array([reference, y]), np.array([sd, sd * scale])
        table = adjust_heights(both, sds, np.ones(LANDMARKS, dtype=bool), base=0, ground=0).table
        for i in {int(at), *range(0, LANDMARKS, every)}:
            drift, u = (px.item() / H * 100 for px in table.apart(SECOND, ~SECOND, [i]))
            inside += bool(abs(drift - planted[i] / H * 100) <= 1.96 * u)
            total += 1
            if i == at:
                verdict = judge(drift, u, TOLERANCE).value
                found[verdict] = found.get(verdict, 0) + 1
    return {name: n / trials for name, n in found.items()}, inside / total


def test_half_the_tolerance_is_hardly_ever_called_off_model():
    assert outcomes(0.5)[0].get("off_model", 0.0) <= 0.0007


def test_twice_the_tolerance_is_called_off_model():
    assert outcomes(2.0)[0]["off_model"] >= 0.994


def test_half_beyond_the_tolerance_is_mostly_off_and_hardly_ever_on_model():
    shares = outcomes(1.5)[0]
    assert shares["off_model"] >= 0.68
    assert shares.get("on_model", 0.0) <= 0.001


@pytest.mark.parametrize("true_drift", [0.0, 1.0, 2.0])
def test_the_stated_uncertainty_covers_95_percent_of_errors(true_drift):
    assert 0.945 <= outcomes(true_drift)[1] <= 0.98


def test_at_the_tolerance_itself_each_wrong_call_stays_near_one_in_twenty():
    shares = outcomes(1.0)[0]
    assert shares.get("off_model", 0.0) <= 0.055
    # a drift of one tolerance is not yet far enough to be left out of the fit, and pulls it a bit
    assert shares.get("on_model", 0.0) <= 0.075

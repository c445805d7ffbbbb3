"""How often the majority of the views names the drawing that drifts, and blames a clean one.

The figures stand in tests/figures/majority.md.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

from tests.simulations.figures import HEIGHTS, measured, placings, sheet
from turncheck.checks.comparing import compare_heights
from turncheck.checks.finding import Kind, Subject

NAMES = [name for name in HEIGHTS if name not in ("ground", "crown")]


@dataclass
class Rates:
    """Shares over all trials."""

    found: float
    """Planted drifts whose drawing is named."""
    blamed: float
    """Clean placings that are called the odd one out."""
    off_model: float
    """Clean placings with an off-model row against them."""


@cache
def rates(
    views: int,
    share: float,
    bad: str,
    reference: str,
    trials: int = 60,
    tolerance: float = 1.0,
    sizes: tuple[float, float] = (2.0, 4.0),
) -> Rates:
    """Plant drifts of some % on a share of one drawing's landmarks and look who is blamed."""
    rng = np.random.default_rng(11)
    found = blamed = off = planted_total = clean_total = 0
    simulated = sheet(views, reference=reference, placing="fit")
    for _ in range(trials):
        names = rng.choice(NAMES, round(share * len(HEIGHTS)), replace=False)
        drift = {(bad, n): rng.uniform(*sizes) * rng.choice([-1.0, 1.0]) for n in names}
        figure = measured(simulated, placings(simulated, rng, drift))
        for name in NAMES:
            rows = list(
                compare_heights(figure, "height", Subject(Kind.POINT, name, (name,)), tolerance)
            )
            named = {row.blame.odd_view for row in rows} - {""}
            planted = (bad, name) in drift
            found += planted and bad in named
            blamed += len(named - ({bad} if planted else set()))
            off += sum(row.verdict == "off_model" and (row.view, name) not in drift for row in rows)
            planted_total += planted
            clean_total += views - planted
    return Rates(found / planted_total, blamed / clean_total, off / clean_total)


@pytest.mark.parametrize("views", [3, 4])
@pytest.mark.parametrize("share", [0.1, 0.2])
@pytest.mark.parametrize("bad", ["front", "side"])
def test_the_drifting_drawing_is_named_and_clean_ones_are_not_blamed(views, share, bad):
    found = rates(views, share, bad, "front")
    assert found.found >= 0.988
    assert found.blamed <= 0.002


@pytest.mark.parametrize("reference", ["front", "consensus"])
def test_clean_drawings_stay_on_model_when_the_front_is_bad(reference):
    found = rates(4, 0.2, "front", reference)
    assert found.found >= 0.98
    assert found.off_model <= 0.002

"""How often the majority of the views names the drawing that drifts, and blames a clean one.

`python -m tests.simulations.test_blame_rates` prints the table of DEVELOPERS.md.
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
    reference: str = "front",
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
        body = measured(simulated, placings(simulated, rng, drift))
        for name in NAMES:
            subject = Subject(Kind.POINT, name, (name,))
            rows = list(compare_heights(body, "height", subject, tolerance))
            named = {row.blame.odd_view for row in rows if row.blame.odd_view}
            planted = (bad, name) in drift
            found += planted and bad in named
            blamed += len(named - ({bad} if planted else set()))
            off += sum(row.is_off_model and (row.view, name) not in drift for row in rows)
            planted_total += planted
            clean_total += views - planted
    return Rates(found / planted_total, blamed / clean_total, off / clean_total)


@pytest.mark.parametrize("views", [3, 4])
@pytest.mark.parametrize("share", [0.1, 0.2])
@pytest.mark.parametrize("bad", ["front", "side"])
def test_the_drifting_drawing_is_named_and_clean_ones_are_not_blamed(views, share, bad):
    shares = rates(views, share, bad)
    assert shares.found >= 0.988
    assert shares.blamed <= 0.002


def test_a_bad_reference_puts_off_model_rows_on_clean_drawings_but_is_itself_named():
    against_front = rates(4, 0.2, "front")
    assert against_front.off_model > 0.1  # what a fixed reference alone would blame
    assert against_front.blamed <= 0.002


def test_against_the_consensus_clean_drawings_stay_on_model_when_the_front_is_bad():
    shares = rates(4, 0.2, "front", "consensus")
    assert shares.found >= 0.98
    assert shares.off_model <= 0.002


def main() -> None:
    print("| views | drifted | in | reference | named | clean blamed | clean off model |")
    print("|---|---|---|---|---|---|---|")
    for views in (3, 4, 5):
        for share in (0.1, 0.2):
            for bad, reference in (("side", "front"), ("front", "front"), ("front", "consensus")):
                r = rates(views, share, bad, reference, 200)
                print(
                    f"| {views} | {share:.0%} | {bad} | {reference} | {r.found:.1%} "
                    f"| {r.blamed:.2%} | {r.off_model:.2%} |"
                )


if __name__ == "__main__":
    main()

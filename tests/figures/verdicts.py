"""The page on how often a verdict is right."""

from __future__ import annotations

from collections.abc import Iterator

from tests.figures.markdown import table
from tests.figures.sweeping import Row
from tests.simulations.test_verdict_rates import outcomes


def rates() -> Iterator[Row]:
    for drift in (0.0, 0.5, 1.0, 1.5, 2.0):
        shares, inside = outcomes(drift, 10_000, every=1)
        yield {
            "true drift, % H": drift,
            **{
                name.replace("_", " "): f"{shares.get(name, 0.0):.2%}"
                for name in ("on_model", "undecided", "off_model")
            },
            "errors within 1.96 u": f"{inside:.1%}",
        }


def page() -> str:
    return f"""# Verdicts

k = 1.645; tolerance 1.0 % H, placing sd 0.15 % H, sizes fitted, 10,000 figures a row:

{table(rates())}
"""

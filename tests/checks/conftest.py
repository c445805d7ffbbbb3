from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd
import pytest

from tests.simulations.figures import measured, placings, sheet
from turncheck.checks.register import run_checks
from turncheck.checks.table import as_table
from turncheck.geometry.measurement import Measurement
from turncheck.images.features import ImageFeatures


@pytest.fixture
def figure() -> Callable[..., Measurement]:
    """Measure a simulated figure: noise-free unless asked, with drift planted in % of H."""

    def build(
        views: int = 4,
        drift: Mapping[tuple[str, str], float] | None = None,
        change: Callable[[pd.DataFrame], pd.DataFrame] = lambda table: table,
        noise_pct: float = 0.0,
        features: Mapping[str, ImageFeatures] | None = None,
        **of: object,
    ) -> Measurement:
        simulated = sheet(views, **({"placing_sd": 0.05} | of))
        table = placings(simulated, np.random.default_rng(5), drift or {}, noise_pct)
        return measured(simulated, change(table), features)

    return build


@pytest.fixture
def rows(figure: Callable[..., Measurement]) -> Callable[..., pd.DataFrame]:
    """Findings of one check on such a figure, by (view, subject)."""

    def build(check: str, **figure_of: object) -> pd.DataFrame:
        found = as_table(run_checks(figure(**figure_of)))
        mine = found[found["check"] == check]
        return mine.set_index(["view", "subject"])

    return build

"""The verdict against the worked figures of JCGM 106:2012, the guide on conformity assessment.

The examples are from memory; their figures were computed by us and are computed here again. Only
the guide's title page was seen in stored public text.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from turncheck.geometry.guard_bands import COVERAGE, Verdict, judge

FAR = 1e4  # a tolerance so wide that only its near limit matters


@pytest.mark.parametrize(
    ("inside_by", "uncertainty", "probability"),
    [
        (-5.40 - -5.47, 0.05, 0.919),  # an upper limit
        (509.7 - 490.0, 8.6, 0.989),  # a lower limit
    ],
)
def test_at_one_limit_a_value_is_on_model_where_it_conforms_with_95_per_cent(
    inside_by, uncertainty, probability
):
    assert stats.norm.cdf(inside_by / uncertainty) == pytest.approx(probability, abs=5e-4)
    expected = Verdict.ON_MODEL if probability >= 0.95 else Verdict.UNDECIDED
    assert judge(FAR - inside_by, uncertainty, FAR) is expected


def test_within_an_interval_a_value_of_conformance_two_thirds_is_undecided():
    low, high, value, u = 12.5, 16.3, 13.6, 1.8
    probability = stats.norm.cdf((high - value) / u) - stats.norm.cdf((low - value) / u)
    assert probability == pytest.approx(0.663, abs=5e-4)
    assert judge(value - (low + high) / 2, u, (high - low) / 2) is Verdict.UNDECIDED


def limit(verdict: Verdict, uncertainty: float, tolerance: float) -> float:
    """Return the drift where `judge` stops or starts giving this verdict, by halving."""
    low, high = 0.0, tolerance + 10 * uncertainty
    for _ in range(60):
        middle = (low + high) / 2
        inner = judge(middle, uncertainty, tolerance) is verdict
        if inner == (verdict is Verdict.ON_MODEL):
            low = middle
        else:
            high = middle
    return low


@pytest.mark.parametrize(("uncertainty", "tolerance"), [(0.05, 0.5), (0.2, 1.0), (0.21, 0.75)])
def test_at_the_limits_each_wrong_call_has_one_chance_in_twenty(uncertainty, tolerance):
    accepted = limit(Verdict.ON_MODEL, uncertainty, tolerance)
    rejected = limit(Verdict.OFF_MODEL, uncertainty, tolerance)
    assert stats.norm.sf((tolerance - accepted) / uncertainty) == pytest.approx(0.05, abs=1e-4)
    assert stats.norm.sf((rejected - tolerance) / uncertainty) == pytest.approx(0.05, abs=1e-4)
    assert pytest.approx(stats.norm.ppf(0.95), abs=2e-4) == COVERAGE


# Resistors of 1500 Ω ± 0.20: the process spreads by 0.12, the measurement by 0.04.
PROCESS, MEASURING, TOLERANCE = 0.12, 0.04, 0.20
RISKS = {0.18: (0.0099, 0.0690), 0.20: (0.0189, 0.0372)}  # by the limit of acceptance


def verdicts(measured: np.ndarray, acceptance: float) -> np.ndarray:
    """Return whether `judge` accepts, its guard band being what the example leaves."""
    uncertainty = (TOLERANCE - acceptance) / COVERAGE
    return np.array([judge(m, uncertainty, TOLERANCE) is Verdict.ON_MODEL for m in measured])


@pytest.mark.parametrize("acceptance", RISKS)
def test_the_risks_of_consumer_and_producer_are_the_published_ones(acceptance):
    # Midpoints, so that no node falls on a limit.
    edges = np.linspace(-0.8, 0.8, 1601)
    nodes = (edges[1:] + edges[:-1]) / 2
    true, measured = nodes[:, None], nodes[None, :]
    density = stats.norm.pdf(true, 0, PROCESS) * stats.norm.pdf(measured, true, MEASURING)
    accepted = verdicts(nodes, acceptance)[None, :]
    conforms = np.abs(true) <= TOLERANCE
    step = (edges[1] - edges[0]) ** 2
    consumer = np.sum(density * accepted * ~conforms) * step
    producer = np.sum(density * ~accepted * conforms) * step
    assert (consumer, producer) == pytest.approx(RISKS[acceptance], abs=6e-5)


@pytest.mark.parametrize("acceptance", RISKS)
def test_drawn_resistors_are_accepted_and_rejected_as_the_integral_says(acceptance):
    rng = np.random.default_rng(20121031)
    count = 60_000
    true = rng.normal(0, PROCESS, count)
    accepted = verdicts(true + rng.normal(0, MEASURING, count), acceptance)
    conforms = np.abs(true) <= TOLERANCE
    for share, risk in zip(
        (np.mean(accepted & ~conforms), np.mean(~accepted & conforms)),
        RISKS[acceptance],
        strict=True,
    ):
        assert share == pytest.approx(risk, abs=4 * np.sqrt(risk / count))


@pytest.mark.parametrize("true", [0.5, 0.9, 1.0, 1.1, 1.5, 2.0])
def test_the_chance_of_each_verdict_is_that_of_the_normal_distribution(true):
    tolerance, uncertainty = 1.0, 0.2
    rng = np.random.default_rng(3)
    count = 20_000
    found = [judge(d, uncertainty, tolerance) for d in rng.normal(true, uncertainty, count)]
    guard = COVERAGE * uncertainty

    def chance(low: float, high: float) -> float:
        return integrate.quad(stats.norm(true, uncertainty).pdf, low, high)[0]

    expected = {
        Verdict.ON_MODEL: chance(-(tolerance - guard), tolerance - guard),
        Verdict.OFF_MODEL: chance(tolerance + guard, true + 12 * uncertainty),
    }
    for verdict, probability in expected.items():
        spread = np.sqrt(probability * (1 - probability) / count)
        assert found.count(verdict) / count == pytest.approx(probability, abs=4 * spread + 1e-4)

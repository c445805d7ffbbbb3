"""The verdict against the worked figures of JCGM 106:2012, the guide on conformity assessment.

Guards on few degrees of freedom are held against the table of Student's t that every book of
tables prints (upper 5 %; copied from memory, and computed again by scipy), distances against the
distribution of Rice as scipy has it.

The examples are from memory; their figures were computed by us and are computed here again. Only
the guide's title page was seen in stored public text.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from turncheck.geometry.guard_bands import (
    COVERAGE,
    Verdict,
    coverage,
    judge,
    judge_distance,
    largest_decidable,
    undecidable,
)

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


#: Student's t, upper 5 %, by degrees of freedom.
STUDENT_5 = {1: 6.314, 2: 2.920, 3: 2.353, 4: 2.132, 5: 2.015, 6: 1.943, 8: 1.860, 10: 1.812}
STUDENT_5 |= {15: 1.753, 20: 1.725, 30: 1.697, 60: 1.671, 120: 1.658}


@pytest.mark.parametrize("dof", STUDENT_5)
def test_the_guard_on_few_degrees_of_freedom_is_that_of_the_printed_table(dof):
    assert coverage(dof) == pytest.approx(STUDENT_5[dof], rel=1e-3)
    assert STUDENT_5[dof] == pytest.approx(stats.t.ppf(0.95, dof), abs=6e-4)


def test_the_guard_on_any_degrees_of_freedom_is_scipys():
    dof = np.geomspace(1.0, 1e6, 2000)
    found = np.array([coverage(one) for one in dof])
    assert found == pytest.approx(stats.t.ppf(0.95, dof), rel=2e-3)
    assert np.all(np.diff(found) < 0) and coverage(np.inf) == COVERAGE


@pytest.mark.parametrize("dof", [0.0, 0.5, -1.0, np.nan])
def test_less_than_one_degree_of_freedom_is_refused(dof):
    with pytest.raises(ValueError, match="degree of freedom"):
        judge(0.0, 0.1, 1.0, dof)


@pytest.mark.parametrize("dof", [1.0, 3.0, 10.0, 40.0])
def test_with_an_estimated_uncertainty_each_wrong_call_has_one_chance_in_twenty(dof):
    rng = np.random.default_rng(11)
    count, true_u = 20_000, 0.01
    drift = rng.normal(1.0, true_u, count)
    u = true_u * np.sqrt(rng.chisquare(dof, count) / dof)
    found = [judge(d, one, 1.0, dof) for d, one in zip(drift, u, strict=True)]
    for verdict in (Verdict.ON_MODEL, Verdict.OFF_MODEL):
        assert found.count(verdict) / count == pytest.approx(0.05, abs=0.005)


@pytest.mark.parametrize("ratio", [0.01, 0.1, 0.5, 1.0, 2.0, 3.54, 5.0, 20.0, 500.0])
@pytest.mark.parametrize("verdict", [Verdict.ON_MODEL, Verdict.OFF_MODEL])
def test_a_distance_is_judged_at_the_quantiles_of_rice(ratio, verdict):
    uncertainty, tolerance = 0.75 / ratio, 0.75
    quantile = stats.rice.ppf(0.05 if verdict is Verdict.ON_MODEL else 0.95, ratio) * uncertainty
    step = 1e-6 * uncertainty * (-1 if verdict is Verdict.ON_MODEL else 1)
    assert judge_distance(quantile + step, uncertainty, tolerance) is verdict
    assert judge_distance(quantile - step, uncertainty, tolerance) is Verdict.UNDECIDED


@pytest.mark.parametrize(("distance", "verdict"), [(0.75, "on_model"), (0.7501, "off_model")])
def test_a_distance_that_is_known_exactly_is_compared_as_it_is(distance, verdict):
    assert judge_distance(distance, 0.0, 0.75) == verdict


def test_fewer_degrees_of_freedom_leave_more_distances_undecided():
    assert judge_distance(0.35, 0.21, 0.75) is Verdict.ON_MODEL
    assert judge_distance(0.35, 0.21, 0.75, 3.0) is Verdict.UNDECIDED
    assert judge_distance(1.2, 0.21, 0.75) is Verdict.OFF_MODEL
    assert judge_distance(1.2, 0.21, 0.75, 3.0) is Verdict.UNDECIDED


@pytest.mark.parametrize("tolerance", [0.5, 0.75, 1.0, 4.0])
def test_a_quarter_of_perfect_drawings_is_undecided_at_the_largest_uncertainty(tolerance):
    u = largest_decidable(tolerance)
    within = (tolerance - COVERAGE * u) / u
    assert 2.0 * stats.norm.sf(within) == pytest.approx(0.25, abs=1e-4)
    assert not undecidable(u, tolerance) and undecidable(1.001 * u, tolerance)
    rng = np.random.default_rng(5)
    found = [judge(d, u, tolerance) for d in rng.normal(0.0, u, 20_000)]
    assert found.count(Verdict.UNDECIDED) / 20_000 == pytest.approx(0.25, abs=0.012)

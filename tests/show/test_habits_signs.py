"""Turning signs around, against published figures and scipy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from turncheck.show import sign_flips
from turncheck.show.sign_flips import (
    clipped,
    mean_within,
    medians,
    scores_of,
    signs_turned,
    spread_of,
)

#: Darwin's maize: how much taller the crossed plant of each pair grew, eighths of an inch, as
#: Fisher 1935, The Design of Experiments, section 21, has it (from memory).
MAIZE = np.array([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48], dtype=float)


def test_all_turns_of_fishers_example_give_his_count():
    """863 of 32,768 turns reach the sum of 314 or more (Fisher 1935, section 21; from memory)."""
    signs = signs_turned(15, most=2**14)
    sums = np.concatenate([signs @ MAIZE, -signs @ MAIZE])
    assert MAIZE.sum() == 314
    assert (len(sums), int((sums >= 314).sum())) == (32768, 863)


def test_a_sample_of_turns_gives_about_his_share():
    sums = signs_turned(15) @ MAIZE
    assert (np.abs(sums) >= 314).mean() == pytest.approx(2 * 863 / 32768, abs=0.015)


def test_shares_are_those_of_scipys_permutation_test():
    """scipy.stats.permutation_test, paired samples, all turns."""
    values = np.random.default_rng(2).normal(0.2, 0.3, 11)
    theirs = stats.permutation_test(
        (values,), np.mean, permutation_type="samples", n_resamples=np.inf, vectorized=False
    )
    sums = np.abs(signs_turned(11) @ values)
    assert (sums >= sums[0] * (1 - 1e-12)).mean() == pytest.approx(theirs.pvalue)


def test_the_largest_of_many_independent_means_is_as_large_as_sidak_says():
    """Šidák 1967, J. Am. Stat. Assoc. 62:626, with the normal quantile of scipy."""
    values = np.random.default_rng(4).normal(size=(400, 60))
    everyone = np.ones(values.shape, dtype=bool)
    parts = scores_of(values, everyone, ~everyone, spread_of(values))
    largest = np.abs(signs_turned(400) @ parts).max(axis=1)
    for share in (0.02, 0.1):
        each = 1.0 - (1.0 - share) ** (1.0 / 60)
        assert np.quantile(largest, 1.0 - share) == pytest.approx(
            stats.norm.isf(each / 2), rel=0.04
        )


def test_two_groups_without_pooling_score_as_students_pooled_t(monkeypatch):
    """scipy.stats.ttest_ind, no value clipped, each point by its own spread; large groups."""
    monkeypatch.setattr(sign_flips, "SPREAD_BELIEF", 0.0)
    monkeypatch.setattr(sign_flips, "COUNTS_TO", np.inf)
    values = np.random.default_rng(6).normal(size=(900, 3))
    own = np.repeat(np.arange(900)[:, None] < 300, 3, axis=1)
    sizes = scores_of(values, own, ~own, 1.0).sum(axis=0)
    theirs = stats.ttest_ind(values[:300], values[300:]).statistic
    assert sizes == pytest.approx(theirs, rel=0.01)


@pytest.mark.parametrize("count", [10, 30, 300])
def test_the_interval_is_students(count, monkeypatch):
    """scipy.stats.t, no value clipped."""
    monkeypatch.setattr(sign_flips, "COUNTS_TO", np.inf)
    values = np.random.default_rng(count).normal(size=count)
    theirs = stats.t.ppf(0.975, count - 1) * stats.sem(values)
    assert mean_within(values) == pytest.approx(theirs, rel=0.005)


def test_medians_are_numpys_and_nought_where_there_is_nothing():
    values = np.random.default_rng(1).normal(size=(7, 4))
    values[[0, 3], [1, 2]] = np.nan
    values[:, 3] = np.nan
    found = medians(values, np.isfinite(values))
    assert found.tolist() == [*np.nanmedian(values[:, :3], axis=0), 0.0]


def test_turning_signs_changes_no_limit():
    values = np.random.default_rng(3).standard_t(2, (20, 5))
    signs = signs_turned(20)[7][:, None]
    assert clipped(values * signs) == pytest.approx(clipped(values) * signs)

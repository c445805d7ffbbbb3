import numpy as np
import pytest

from turncheck.numerics.robust import (
    TUKEY_C,
    biweight_bends,
    biweight_losses,
    biweights,
    median_sd,
    robust_centre,
)


def test_the_slope_of_the_loss_is_twice_the_weighted_residual():
    residuals = np.linspace(-8.0, 8.0, 4001)
    slopes = np.gradient(biweight_losses(residuals, TUKEY_C), residuals)
    assert slopes == pytest.approx(2.0 * residuals * biweights(residuals, TUKEY_C), abs=2e-3)


def test_the_bend_of_the_loss_is_twice_the_weight_of_newtons_steps_where_it_bends_up():
    residuals = np.linspace(-8.0, 8.0, 4001)
    bends = np.gradient(2.0 * residuals * biweights(residuals, TUKEY_C), residuals)
    found = biweight_bends(residuals, TUKEY_C)
    assert 2.0 * found == pytest.approx(np.maximum(bends, 0.0), abs=5e-3)
    assert (found <= biweights(residuals, TUKEY_C)).all()


def test_the_median_gives_the_spread_of_normal_errors_and_hardly_minds_a_tenth_that_are_wild():
    errors = np.random.default_rng(0).normal(0.0, 2.0, 100_000)
    assert median_sd(errors) == pytest.approx(2.0, rel=0.02)
    errors[::10] = 1e6
    assert median_sd(errors) < 2.4


def test_the_centre_is_95_percent_efficient_and_not_moved_by_a_few():
    values = np.random.default_rng(1).normal(10.0, 1.0, (3000, 40))
    sd = np.ones(40)
    centres = np.array([robust_centre(row, sd)[0] for row in values])
    # Holland and Welsch 1977: the variance of the mean is 95 % of it; the trials know it to 3.5 %
    assert values.mean(axis=1).var() / centres.var() == pytest.approx(0.95, abs=0.02)
    values = values[:1000]
    values[:, :8] += 50.0
    moved = np.array([robust_centre(row, sd)[0] for row in values])
    assert abs(moved.mean() - 10.0) < 0.02


def test_where_nothing_agrees_the_centre_is_the_median_and_says_how_far_apart():
    assert robust_centre(np.array([0.0, 100.0]), np.full(2, 0.1)) == (50.0, 50.0)

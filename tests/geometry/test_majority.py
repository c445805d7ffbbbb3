import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from turncheck.geometry.majority import find_majority

few = st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=7)


def agreement(values, sd=0.1, tolerance=1.0):
    values = np.array(values, dtype=float)
    return find_majority(values, np.where(np.isnan(values), np.nan, sd), tolerance)


def test_three_against_one_name_the_one():
    assert agreement([5.0, 5.1, 8.0, 5.2]).odd.tolist() == [False, False, True, False]


def test_two_against_two_name_nobody():
    found = agreement([5.0, 5.1, 8.0, 8.1])
    assert not found.settled and not found.odd.any()
    assert found.centre == pytest.approx(6.55)


def test_views_without_a_value_do_not_vote():
    found = agreement([5.0, np.nan, 5.1, np.nan, 9.0])
    assert found.odd.tolist() == [False, False, False, False, True]
    assert np.isnan(found.drift[1])


def test_one_view_alone_settles_nothing():
    assert not agreement([5.0, np.nan, np.nan]).settled


def test_less_certain_views_may_lie_further_apart():
    values = np.array([5.0, 5.2, 7.0])
    sure = find_majority(values, np.array([0.1, 0.1, 0.1]), 1.0)
    unsure = find_majority(values, np.array([0.1, 0.1, 1.0]), 1.0)
    assert sure.odd[2] and not unsure.odd.any()


def test_the_outvoted_drift_is_from_the_majoritys_mean_and_uncertain_by_both():
    found = agreement([5.0, 5.2, 9.1])
    assert found.drift[2] == pytest.approx(4.0)
    assert found.drift_sd[2] == pytest.approx(0.1 * np.sqrt(1.0 + 0.5))
    assert found.drift_sd[0] == pytest.approx(0.1 * np.sqrt(0.5))  # it is half of that mean


@given(few, st.floats(-1e3, 1e3))
def test_lifting_all_values_changes_no_vote(values, lift):
    whole = np.round(np.array(values))  # so that lifting does not round a tie away
    assert agreement(whole).odd.tolist() == agreement(whole + np.round(lift)).odd.tolist()


@given(few, st.randoms(use_true_random=False))
def test_the_order_of_the_views_does_not_matter(values, random):
    order = list(range(len(values)))
    random.shuffle(order)
    found, shuffled = agreement(values), agreement([values[i] for i in order])
    assert found.settled == shuffled.settled
    assert found.members.sum() == shuffled.members.sum()


@given(few)
def test_a_majority_is_more_than_half(values):
    members = agreement(values).members
    assert members.sum() == 0 or members.sum() > len(values) / 2

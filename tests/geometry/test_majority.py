import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from turncheck.geometry.majority import find_majority

few = st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=7)


def agreement(values, sd=0.1, tolerance=1.0):
    values = np.array(values, dtype=float)
    return find_majority(values, sd**2 * np.eye(len(values)), tolerance)


def test_three_against_one_name_the_one():
    assert agreement([5.0, 5.1, 8.0, 5.2]).odd.tolist() == [False, False, True, False]


def test_two_against_two_name_nobody_but_the_halves():
    found = agreement([5.0, 8.0, 5.1, 8.1])
    assert not found.settled and not found.odd.any()
    assert [half.tolist() for half in found.halves] == [[True, False] * 2, [False, True] * 2]
    low, high = found.sides(0, reference=None)
    assert low.tolist() == [True, False, True, False] and high.tolist() == (~low).tolist()


def test_halves_that_do_not_agree_in_themselves_are_none():
    assert agreement([5.0, 6.5, 8.0, 9.5]).halves is None


def test_views_without_a_value_do_not_vote():
    found = agreement([5.0, np.nan, 5.1, np.nan, 9.0])
    assert found.odd.tolist() == [False, False, False, False, True]
    assert found.placed.tolist() == [True, False, True, False, True]


def test_one_view_alone_settles_nothing():
    assert not agreement([5.0, np.nan, np.nan]).settled


def test_less_certain_views_may_lie_further_apart():
    values = np.array([5.0, 5.2, 7.0])
    sure = find_majority(values, np.diag([0.01, 0.01, 0.01]), 1.0)
    unsure = find_majority(values, np.diag([0.01, 0.01, 1.0]), 1.0)
    assert sure.odd[2] and not unsure.odd.any()


def test_views_that_share_their_errors_may_lie_less_far_apart():
    values, tolerance = np.array([5.0, 5.0, 6.5]), 1.0
    alone = find_majority(values, np.eye(3), tolerance)
    shared = find_majority(values, np.eye(3) + 0.99 * (1.0 - np.eye(3)), tolerance)
    assert shared.odd[2] and not alone.odd.any()


def test_each_view_is_held_against_those_that_agree_and_never_against_itself():
    found = agreement([5.0, 5.2, 9.1])
    assert [found.sides(v, 0)[1].tolist() for v in range(3)] == [
        [False, True, False],
        [True, False, False],
        [True, True, False],
    ]


def test_where_nothing_agrees_the_reference_decides_and_without_one_all_others():
    found = agreement([5.0, 7.0, 9.0])
    assert found.sides(1, 0)[1].tolist() == [True, False, False]
    assert found.sides(1, None)[1].tolist() == [True, False, True]


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

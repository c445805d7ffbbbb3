"""The placing error against published measurements, and against an analysis of variance.

Sources:

- Ulijaszek and Kerr 1999, Br J Nutr 82:165, worked data: ten people, four observers, mm. The data
  were seen in stored public text; the technical error 3.063 mm and 0.3316 % was computed by us.
- Shrout and Fleiss 1979, Psychol. Bull. 86:420, six targets, four judges: ICC(1,1) is .17. Seen in
  stored public text; .1657 was computed by us.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from turncheck.geometry.placing_error import placing_error, placing_errors
from turncheck.geometry.placing_sd import placing_sd
from turncheck.sheet.landmark_table import Placing

HEIGHTS = np.array([
    [865, 863, 863, 864], [1023, 1023, 1027, 1025], [982, 980, 989, 985], [817, 816, 812, 817],
    [901, 894, 900, 903], [880, 876, 881, 881], [948, 947, 947, 946], [906, 905, 907, 908],
    [924, 924, 926, 924], [989, 987, 1002, 993],
], dtype=float)  # fmt: skip
RATINGS = np.array([
    [9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7],
], dtype=float)  # fmt: skip
OBSERVERS = range(4)


def test_four_observers_of_ten_people_have_the_published_error():
    found = placing_error(list(HEIGHTS))
    assert (found.tem, found.relative) == pytest.approx((3.063, 0.3316), abs=5e-4)
    assert found.repeats == 30


@pytest.mark.parametrize("pair", list(combinations(OBSERVERS, 2)))
def test_two_observers_follow_the_two_trial_formula(pair):
    first, second = HEIGHTS[:, pair[0]], HEIGHTS[:, pair[1]]
    by_hand = np.sqrt(np.sum((first - second) ** 2) / (2 * len(first)))
    assert placing_error(list(HEIGHTS[:, list(pair)])).tem == pytest.approx(by_hand)


def test_the_error_of_four_is_the_mean_of_all_pairs():
    # Half the mean squared difference of two draws is their variance.
    pairs = [placing_error(list(HEIGHTS[:, list(p)])).tem ** 2 for p in combinations(OBSERVERS, 2)]
    assert placing_error(list(HEIGHTS)).tem ** 2 == pytest.approx(np.mean(pairs))


@pytest.mark.parametrize("table", [HEIGHTS, RATINGS])
def test_the_error_is_the_root_of_the_mean_square_within_of_pandas(table):
    long = pd.DataFrame(table).stack()
    within = long.groupby(level=0).var(ddof=1).mean()
    assert placing_error(list(table)).tem == pytest.approx(np.sqrt(within))


def icc_1_1(reliability: float, targets: int, judges: int) -> float:
    """Return ICC(1,1) of a full table from 1 - MSW / (total sum of squares / (n k - 1)).

    With F = MSB / MSW the total is ((n - 1) F + n (k - 1)) MSW, and ICC(1,1) = (F - 1)/(F + k - 1).
    """
    total = (targets * judges - 1) / (1 - reliability)
    f = (total - targets * (judges - 1)) / (targets - 1)
    return (f - 1) / (f + judges - 1)


def test_the_reliability_carries_the_published_intraclass_correlation():
    # Reliability compares with the variance of all values, ICC(1,1) with that between targets:
    # other numbers, one analysis of variance, so either gives the other.
    found = placing_error(list(RATINGS)).reliability
    assert icc_1_1(found, *RATINGS.shape) == pytest.approx(0.1657, abs=5e-5)
    assert round(icc_1_1(found, *RATINGS.shape), 2) == 0.17


@pytest.mark.parametrize("table", [HEIGHTS, RATINGS])
def test_the_reliability_agrees_with_scipys_analysis_of_variance(table):
    f = stats.f_oneway(*table).statistic
    judges = table.shape[1]
    expected = (f - 1) / (f + judges - 1)
    found = placing_error(list(table)).reliability
    assert icc_1_1(found, *table.shape) == pytest.approx(expected)


def placed(observers: dict[str, int], landmark: str = "ground") -> list[Placing]:
    """Return the published heights as placings: one person measured is one drawing."""
    return [
        Placing(f"person {i}", landmark, y, y, False, np.nan, name)
        for i, values in enumerate(HEIGHTS)
        for name, column in observers.items()
        for y in [float(values[column])]
    ]


@pytest.mark.parametrize("landmark", ["ground", "knee_l"])
def test_four_people_who_place_have_the_published_error_between_them(landmark):
    # x holds the same values as y, so its error is the same; on the ground x is left out.
    found = placing_errors(
        placed(dict(zip(("ana", "ben", "cho", "dea"), OBSERVERS, strict=True)), landmark)
    )
    assert [(error.landmark, error.people) for error in found] == [
        ("", "between"),
        (landmark, "between"),
    ]
    for error in found:
        assert error.tem_px == pytest.approx(3.063, abs=5e-4)
        assert error.relative_pct == pytest.approx(0.3316, abs=5e-5)


def test_the_error_that_all_have_in_common_is_the_published_one():
    # One person measured is one drawing; 1 % of its figure height is 1 mm here.
    apart = HEIGHTS - HEIGHTS.mean(axis=1, keepdims=True)
    squares = np.sum(apart**2, axis=1, keepdims=True)
    nothing = np.full(squares.shape, np.nan)
    count = np.full(squares.shape, float(HEIGHTS.shape[1]))
    found = placing_sd(
        0.15, np.ones(len(HEIGHTS)), count, squares, np.ones(1), nothing, squares < 0
    )
    assert found.learned and found.pct == pytest.approx(3.063, abs=5e-4)
    assert found.px == pytest.approx(np.full(squares.shape, 3.063 / 2), abs=5e-4)


def test_the_same_four_as_repeats_of_one_person_are_an_error_within():
    found = placing_errors(
        placed(dict(zip(("ana", "ana#2", "ana#3", "ana#4"), OBSERVERS, strict=True)))
    )
    assert [error.people for error in found] == ["within", "within"]
    assert [error.tem_px for error in found] == pytest.approx([3.063] * 2, abs=5e-4)


def test_two_people_who_each_place_twice_have_an_error_of_their_own_and_one_between():
    # Within: the pooled pairs 1-2 and 3-4; between: the two people's means.
    errors = placing_errors(placed({"ana": 0, "ana#2": 1, "ben": 2, "ben#2": 3}))
    found = {error.people: error.tem_px for error in errors if error.landmark == "ground"}
    pairs = HEIGHTS.reshape(-1, 2)
    within = np.sqrt(np.sum(np.diff(pairs) ** 2) / (2 * len(pairs)))
    means = pairs.mean(axis=1).reshape(-1, 2)
    between = np.sqrt(np.sum(np.diff(means) ** 2) / (2 * len(means)))
    assert (found["within"], found["between"]) == pytest.approx((within, between))

"""Pairs that cost the least, against the other assignment solver of scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from scipy.optimize import linear_sum_assignment

from turncheck.geometry.assignment import cheapest_pairs

COSTS = arrays.arrays(
    np.float64,
    arrays.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=9),
    elements=st.floats(0.0, 1e6) | st.sampled_from([0.0, 1.0, 12.25]),
)


@given(COSTS)
def test_pairs_cost_as_little_as_by_the_modified_jonker_volgenant_algorithm(cost):
    # scipy.optimize.linear_sum_assignment: Crouse, IEEE Trans. Aerosp. Electron. Syst. 52 (2016)
    rows, columns = cheapest_pairs(cost)
    assert len(set(rows)) == len(set(columns)) == len(rows) == min(cost.shape)
    least = cost[linear_sum_assignment(cost)].sum()
    assert cost[rows, columns].sum() == pytest.approx(least, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("shape", [(0, 3), (3, 0)])
def test_nothing_pairs_with_nothing(shape):
    rows, columns = cheapest_pairs(np.empty(shape))
    assert len(rows) == len(columns) == 0

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from turncheck.numerics.angles import wrapped

TURNS = st.sampled_from([180.0, 360.0, 2.0 * np.pi])


@given(st.floats(-1e4, 1e4), TURNS)
def test_a_wrapped_angle_is_the_same_direction_within_half_a_turn(angle, turn):
    found = wrapped(angle, turn)
    assert -turn / 2.0 <= found <= turn / 2.0
    turns = (angle - found) / turn
    assert turns == pytest.approx(round(turns), abs=1e-9)


@given(st.integers(-20, 20))
def test_half_a_turn_is_positive_however_it_was_reached(turns):
    assert wrapped(180.0 + 360.0 * turns) == 180.0


def test_an_array_is_wrapped_one_by_one_and_nan_stays():
    found = wrapped(np.array([[270.0, -190.0], [np.nan, 0.0]]))
    assert found == pytest.approx(np.array([[-90.0, 170.0], [np.nan, 0.0]]), nan_ok=True)

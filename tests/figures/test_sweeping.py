"""A constant is tried everywhere it is used, and then put back."""

from tests.figures.sweeping import set_to, sweep, value_of
from turncheck.geometry import colour_matching, majority

CONSTANT = "geometry.majority.MAJORITY_AGREES_WITHIN"


def test_a_constant_is_set_where_it_was_imported_too_and_put_back():
    usual = value_of(CONSTANT)
    with set_to(CONSTANT, 9.0):
        assert majority.MAJORITY_AGREES_WITHIN == colour_matching.MAJORITY_AGREES_WITHIN == 9.0
    assert majority.MAJORITY_AGREES_WITHIN == colour_matching.MAJORITY_AGREES_WITHIN == usual


def test_a_sweep_marks_the_value_in_use():
    usual = value_of(CONSTANT)
    found = sweep(CONSTANT, (1.0, usual), lambda: {"twice": 2.0 * majority.MAJORITY_AGREES_WITHIN})
    assert list(found["constant"]) == [f"`{CONSTANT}`"] * 2
    assert list(found["value"]) == ["1.0", f"{usual} *"]
    assert list(found["twice"]) == [2.0, 2.0 * usual]

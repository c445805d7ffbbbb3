"""A constant is tried everywhere it is used, and then put back."""

from tests.sweeping import set_to, sweep
from turncheck.geometry import colour_matching, majority


def test_a_constant_is_set_where_it_was_imported_too_and_put_back():
    with set_to("turncheck.geometry.majority.MAJORITY_AGREES_WITHIN", 9.0):
        assert majority.MAJORITY_AGREES_WITHIN == colour_matching.MAJORITY_AGREES_WITHIN == 9.0
    assert majority.MAJORITY_AGREES_WITHIN == colour_matching.MAJORITY_AGREES_WITHIN == 2.576


def test_a_sweep_marks_the_value_in_use():
    table = sweep(
        "turncheck.geometry.majority.MAJORITY_AGREES_WITHIN",
        (1.0, 2.576),
        lambda: {"twice": 2.0 * majority.MAJORITY_AGREES_WITHIN},
    )
    assert list(table["MAJORITY_AGREES_WITHIN"]) == ["1.0", "2.576 *"]
    assert list(table["twice"]) == [2.0, 5.152]

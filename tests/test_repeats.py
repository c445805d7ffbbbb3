import numpy as np
import pandas as pd
import pytest

from tests.simulations.figures import placings, sheet
from turncheck.measuring import measure
from turncheck.repeats import own_errors, person, placing_error, placing_error_table


def repeated(spread, people=("ana", "bo", "cai", "dee"), landmark="knee_l"):
    """A sheet whose knee is placed by several people, each off by normal noise (px)."""
    rng = np.random.default_rng(8)
    table = placings(sheet(4), rng, {}, 0.0)
    knee = table[table["landmark"] == landmark]
    table = table[table["landmark"] != landmark]
    copies = [
        knee.assign(
            placed_by=who,
            x=knee["x"] + rng.normal(0, spread, len(knee)),
            y=knee["y"] + rng.normal(0, spread, len(knee)),
        )
        for who in people
    ]
    return pd.concat([table, *copies], ignore_index=True)


def test_two_placings_give_the_root_of_half_the_mean_squared_difference():
    d = np.array([3.0, -4.0, 1.0])
    groups = [np.array([10.0 * i, 10.0 * i + di]) for i, di in enumerate(d)]
    assert placing_error(groups).tem == pytest.approx(np.sqrt(np.sum(d**2) / 6))


def test_without_repeats_there_is_no_placing_error():
    with pytest.raises(ValueError, match="measured twice"):
        placing_error([np.array([1.0]), np.array([2.0])])
    assert placing_error_table(placings(sheet(3), np.random.default_rng(0), {})).empty


def test_the_table_gives_back_the_spread_that_was_put_in():
    table = placing_error_table(repeated(3.0, [f"p{i}" for i in range(60)]))
    between = table[(table["landmark"] == "knee_l") & (table["people"] == "between")]
    assert between["tem_px"].iloc[0] == pytest.approx(3.0, rel=0.08)
    assert between["repeats"].iloc[0] == 4 * 59
    assert abs(between["reliability"].iloc[0]) < 0.1  # one height in all views: all spread is error


def test_one_persons_second_placing_is_a_repeat_within():
    table = placing_error_table(repeated(2.0, ("ana", "ana#2")))
    assert set(table["people"]) == {"within"}
    assert person("ana#2") == "ana"


def test_a_landmark_with_three_repeats_brings_its_own_error():
    table = repeated(6.0)
    own = own_errors(placing_error_table(table))
    assert set(own) == {"knee_l"}
    measured = measure(sheet(4), table)
    knee, elbow = measured.columns("knee_l", "elbow_l")
    assert measured.sd[2, knee] == pytest.approx(own["knee_l"] / np.sqrt(4))
    assert measured.sd[2, elbow] == pytest.approx(1.5)


def test_fewer_repeats_leave_the_sheets_own_placing_sd():
    one = repeated(6.0, ("ana",))
    twice = one[(one["landmark"] == "knee_l") & (one["view"] == "side")].assign(placed_by="bo")
    measured = measure(sheet(4), pd.concat([one, twice], ignore_index=True))
    knee = measured.columns("knee_l")[0]
    assert measured.sd[2, knee] == pytest.approx(1.5 / np.sqrt(2))
    assert measured.sd[0, knee] == pytest.approx(1.5)


def test_repeats_are_averaged_for_checking():
    table = repeated(6.0)
    measured = measure(sheet(4), table)
    side = (table["view"] == "side") & (table["landmark"] == "knee_l")
    knee = measured.columns("knee_l")[0]
    assert measured.y[2, knee] == pytest.approx(table.loc[side, "y"].mean())

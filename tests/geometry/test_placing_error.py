import numpy as np
import pandas as pd
import pytest

from tests.simulations.figures import measured, placings, sheet
from turncheck.geometry.placing_error import (
    own_errors,
    person,
    placing_error,
    placing_error_table,
    who_differs,
)


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
    found = measured(sheet(4), table)
    knee, elbow = found.columns("knee_l", "elbow_l")
    assert found.sd[2, knee] == pytest.approx(own["knee_l"] / np.sqrt(4))
    assert found.sd[2, elbow] == pytest.approx(1.5)


def test_fewer_repeats_leave_the_sheets_own_placing_sd():
    one = repeated(6.0, ("ana",))
    twice = one[(one["landmark"] == "knee_l") & (one["view"] == "side")].assign(placed_by="bo")
    found = measured(sheet(4), pd.concat([one, twice], ignore_index=True))
    knee = found.columns("knee_l")[0]
    assert found.sd[2, knee] == pytest.approx(1.5 / np.sqrt(2))
    assert found.sd[0, knee] == pytest.approx(1.5)


def test_repeats_are_averaged_for_checking():
    table = repeated(6.0)
    found = measured(sheet(4), table)
    side = (table["view"] == "side") & (table["landmark"] == "knee_l")
    knee = found.columns("knee_l")[0]
    assert found.y[2, knee] == pytest.approx(table.loc[side, "y"].mean())


def by(who, up=0.0, right=0.0, only=None):
    """All placings of one person, off by some px."""
    table = placings(sheet(3), np.random.default_rng(0), {}, 0.0)
    table = table if only is None else table[table["landmark"].isin(only)]
    return table.assign(placed_by=who, x=table["x"] + right, y=table["y"] - up)


def test_who_places_everything_higher_is_named_with_how_much():
    found = who_differs(pd.concat([by("ana"), by("bo", up=3.0), by("bo#2", up=5.0)]))
    assert len(found) == 1
    row = found.iloc[0]
    assert (row["person"], row["other"], row["both"]) == ("ana", "bo", 3 * 20)
    assert row["up_px"] == pytest.approx(4.0) and row["right_px"] == pytest.approx(0.0)
    assert row["tem_px"] == pytest.approx(4.0 / 2.0)  # sqrt(d² / 2) up, none across, as one axis


def test_the_two_who_differ_most_come_first_with_the_place():
    third = by("cai", right=1.0)
    third.loc[(third["view"] == "side") & (third["landmark"] == "elbow_l"), "y"] += 40.0
    found = who_differs(pd.concat([by("ana"), by("bo"), third]))
    first = found.iloc[0]
    assert {first["person"], first["other"]} in ({"ana", "cai"}, {"bo", "cai"})
    assert (first["worst_view"], first["worst_landmark"]) == ("side", "elbow_l")
    assert first["worst_px"] == pytest.approx(np.hypot(40.0, 1.0))


def test_people_with_nothing_in_common_and_nameless_placings_have_no_row():
    assert who_differs(pd.concat([by("ana", only=["chin"]), by("bo", only=["mouth"])])).empty
    assert who_differs(pd.concat([by(""), by("ana")])).empty


def test_where_the_ground_is_clicked_along_its_line_does_not_count():
    found = who_differs(pd.concat([by("ana", only=["ground"]), by("bo", 0.0, 300.0, ["ground"])]))
    assert found["tem_px"].iloc[0] == 0.0

import numpy as np
import pandas as pd
import pytest

from tests.simulations import figures
from tests.simulations.figures import placings, sheet
from turncheck.geometry.placing_error import (
    people_apart,
    person,
    placing_error,
    placing_errors,
)
from turncheck.geometry.placing_sd import SHARED_DOF
from turncheck.sheet.landmark_table import Placing


def rows(*tables):
    """The placings of some tables."""
    return tuple(Placing(*row) for table in tables for row in table.itertuples(index=False))


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
    assert placing_errors(rows(placings(sheet(3), np.random.default_rng(0), {}))) == ()


def test_the_table_gives_back_the_spread_that_was_put_in():
    errors = placing_errors(rows(repeated(3.0, [f"p{i}" for i in range(60)])))
    (knee,) = [e for e in errors if (e.landmark, e.people) == ("knee_l", "between")]
    assert knee.tem_px == pytest.approx(3.0, rel=0.08)
    assert knee.repeats == 4 * 59
    assert abs(knee.reliability) < 0.1  # one height in all views: all spread is error


def test_one_persons_second_placing_is_a_repeat_within():
    errors = placing_errors(rows(repeated(2.0, ("ana", "ana#2"))))
    assert {error.people for error in errors} == {"within"}
    assert person("ana#2") == "ana"


def test_a_landmark_that_several_people_place_brings_its_own_error():
    table = repeated(6.0)
    errors = placing_errors(rows(table))
    (own,) = [error.tem_px for error in errors if error.landmark]
    measured = figures.measured(sheet(4), table)
    knee, elbow = measured.columns("knee_l", "elbow_l")
    # twelve repeats of one landmark are also all that is known of the others
    assert measured.placing.learned
    assert measured.sd[2, knee] == pytest.approx(own / np.sqrt(4))
    assert measured.sd[2, elbow] == pytest.approx(own)
    assert measured.dof("knee_l") == pytest.approx(2 * 12, rel=0.6)


def test_fewer_repeats_leave_the_sheets_own_placing_sd_to_the_other_landmarks():
    one = repeated(6.0, ("ana",))
    knee_aside = (one["landmark"] == "knee_l") & (one["view"] == "side")
    shifted = one[knee_aside].assign(placed_by="bo", x=one["x"] + 3.0)
    measured = figures.measured(sheet(4), pd.concat([one, shifted], ignore_index=True))
    knee, elbow = measured.columns("knee_l", "elbow_l")
    assert not measured.placing.learned
    own = np.sqrt((SHARED_DOF * 1.5**2 + 3.0**2 / 2) / (SHARED_DOF + 2))
    assert measured.sd[2, knee] == pytest.approx(own / np.sqrt(2))
    assert measured.sd[0, knee] == pytest.approx(own)
    assert measured.sd[2, elbow] == pytest.approx(1.5)


def test_the_error_is_in_px_of_the_base_view_where_drawings_differ_in_size():
    table = repeated(3.0, ("ana", "ana#2"))
    alike = placing_errors(rows(table))
    grown = table.copy()
    side = grown["view"] == "side"
    grown.loc[side, ["x", "y"]] *= 2.0
    found = placing_errors(rows(grown), {"side": 2.0})
    assert [e.tem_px for e in found] == pytest.approx([e.tem_px for e in alike])


def test_repeats_are_averaged_for_checking():
    table = repeated(6.0)
    measured = figures.measured(sheet(4), table)
    side = (table["view"] == "side") & (table["landmark"] == "knee_l")
    knee = measured.columns("knee_l")[0]
    assert measured.y[2, knee] == pytest.approx(table.loc[side, "y"].mean())


def by(who, up=0.0, right=0.0, only=None):
    """All placings of one person, off by some px."""
    table = placings(sheet(3), np.random.default_rng(0), {}, 0.0)
    table = table if only is None else table[table["landmark"].isin(only)]
    return table.assign(placed_by=who, x=table["x"] + right, y=table["y"] - up)


def test_who_places_everything_higher_is_named_with_how_much():
    (pair,) = people_apart(rows(by("ana"), by("bo", up=3.0), by("bo#2", up=5.0)))
    assert (pair.person, pair.other, pair.both) == ("ana", "bo", 3 * 20)
    assert pair.up_px == pytest.approx(4.0) and pair.right_px == pytest.approx(0.0)
    assert pair.tem_px == pytest.approx(4.0 / 2.0)  # sqrt(d² / 2) up, none across, as one axis


def test_the_two_who_differ_most_come_first_with_the_place():
    third = by("cai", right=1.0)
    third.loc[(third["view"] == "side") & (third["landmark"] == "elbow_l"), "y"] += 40.0
    found = people_apart(rows(by("ana"), by("bo"), third))
    first = found[0]
    assert {first.person, first.other} in ({"ana", "cai"}, {"bo", "cai"})
    assert (first.worst_view, first.worst_landmark) == ("side", "elbow_l")
    assert first.worst_px == pytest.approx(np.hypot(40.0, 1.0))
    assert [pair.tem_px for pair in found] == sorted((p.tem_px for p in found), reverse=True)


def test_people_with_nothing_in_common_and_nameless_placings_have_no_row():
    assert people_apart(rows(by("ana", only=["chin"]), by("bo", only=["mouth"]))) == ()
    assert people_apart(rows(by(""), by("ana"))) == ()


def test_where_the_ground_is_clicked_along_its_line_does_not_count():
    (pair,) = people_apart(rows(by("ana", only=["ground"]), by("bo", 0.0, 300.0, ["ground"])))
    assert pair.tem_px == 0.0

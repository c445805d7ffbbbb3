"""How tall each figure stands, on what scale, and what is a guess."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from turncheck.show.cast import line_up
from turncheck.show.record import Figure, Record


def sheet(
    name: str, height_cm: float = 0.0, heads: float | None = None, figure: Figure | None = None
) -> Record:
    return Record(name, character=name, height_cm=height_cm, heads=heads, figure=figure)


#: 200 px from crown to ground, hair above and a shoe below.
DRAWN = Figure("a.webp", width=80, height=230, crown=20.0, ground=220.0, axis=40.0)


def test_a_picture_is_as_large_as_its_figure_and_hangs_below_the_ground_as_drawn() -> None:
    (stand,) = line_up([sheet("odo", 100.0, figure=DRAWN)]).stands
    assert (stand.wide, stand.high, stand.below) == (40.0, 115.0, 5.0)
    assert stand.is_told


@pytest.mark.parametrize("crown", [220.0, 300.0])
def test_points_that_can_not_be_leave_the_picture_as_the_figure(crown: float) -> None:
    odd = Figure("a.webp", width=80, height=230, crown=crown, ground=220.0, axis=40.0)
    (stand,) = line_up([sheet("odo", 115.0, figure=odd)]).stands
    assert (stand.wide, stand.high, stand.below) == (40.0, 115.0, 0.0)


def test_heads_tell_the_size_where_no_height_is_told_and_nothing_tells_the_usual_one() -> None:
    told = [sheet("odo", 180.0, 6.0), sheet("ilse", 160.0, 5.0), sheet("marta", 170.0)]
    guessed = [sheet("pim", heads=2.75), sheet("dov")]
    stands = line_up([*told, *guessed]).stands
    assert [stand.tall for stand in stands] == [180.0, 160.0, 170.0, 85.0, 170.0]
    assert [stand.is_told for stand in stands] == [True, True, True, False, False]


def test_without_any_height_the_heads_alone_compare_and_no_line_is_in_cm() -> None:
    cast = line_up([sheet("odo", heads=6.0), sheet("pim", heads=3.0), sheet("dov")])
    odo, pim, dov = (stand.tall for stand in cast.stands)
    assert odo == 2.0 * pim
    assert pim < dov < odo
    assert cast.rule == 0.0
    assert not any(stand.is_told for stand in cast.stands)


def test_all_stand_equal_where_nothing_is_known() -> None:
    assert len({stand.tall for stand in line_up([sheet("odo"), sheet("pim")]).stands}) == 1


def test_a_misplaced_chin_makes_no_giant() -> None:
    told = [sheet("odo", 180.0, 6.0)]
    assert line_up([*told, sheet("pim", heads=600.0)]).stands[1].tall == 540.0


def test_few_stand_taller_on_the_screen_than_many() -> None:
    few, many = ([sheet(str(i), 170.0) for i in range(count)] for count in (3, 400))
    assert line_up(few).px > 1.4 * line_up(many).px


def test_a_giant_does_not_make_all_others_specks() -> None:
    cast = line_up([sheet("giant", 700.0), *(sheet(str(i), 170.0) for i in range(300))])
    assert 170.0 * cast.px > 80.0
    assert 700.0 * cast.px < 430.0


def test_nobody_stands_on_an_empty_ground() -> None:
    cast = line_up([])
    assert (cast.stands, cast.rule) == ((), 0.0)


heights = st.one_of(st.just(0.0), st.floats(0.5, 5000.0))
heads = st.one_of(st.none(), st.floats(0.5, 20.0))


@given(st.lists(st.tuples(heights, heads), min_size=1, max_size=12))
def test_told_heights_keep_their_ratio_and_lines_are_few_and_apart(
    told: list[tuple[float, float | None]],
) -> None:
    cast = line_up([sheet(str(i), height, count) for i, (height, count) in enumerate(told)])
    for (height, _), stand in zip(told, cast.stands, strict=True):
        assert stand.is_told == (height > 0.0)
        assert stand.tall == height if height else stand.tall > 0.0
    if any(height for height, _ in told):
        tallest = max(stand.tall for stand in cast.stands)
        assert 1.0 <= tallest / cast.rule <= 15.0
        assert cast.rule * cast.px == pytest.approx(round(cast.rule * cast.px))

"""What is told of a show: habits, of the right drawing and artist, and nothing where there is none.

More shows of each kind stand in tests/figures/habits.md.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.simulations.shows import (
    ARTISTS,
    LOOSE,
    USUAL,
    Noise,
    drifts_of,
    rates,
    show,
    told,
)
from turncheck.show.drifts import DriftRows, Drifts
from turncheck.show.habits import Habits, habits_in, habits_of
from turncheck.show.trend import TREND_LEAST

LOW_EYES = {"": ("side", "eye_line", -0.35)}


@pytest.mark.parametrize(
    ("shows", "characters", "how"),
    [
        (300, 10, {}),
        (150, 10, {"noise": LOOSE}),
        (100, 10, {"views": 3, "noise": Noise(tails="t3", point=0.1)}),
        (150, 30, {"noise": Noise(tails="slips"), "artists": ARTISTS}),
    ],
)
def test_shows_with_nothing_wrong_are_told_so(shows, characters, how):
    assert rates(shows, characters, **how).false <= 0.02


def test_a_habit_of_the_whole_show_is_found():
    """0.35 %: at least 67 % of shows at 10 characters, nearly all at 30."""
    assert rates(120, 10, planted=LOW_EYES).found >= 0.67
    many = rates(60, 30, planted=LOW_EYES)
    assert many.found >= 0.98
    assert many.false <= 0.02


def test_an_artists_habit_is_found_and_is_theirs():
    """0.6 %: at least 80 % of shows at 30 characters, ten of them the artist's."""
    found = rates(80, 30, planted={"Bo": ("side", "eye_line", -0.6)}, artists=ARTISTS)
    assert found.found >= 0.8
    assert found.false <= 0.025


def test_the_other_side_of_a_habit_is_not_told():
    found = habits_in(show(np.random.default_rng(1), 100, planted=LOW_EYES))
    assert told(found) == [("", "side", "eye_line")]
    (habit,) = found.told
    assert habit.drift_pct == pytest.approx(-0.35, abs=3 * habit.within_pct / 1.96)
    assert (habit.characters, habit.than) == (100, "")
    assert habit.alike >= 80


def test_two_habits_of_one_point_are_both_told():
    rng = np.random.default_rng(2)
    shown = show(rng, 60, planted={"": ("side", "chin", -0.8)}, views=5)
    shown.places[:, shown.views.index("back"), shown.landmarks.index("chin")] += 0.5
    assert sorted(told(habits_in(shown))) == [("", "back", "chin"), ("", "side", "chin")]


def test_of_two_drawings_a_sheet_nobody_is_blamed():
    found = habits_in(show(np.random.default_rng(3), 40, planted=LOW_EYES, views=2))
    (habit,) = found.told
    assert {habit.view, habit.than} == {"front", "side"}
    assert abs(habit.drift_pct) == pytest.approx(0.35, abs=0.12)


def test_an_artist_of_two_is_named_the_other_not():
    planted = {"Ama": ("back", "waist", 0.6)}
    found = habits_in(show(np.random.default_rng(4), 40, planted=planted, artists=ARTISTS[:2]))
    assert told(found) == [("Ama", "back", "waist")]
    assert found.told[0].characters == 20


def test_what_all_artists_do_is_the_shows():
    found = habits_in(show(np.random.default_rng(5), 45, planted=LOW_EYES, artists=ARTISTS))
    assert told(found) == [("", "side", "eye_line")]


def test_an_artist_who_does_as_all_others_do_is_not_named():
    """Bo is a tenth of a per cent lower still, which does not matter."""
    shown = show(np.random.default_rng(15), 600, planted=LOW_EYES, artists=ARTISTS)
    mine = shown.drawn_by[:, 0] == "Bo"
    side, eyes = shown.views.index("side"), shown.landmarks.index("eye_line")
    shown.places[mine, side, eyes] -= 0.1
    assert told(habits_in(shown)) == [("", "side", "eye_line")]


def test_an_artist_of_nine_characters_is_not_named():
    shown = show(
        np.random.default_rng(6), 27, planted={"Bo": ("side", "eye_line", -0.9)}, artists=ARTISTS
    )
    assert not [one for one in habits_in(shown).told if one.artist]


def test_a_habit_too_small_to_matter_is_not_told():
    planted = {"": ("side", "eye_line", -0.12)}
    assert told(habits_in(show(np.random.default_rng(7), 400, planted=planted))) == []


def test_what_is_said_to_show_does():
    quiet = habits_in(show(np.random.default_rng(8), 20))
    assert not quiet.told
    planted = {"": ("back", "knee_l", quiet.seen_from_pct)}
    assert rates(40, 20, planted=planted).found >= 0.8


def test_under_ten_characters_nothing_is_told():
    drifts = drifts_of(show(np.random.default_rng(9), 9, planted={"": ("side", "chin", -3.0)}))
    assert habits_of(drifts) == Habits(9)
    assert not habits_of(drifts).enough


def test_a_show_of_no_sheets_has_no_characters():
    assert habits_of(DriftRows().all()) == Habits(0)


def test_revisions_of_one_character_are_one_character():
    """Nine characters at five revisions are nine; of ten the newest one counts."""
    rng = np.random.default_rng(10)
    many = drifts_of(*(show(rng, 9) for _ in range(5)), revisions="A B C D E")
    assert habits_of(many).characters == 9
    old = show(rng, 12, planted={"": ("side", "chin", -0.6)})
    new = show(rng, 12)
    assert ("", "side", "chin") in told(habits_of(drifts_of(old, revisions="9")))
    assert told(habits_of(drifts_of(new, old, revisions="10 9"))) == []


def test_the_order_of_rows_and_views_that_some_lack_change_nothing():
    rng = np.random.default_rng(11)
    some = drifts_of(show(rng, 20, planted={"": ("side", "chin", -0.8)}))
    some.pct[15:, some.views.index("back")] = np.nan
    s, v, m = (rng.permutation(size) for size in some.pct.shape)
    shuffled = Drifts(
        tuple(some.sheets[n] for n in s),
        tuple(some.views[n] for n in v),
        tuple(some.landmarks[n] for n in m),
        some.pct[np.ix_(s, v, m)],
    )
    assert told(habits_of(some)) == told(habits_of(shuffled)) == [("", "side", "chin")]
    rows = DriftRows()
    for record, pct in zip(some.sheets, some.pct, strict=True):
        named = (dict(zip(some.landmarks, row, strict=True)) for row in pct)
        of_view = dict(zip(some.views, named, strict=True))
        rows.add(record, {v: row for v, row in of_view.items() if np.isfinite(row["chin"])})
    assert habits_of(rows.all()) == habits_of(some)


def test_drifts_that_shrink_with_each_revision_are_a_hint():
    rng = np.random.default_rng(12)
    shows = [show(rng, 14, noise=Noise(point=size)) for size in (0.6, 0.4, 0.2)]
    trend = habits_of(drifts_of(*shows, revisions="A B C")).trend
    assert trend is not None
    assert trend.shows
    assert -0.25 < trend.change_pct < -0.05
    assert trend.characters == 14
    steady = habits_of(drifts_of(shows[0], shows[0], revisions="A B")).trend
    assert steady is not None
    assert (steady.change_pct, steady.shows) == (0.0, False)


def test_few_characters_with_revisions_give_no_hint():
    rng = np.random.default_rng(13)
    few = drifts_of(show(rng, 12), show(rng, TREND_LEAST - 1), revisions="A B")
    assert habits_of(few).trend is None


def test_the_same_show_gives_the_same_habits():
    drifts = drifts_of(show(np.random.default_rng(14), 25, noise=USUAL, planted=LOW_EYES))
    before = drifts.pct.copy()
    assert habits_of(drifts) == habits_of(drifts)
    assert np.array_equal(drifts.pct, before)

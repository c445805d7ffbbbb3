"""What people read of a show's habits."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import numpy as np
import pytest

from tests.simulations.shows import ARTISTS, show
from turncheck.show.habits import Habit, Habits, habits_in
from turncheck.show.habits_page import DOTS_MOST, habits_section
from turncheck.show.trend import Trend

LOW = Habit("side", "eye_line", -0.42, 0.06, (-0.6,) * 27 + (0.1,) * 3)


def section_of(*told: Habit, **others: object):
    return habits_section(Habits(30, tuple(told), **{"seen_from_pct": 0.31, **others}))


def plain(text: str) -> str:
    return text.replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("habit", "says"),
    [
        (
            LOW,
            "Side drawings have the eye line 0.4 % low in 27 of 30 characters: "
            "check it before the next one.",
        ),
        (
            replace(LOW, artist="Bo"),
            "Bo draws the eye line 0.4 % low in side drawings, in 27 of 30 characters: "
            "check it before the next one.",
        ),
        (
            replace(LOW, than="front", view="three_quarter", landmark="knee_l"),
            "Three quarter drawings have the left knee 0.4 % lower than front drawings in 27 of 30 "
            "characters; they can't tell which of the two is off.",
        ),
    ],
)
def test_a_habit_is_one_plain_sentence(habit, says):
    assert plain(section_of(habit).sentence) == says


def test_more_habits_are_counted():
    assert plain(section_of(LOW, LOW, LOW).sentence).endswith("next one. 2 more habits below.")


def test_where_there_is_none_it_says_what_would_have_shown():
    says = plain(section_of().sentence)
    assert says == (
        "No drawing has a point too low or too high by habit in these 30 characters; "
        "a habit of 0.4 % in all of them would likely have shown."
    )


def test_where_nothing_can_be_compared_it_does_not_say_that_all_is_well():
    shown = show(np.random.default_rng(3), 12)
    shown.places[3:] = np.nan
    found = habits_in(shown)
    assert not found.told
    assert not found.others
    says = habits_section(found).sentence
    assert says.startswith("No drawing of the same name has its points in 10 characters, so no")


def test_under_ten_characters_it_says_so_and_nothing_else():
    section = habits_section(Habits(4))
    says = "Habits are told from ten characters without warnings on; this show has 4."
    assert section.sentence == says
    assert not (section.plot or section.rows or section.headings or section.hint)


def test_revisions_are_a_hint():
    hint = section_of(trend=Trend(-0.1, 0.04, 12)).hint
    assert plain(hint) == (
        "A hint: points seem to drift 0.10 % less with each revision, over 12 characters with more "
        "than one revision (± 0.04 %)."
    )
    assert section_of(trend=Trend(0.03, 0.04, 12)).hint.startswith("No sign ")
    assert section_of().hint == ""


def strips(section):
    """The plot's lines: class, label, and how many dots, each parsed."""
    tree = ET.fromstring(f"<div>{section.plot}</div>")
    return [
        (
            row.get("class"),
            "".join(row.find("th").itertext()),
            row.find("td/svg/path[@class='dots']").get("d").count("M"),
        )
        for row in tree.iter("tr")
        if row.get("class")
    ]


def test_the_plot_has_a_dot_a_character_and_a_table_row_a_line():
    planted = {"": ("side", "eye_line", -0.4), "Bo": ("back", "knee_l", 0.7)}
    section = habits_section(
        habits_in(show(np.random.default_rng(3), 30, planted=planted, artists=ARTISTS))
    )
    lines = strips(section)
    assert lines[:2] == [("told", "Back: left knee by Bo", 10), ("told", "Side: eye line", 30)]
    assert {kind for kind, _, _ in lines[2:]} == {"chance"}
    assert len(section.rows) == len(lines)
    assert {len(row) for row in section.rows} == {len(section.headings)}
    assert section.rows[0][:3] == ("Back", "left knee", "Bo")


def test_the_plot_of_a_large_show_stays_small():
    many = replace(LOW, values=tuple(np.linspace(-1.0, 0.2, 10_000)))
    section = section_of(many, many)
    assert [dots for _, _, dots in strips(section)] == [DOTS_MOST, DOTS_MOST]
    assert len(section.plot) < 20_000


def test_one_far_dot_does_not_press_the_others_together():
    far = replace(LOW, values=(-40.0, *LOW.values))
    near, pressed = (section_of(one).plot for one in (LOW, far))
    assert "+20" not in pressed
    assert "farther" in pressed
    assert "farther" not in near


def test_what_users_wrote_is_escaped():
    section = section_of(replace(LOW, artist="<b>&Bo", view="si<de", landmark="e&ye"))
    assert strips(section)[0][1] == "Si<de: e&ye by <b>&Bo"
    assert "<b>&" not in section.plot

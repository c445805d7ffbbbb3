"""A show's habits as a section of a page: a sentence, a strip for each, and a table.

Frame of a strip: thousandths of its width across, screen px down.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np
from markupsafe import Markup

from turncheck.assets.pages import environment, short
from turncheck.plain import capital, counted, number, spoken
from turncheck.sheet.vocabulary import Landmark
from turncheck.show.habits import CHARACTERS_LEAST, Habit, Habits
from turncheck.show.trend import Trend

#: Screen px: height of a strip, and the rows in which its dots lie.
TALL, ROWS = 34.0, (11.0, 23.0, 17.0, 7.0, 27.0)
#: How many dots a strip has at most, evenly picked; and how many times as far as nine tenths of all
#: dots the strips reach at most, and at least in per cent. Chosen by eye.
DOTS_MOST, REACH_TIMES, REACH_LEAST = 400, 3.0, 0.5
#: What of a strip's width is left beyond, and how many ticks it has either way; chosen by eye.
_MARGIN, _TICKS_MOST = 0.03, 3
HEADINGS = ("Drawing", "Point", "Whose", "Drift", "±", "Characters alike", "Which it is")


@dataclass(frozen=True)
class HabitsSection:
    """What a page shows of a show's habits; `turncheck/show/style/habits.css` goes with it.

    Attributes
    ----------
    sentence
        What it has, or why nothing can be told, in plain words.
    plot
        A strip for each habit and for the largest of the rest, '' where nothing may be told.
    headings, rows
        The same as a table of words; no row where nothing may be told.
    hint
        How drifts change over revisions, '' where too little is known.
    """

    sentence: str
    plot: Markup = field(default_factory=Markup)
    headings: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    hint: str = ""


def habits_section(habits: Habits) -> HabitsSection:
    """Return what to show of a show's habits.

    Examples
    --------
    >>> habits_section(Habits(4)).sentence
    'Habits are told from ten characters without warnings on; this show has 4.'
    """
    if not habits.enough:
        few = "Habits are told from ten characters without warnings on; "
        few += f"this show has {habits.characters}."
        return HabitsSection(few)
    shown = (*habits.told, *habits.others)
    return HabitsSection(
        sentence=_sentence(habits),
        plot=_plot(shown) if shown else Markup(),
        headings=HEADINGS,
        rows=tuple(map(_row, shown)),
        hint=_hint(habits.trend) if habits.trend else "",
    )


def _sentence(habits: Habits) -> str:
    if not habits.told and math.isinf(habits.seen_from_pct):
        return (
            f"No drawing of the same name has its points in {CHARACTERS_LEAST} characters, "
            f"so no habit of these {habits.characters} can be told."
        )
    if not habits.told:
        least = f"{number(math.ceil(habits.seen_from_pct * 10) / 10)}\N{NO-BREAK SPACE}%"
        return (
            f"No drawing has a point too low or too high by habit in these {habits.characters} "
            f"characters; a habit of {least} in all of them would likely have shown."
        )
    first, *more = habits.told
    text = _says(first)
    text += "." if not more else f". {counted(len(more), 'more habit')} below."
    return text


def _says(habit: Habit) -> str:
    """Return a habit in a sentence without its stop."""
    point, amount = f"the {title(habit.landmark)}", _amount(habit)
    drawings = f"{spoken(habit.view)} drawings"
    alike = f"in {habit.alike} of {habit.characters} characters"
    if habit.than:
        of = f"In {habit.artist}'s work {drawings}" if habit.artist else capital(drawings)
        than = f"than {spoken(habit.than)} drawings"
        return f"{of} have {point} {amount} {than} {alike}; they can't tell which of the two is off"
    if habit.artist:
        what = f"{habit.artist} draws {point} {amount} in {drawings}, {alike}"
    else:
        what = f"{capital(drawings)} have {point} {amount} {alike}"
    return f"{what}: check it before the next one"


def _amount(habit: Habit) -> str:
    way = ("lower", "higher") if habit.than else ("low", "high")
    size = number(abs(habit.drift_pct))
    return f"{size}\N{NO-BREAK SPACE}% {way[habit.drift_pct > 0]}"


def title(landmark: str) -> str:
    """Return a point's name as a person says it.

    >>> title("knee_l"), title("hair_top")
    ('left knee', 'hair top')
    """
    return Landmark(landmark, "height").title


def _hint(trend: Trend) -> str:
    over = f"over {trend.characters} characters with more than one revision"
    within = f"±\N{NO-BREAK SPACE}{number(trend.within_pct, 2)}\N{NO-BREAK SPACE}%"
    if not trend.shows:
        return (
            f"No sign that points drift more or less from revision to revision {over} ({within})."
        )
    change = f"{number(abs(trend.change_pct), 2)}\N{NO-BREAK SPACE}%"
    way = "more" if trend.change_pct > 0 else "less"
    return f"A hint: points seem to drift {change} {way} with each revision, {over} ({within})."


def _row(habit: Habit) -> tuple[str, ...]:
    than = f", against {spoken(habit.than)}" if habit.than else ""
    return (
        capital(spoken(habit.view)) + than,
        title(habit.landmark),
        habit.artist or "everyone",
        f"{number(habit.drift_pct, 2, signed=True)} %",
        f"{number(habit.within_pct, 2)} %",
        f"{habit.alike} of {habit.characters}",
        "habit" if habit.told else "may be chance",
    )


def _plot(shown: tuple[Habit, ...]) -> Markup:
    reach = _reach(shown)
    ticks = _ticks(reach)
    lines = [
        SimpleNamespace(
            told=habit.told,
            drawing=_drawing(habit),
            point=title(habit.landmark),
            artist=habit.artist,
            amount=_amount(habit),
            alike=f"{habit.alike} of {habit.characters}",
            says=_says(habit),
            dots=_dots(habit, reach),
            middle=_across(habit.drift_pct, reach),
            ends=[_across(habit.drift_pct + way * habit.within_pct, reach) for way in (-1.0, 1.0)],
        )
        for habit in shown
    ]
    page = environment("turncheck.show").get_template("habits.html.j2")
    farther = any(abs(value) > reach for habit in shown for value in habit.values)
    return Markup(
        page.render(
            lines=lines, ticks=ticks, tall=TALL, across=_across, reach=reach, farther=farther
        )
    )


def _drawing(habit: Habit) -> str:
    than = f" against {spoken(habit.than)}" if habit.than else ""
    return capital(spoken(habit.view)) + than


def _reach(shown: tuple[Habit, ...]) -> float:
    """Return how far the strips reach either way, % of the figure height."""
    dots = np.abs(np.concatenate([habit.values for habit in shown]))
    farthest = max(abs(habit.drift_pct) + habit.within_pct for habit in shown)
    usual = REACH_TIMES * float(np.quantile(dots, 0.9))
    return max(min(float(dots.max()), usual), farthest, REACH_LEAST)


def _ticks(reach: float) -> list[tuple[float, str]]:
    """Return round drifts and their words.

    >>> [at for at, _ in _ticks(0.7)]
    [-0.5, 0.0, 0.5]
    """
    steps = [a * 10.0**b for b in range(-1, 3) for a in (1, 2, 5)]
    step = next((step for step in steps if reach / step < _TICKS_MOST), steps[-1])
    each = [step * n for n in range(-int(reach / step), int(reach / step) + 1)]
    decimals = 0 if step >= 1.0 else 1
    space = "\N{NO-BREAK SPACE}%"
    return [(at, number(at, decimals, signed=True) + space if at else "0") for at in each]


def _across(pct: float, reach: float) -> float:
    return 500.0 + 500.0 * (1.0 - 2.0 * _MARGIN) * min(max(pct / reach, -1.0), 1.0)


def _dots(habit: Habit, reach: float) -> str:
    """Return the path of a strip's dots, lines of no length with round ends."""
    values = np.array(habit.values)
    if len(values) > DOTS_MOST:
        values = np.quantile(values, np.linspace(0.0, 1.0, DOTS_MOST))
    spots = ((_across(value, reach), ROWS[n % len(ROWS)]) for n, value in enumerate(values))
    return "".join(f"M{short(x)} {short(y)}h0" for x, y in spots)

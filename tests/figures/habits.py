"""The page on habits of a show: how many are found, and how often one is told that is none."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from tests.figures.constants import HABITS
from tests.figures.markdown import table
from tests.figures.sweeping import Row, tried
from tests.simulations.shows import (
    ARTISTS,
    LOOSE,
    PLACING_ALONE,
    USUAL,
    Noise,
    crying_wolf,
    rates,
    show,
)
from turncheck.show.habits import HABIT_LEAST, habits_in

SHOWS = 320
#: Shows for each figure of a constant's row.
SHOWS_TRIED = 60
NOISES = {"placings alone": PLACING_ALONE, "usual": USUAL, "loose": LOOSE}
TAILED = {
    "Student's t, 3 degrees of freedom": replace(LOOSE, tails="t3"),
    "one point in 20 off by 2 to 4 %": replace(USUAL, tails="slips"),
}


def nothing_wrong() -> Iterator[Row]:
    for characters, artists in ((10, ()), (30, ()), (30, ARTISTS), (100, ARTISTS)):
        shows = SHOWS if characters < 100 else SHOWS // 2
        yield {
            "characters": characters,
            "artists": len(artists),
            **{
                name: f"{rates(shows, characters, noise=noise, artists=artists).false:.1%}"
                for name, noise in (NOISES | TAILED).items()
            },
        }


def of_the_show() -> Iterator[Row]:
    for amount in (0.25, 0.35, 0.6):
        for characters in (10, 20, 30, 100):
            yield {
                "habit, % H": amount,
                "characters": characters,
                **{name: _found(amount, characters, noise) for name, noise in NOISES.items()},
            }


def of_an_artist() -> Iterator[Row]:
    for amount in (0.35, 0.6):
        for characters in (10, 30, 60, 100):
            yield {
                "habit, % H": amount,
                "characters": characters,
                **{name: _found(amount, characters, noise, "Bo") for name, noise in NOISES.items()},
            }


def _found(amount: float, characters: int, noise: Noise, artist: str = "") -> str:
    planted = {artist: ("side", "eye_line", -amount)}
    artists = ARTISTS if artist else ()
    shows = SHOWS // 4 if characters < 100 else SHOWS // 10
    found = rates(shows, characters, planted=planted, noise=noise, artists=artists)
    return f"{found.found:.0%} / {found.paired:.0%} / {found.false:.1%}"


def few_drawings() -> Iterator[Row]:
    for views in (2, 3, 4, 5):
        planted = {"": ("side", "eye_line", -0.35)}
        found = rates(SHOWS // 4, 15, planted=planted, views=views)
        yield {
            "drawings a sheet": views,
            "named": f"{found.found:.0%}",
            "one of two": f"{found.paired:.0%}",
            "anything else": f"{found.false:.1%}",
        }


def said_to_show() -> Iterator[Row]:
    for characters in (10, 20, 30, 100):
        for name, noise in NOISES.items():
            quiet = habits_in(show(np.random.default_rng(8), characters, noise=noise))
            planted = {"": ("back", "knee_l", quiet.seen_from_pct)}
            found = rates(SHOWS // 10, characters, planted=planted, noise=noise)
            yield {
                "characters": characters,
                "drawings": name,
                "said, % H": f"{quiet.seen_from_pct:.2f}",
                "found": f"{found.found + found.paired:.0%}",
            }


def rows_as_independent() -> Iterator[Row]:
    for characters in (10, 30, 100):
        for name, noise in NOISES.items():
            found = crying_wolf(SHOWS // 5, characters, noise=noise)
            yield {
                "characters": characters,
                "drawings": name,
                "rows as independent": f"{found.rows:.1%}",
                "one value a drawing": f"{found.drawings:.1%}",
            }


def measures() -> Row:
    def of(characters: int, **how: object) -> str:
        found = rates(SHOWS_TRIED, characters, **how)
        return f"{found.found:.0%} / {found.paired:.0%} / {found.false:.1%}"

    low, bo = {"": ("side", "eye_line", -0.35)}, {"Bo": ("side", "eye_line", -0.6)}
    slips = replace(USUAL, tails="slips")
    return {
        "nothing, 10, slips": f"{rates(SHOWS_TRIED, 10, noise=slips).false:.1%}",
        "0.35, 10": of(10, planted=low),
        "0.35, 10, three drawings": of(10, planted=low, views=3),
        "artist's 0.6, 30, loose": of(30, planted=bo, noise=LOOSE, artists=ARTISTS),
    }


def page() -> str:
    return f"""# Habits of a show

Simulated shows: a sheet a character, front, side, back and three quarter, 19 points each; each
drawing's size and position is taken out as the height scale does it. Placing sd 0.15 % H in all.
*Placings alone*: nothing else is wrong. *Usual*: each point is drawn 0.05 % off besides, and each
part (head, torso, arms, legs) as a whole 0.1 %. *Loose*: 0.15 and 0.2 %. The habit is a side
drawing's eye line. A habit under {HABIT_LEAST} % is not told. Artists are three who take turns, so
that 30 characters are ten each; under ten of their own none is named. What real shows scatter by is
not known to us: the widths are invented, so look at the column that is most like your show.

## Nothing wrong

Shows of which anything at all is told; meant: at most 2 %. {SHOWS} shows a figure, {SHOWS // 2} at
100 characters.

{table(nothing_wrong())}

## A habit of the whole show

Found and of the right drawing / told as one of two drawings / anything else told;
{SHOWS // 4} shows a figure, {SHOWS // 10} at 100 characters.

{table(of_the_show())}

## A habit of one artist of three

The same; found is: of the right artist.

{table(of_an_artist())}

## Few drawings a sheet

0.35 %, usual drawings, 15 characters. Of two drawings nobody can say which is off.

{table(few_drawings())}

## What is said to have shown, where no habit is found

The page says how large a habit would likely have shown; so large a one, planted:

{table(said_to_show())}

## The wrong way

Parts of views (the head of the back view) that Student's t calls off at 1 % in shows with nothing
wrong: each point of each drawing as an independent row, and the part's mean, one value a drawing.

{table(rows_as_independent())}

## Constants

As above, {SHOWS_TRIED} shows a figure; the number is of characters.

{tried(measures, HABITS)}
"""

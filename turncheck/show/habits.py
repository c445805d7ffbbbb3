"""Habits: what a show, or one of its artists, draws too low or too high again and again.

One value a character: its newest sheet's, each point held against the sheet's other drawings.
Points of one drawing hang together, so rows are never counted as if they were independent; what
that would cost, and how much is found, stands in tests/figures/habits.md. All that may be told is
weighed together against the largest that chance would make of it, and again with what is told
left out, step by step (Westfall and Young 1993; the step-down of Holm 1979, Scand. J. Stat. 6:65;
both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from turncheck.numerics.arrays import Bools, Floats, Ints
from turncheck.numerics.robust import median_sd, robust_centre
from turncheck.show.drifts import Drifts
from turncheck.show.record import natural
from turncheck.show.sign_flips import (
    Signs,
    largest_turned,
    mean_within,
    medians,
    scores_of,
    signs_turned,
    spread_of,
)
from turncheck.show.trend import Trend, trend_of

#: Fewer characters tell no habit, of a show or of an artist; common practice, no source.
CHARACTERS_LEAST = 10
#: Share of shows with nothing wrong in which something may be told. Chosen by the measurement in
#: tests/figures/habits.md.
FALSE_CLAIMS = 0.015
#: A habit below this does not matter, % of the figure height: less than half of the smallest
#: tolerance, the eye line's 0.5; common practice, no source.
HABIT_LEAST = 0.2
#: Standard uncertainties by which a drawing must be further off than the next before it is the one
#: that is off. Chosen by the measurement in tests/figures/habits.md.
BLAME_CERTAIN_FROM = 1.0
#: Standard uncertainties above what is asked of a habit with which at least four in five are told;
#: no source, a test holds it.
LIKELY = 2.5
#: How many of those that are not told are shown; chosen by eye.
_SHOWN = 4
#: Values of characters that are looked at once, landmark by landmark where there are many; common
#: practice, no source.
_AT_ONCE = 20_000


@dataclass(frozen=True)
class Habit:
    """A point that a drawing has too low or too high in character after character.

    Attributes
    ----------
    view, landmark
        As the sheets name them; `eye_line` is the line through both eyes.
    than
        Where it can't be told which of two drawings is off, the other one; else ''.
    artist
        Whose habit it is, '' for the whole show's.
    drift_pct, within_pct
        Upwards, % of the figure height, and half of the interval that holds it in 95 % of cases.
    values
        The same of each character, sorted.
    told
        Whether it is more than chance makes, and large enough to matter.
    """

    view: str
    landmark: str
    drift_pct: float
    within_pct: float
    values: tuple[float, ...]
    than: str = ""
    artist: str = ""
    told: bool = True

    @property
    def characters(self) -> int:
        """How many characters it rests on."""
        return len(self.values)

    @property
    def alike(self) -> int:
        """In how many of them the drawing is off the same way."""
        return sum(value * self.drift_pct > 0.0 for value in self.values)


@dataclass(frozen=True)
class Habits:
    """What a show has by habit.

    Attributes
    ----------
    characters
        How many the show has.
    told, others
        The habits, the surest first; the largest of what may be chance.
    seen_from_pct
        About how large a habit of the whole show is that would likely be told, % of the figure
        height; infinite where no drawing's point is known in enough characters.
    trend
        None where too few characters have more than one revision.
    """

    characters: int
    told: tuple[Habit, ...] = ()
    others: tuple[Habit, ...] = ()
    seen_from_pct: float = np.inf
    trend: Trend | None = None

    @property
    def enough(self) -> bool:
        """Whether there are enough characters to tell anything."""
        return self.characters >= CHARACTERS_LEAST


@dataclass(frozen=True)
class Show:
    """One sheet of each character as arrays over characters (C), views (V) and landmarks (L).

    Attributes
    ----------
    places
        (C, V, L) how high a point lies, from the mean of the sheet's drawings, % of the figure
        height; NaN where it is not known.
    drawn_by
        (C, V) artists, '' where unknown.
    """

    views: tuple[str, ...]
    landmarks: tuple[str, ...]
    places: Floats
    drawn_by: np.ndarray[tuple[int, ...], np.dtype[np.str_]]


def habits_of(drifts: Drifts) -> Habits:
    """Return what a show draws low or high by habit, and each of its artists against the rest.

    Of a character's revisions the newest counts, by its text: 'B' is newer than 'A', '10' than
    '9'; so that what was put right meanwhile is no habit any more.

    Examples
    --------
    >>> from turncheck.show.record import Record
    >>> sheets = tuple(Record(str(n), character=str(n)) for n in range(12))
    >>> apart = np.array([0.1, -0.7, 0.1, 0.1]) + np.arange(12)[:, None] % 3 / 10
    >>> views = "front", "side", "back", "three_quarter"
    >>> (habit,) = habits_of(Drifts(sheets, views, ("chin",), apart[:, :, None])).told
    >>> habit.view, round(habit.drift_pct, 1), habit.alike
    ('side', -0.6, 12)
    """
    sheets = drifts.sheets
    characters = len({one.character for one in sheets})
    if characters < CHARACTERS_LEAST:
        return Habits(characters)
    order = sorted(range(len(sheets)), key=lambda s: (natural(sheets[s].revision), sheets[s].path))
    newest = {sheets[s].character: s for s in order}
    found = habits_in(show_of(drifts, sorted(newest.values())))
    return replace(found, characters=characters, trend=trend_of(drifts, order))


def show_of(drifts: Drifts, sheets: list[int]) -> Show:
    """Return some sheets, one a character, as a show."""
    places = drifts.pct[sheets]
    count = np.isfinite(places).sum(axis=1, keepdims=True)
    places *= (count - 1) / np.maximum(count, 1)  # a mean of the others is one of all, itself in it
    by = [[drifts.sheets[s].drawn_by.get(view, "") for view in drifts.views] for s in sheets]
    return Show(drifts.views, drifts.landmarks, places, np.array(by, dtype=object))


def habits_in(show: Show) -> Habits:
    """Return the habits of a show that has a sheet of each character.

    What is told of a drawing is left out before the others are looked at again: a drawing that is
    low makes the rest of its sheet look high, and is told once. What artists do goes before what
    the show does, so that one of them is not taken for all.
    """
    characters = len(show.places)
    if characters < CHARACTERS_LEAST or not show.places.size:
        return Habits(characters)
    signs = signs_turned(characters)
    columns = _columns(show)
    places = show.places.copy()
    spread = spread_of(_apart(places))
    marks = range(len(show.landmarks))
    few = max(_AT_ONCE // columns.own.size, 1)
    scored = [_scored(places[:, :, at : at + few], columns, spread, signs) for at in marks[::few]]
    sizes, turned = (np.concatenate(each) for each in zip(*scored, strict=True))
    told: list[Habit] = []
    while True:
        beyond = sizes > _largest_by_chance(turned.max(axis=0))
        of_artists = beyond & columns.of_artist
        among = of_artists if of_artists.any() else beyond
        if not among.any():
            break
        at, column = np.unravel_index(np.argmax(np.where(among, sizes, 0.0)), sizes.shape)
        habit, out = _habit(
            show, places[:, :, at], columns, int(at), int(column), BLAME_CERTAIN_FROM
        )
        places[:, :, at] = np.where(out, np.nan, places[:, :, at])
        sizes[[at]], turned[[at]] = _scored(places[:, :, [at]], columns, spread, signs)
        if abs(habit.drift_pct) >= HABIT_LEAST:
            told.append(habit)
    everyone = np.where(columns.of_artist, 0.0, sizes)
    everyone[[show.landmarks.index(habit.landmark) for habit in told]] = 0.0
    largest = sorted(marks, key=lambda at: -everyone[at].max())[:_SHOWN]
    others = [
        _habit(show, places[:, :, at], columns, at, int(everyone[at].argmax()), 0.0)[0]
        for at in largest
        if everyone[at].any()
    ]
    return Habits(
        characters,
        tuple(sorted(told, key=lambda one: one.within_pct / abs(one.drift_pct))),
        tuple(replace(one, told=False) for one in others),
        seen_from_pct=_seen_from(places, spread, _largest_by_chance(turned.max(axis=0))),
    )


def _seen_from(places: Floats, spread: float, limit: float) -> float:
    """Return about how large a habit of the whole show would likely be told, %; infinite for none.

    Parameters
    ----------
    places, spread
        (C, V, L), and the mean square of most points' values.
    limit
        What a mean must reach beyond, in its standard uncertainties.
    """
    counts = np.isfinite(_apart(places)).sum(axis=0)
    counts = counts[counts >= CHARACTERS_LEAST]
    if not counts.size:
        return np.inf
    sd = float(np.sqrt(spread / np.median(counts)))
    return max(HABIT_LEAST, limit * sd) + LIKELY * sd


@dataclass(frozen=True)
class _Columns:
    """What may be told of a landmark: of each view by the whole show, and by each artist.

    Attributes
    ----------
    artists
        (M,) '' for the whole show.
    views
        (M,) rows of the views.
    own, rest
        (C, M) whose drawings they are, and whose they are held against: none for the whole show.
    """

    artists: tuple[str, ...]
    views: Ints
    own: Bools
    rest: Bools

    @property
    def of_artist(self) -> Bools:
        """(M,) whether it is about one artist."""
        return np.array([bool(name) for name in self.artists])


def _columns(show: Show) -> _Columns:
    drawn_by = show.drawn_by
    names = ["", *sorted({*drawn_by.ravel().tolist()} - {""})]
    own = np.stack([(drawn_by == name) | (not name) for name in names], axis=1)
    known = (drawn_by != "")[:, None, :] & np.array([bool(name) for name in names])[:, None]
    characters, views = drawn_by.shape
    return _Columns(
        tuple(name for name in names for _ in range(views)),
        np.tile(np.arange(views), len(names)),
        own.reshape(characters, -1),
        (known & ~own).reshape(characters, -1),
    )


def _apart(places: Floats) -> Floats:
    """Return (C, V, ...) how far each drawing lies above the mean of the others of its sheet."""
    count = np.isfinite(places).sum(axis=1, keepdims=True)
    total = np.nansum(places, axis=1, keepdims=True)
    others = np.where(count > 1, (total - places) / np.maximum(count - 1, 1), np.nan)
    apart: Floats = places - others
    return apart


def _scored(
    places: Floats, columns: _Columns, spread: float, signs: Signs
) -> tuple[Floats, Floats]:
    """Return how far landmarks' means lie from nought, and the largest of each after each turn.

    Parameters
    ----------
    places
        (C, V, L) of the landmarks.

    Returns
    -------
    sizes, turned
        (L, M), nought where nothing may be told; (L, B).
    """
    values = _apart(places)[:, columns.views]
    there = np.isfinite(values)
    own, rest = (there & of[:, :, None] for of in (columns.own, columns.rest))
    of_all = ~columns.of_artist[:, None]
    enough = (own.sum(axis=0) >= CHARACTERS_LEAST) & (
        (rest.sum(axis=0) >= CHARACTERS_LEAST) | of_all
    )
    parts = np.where(enough, scores_of(values, own, rest, spread), 0.0)
    mine, theirs = medians(values, own), medians(values, rest)
    of_own = np.abs(mine) > np.abs(theirs)
    of_own &= (np.abs(mine - theirs) >= HABIT_LEAST) | of_all
    sizes = np.where(of_own, np.abs(parts.sum(axis=0)), 0.0)
    return sizes.T, largest_turned(parts, signs)


def _largest_by_chance(turned: Floats) -> float:
    """Return what no more than `FALSE_CLAIMS` of all turns reach beyond, (B,)."""
    beyond = int(FALSE_CLAIMS * len(turned))
    return float(np.sort(turned)[::-1][beyond]) * (1.0 + 1e-9)


def _habit(
    show: Show,
    places: Floats,
    columns: _Columns,
    at: int,
    column: int,
    certain_from: float,
) -> tuple[Habit, Bools]:
    """Return the habit of a landmark's column, and (C, V) the drawings that it is about."""
    v, own = int(columns.views[column]), columns.own[:, column]
    apart = _apart(places)
    used = own & np.isfinite(apart[:, v])
    rival = _rival(apart[used], v, certain_from)
    values = apart[:, v] if rival is None else places[:, v] - places[:, rival]
    used = own & np.isfinite(values)
    values = values[used]
    sd = max(median_sd(values - np.median(values)), 1e-9)
    centre, _ = robust_centre(values, np.full(len(values), sd))
    habit = Habit(
        view=show.views[v],
        landmark=show.landmarks[at],
        drift_pct=centre,
        within_pct=mean_within(values),
        values=tuple(np.sort(values).tolist()),
        than="" if rival is None else show.views[rival],
        artist=columns.artists[column],
    )
    views = np.arange(places.shape[1])
    return habit, own[:, None] & ((views == v) | (views == rival))


def _rival(apart: Floats, v: int, certain_from: float) -> int | None:
    """Return the view that may as well be the one that is off, the other way; None for none.

    Where a sheet has two drawings, each lies from the other as far as that from it: so always.

    Parameters
    ----------
    apart
        (n, V) how far each drawing lies above the others of its sheet, NaN where it is not known.
    certain_from
        Standard uncertainties by which the view must be further off.
    """
    way = np.sign(np.median(apart[:, v]))
    least, found = certain_from, None
    for u in range(apart.shape[1]):
        farther = way * (apart[:, v] + apart[:, u])
        farther = farther[np.isfinite(farther)]
        if u == v or 2 * len(farther) < len(apart):
            continue
        sd = float(farther.std() / np.sqrt(len(farther)))
        certain = float(farther.mean()) / sd if sd > 1e-9 else -1.0
        if certain < least:
            least, found = certain, u
    return found

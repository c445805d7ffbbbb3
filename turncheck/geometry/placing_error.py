"""Placing error: what repeated placings of the same landmarks say of their precision."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from turncheck.numerics.arrays import Floats
from turncheck.sheet.landmark_table import Placing


@dataclass(frozen=True)
class PlacingError:
    """Technical error of measurement of a set of repeated values.

    Attributes
    ----------
    tem, relative
        sqrt(within-subject variance), in the values' unit and in % of their mean.
    reliability
        1 - tem² / variance of all values; NaN where they do not vary.
    repeats
        Degrees of freedom: placings beyond the first of each subject.
    """

    tem: float
    relative: float
    reliability: float
    repeats: int


@dataclass(frozen=True)
class LandmarkError:
    """The placing error of one landmark, or of all together.

    Attributes
    ----------
    landmark, people
        '' for all together; between placings of one person, or between people's means.
    tem_px
        Technical error of measurement, px of the base view; x counts except for `ground`, whose
        x means nothing.
    relative_pct, reliability
        Of y, as in `PlacingError`.
    repeats
        Degrees of freedom in y.
    """

    landmark: str
    people: Literal["within", "between"]
    tem_px: float
    relative_pct: float
    reliability: float
    repeats: int


@dataclass(frozen=True)
class PeopleApart:
    """How far two people place the same landmarks apart, px.

    Attributes
    ----------
    both
        Landmarks on views that both placed.
    right_px, up_px
        Mean of `other` - `person`.
    tem_px
        Their technical error of measurement.
    worst_view, worst_landmark, worst_px
        Where they are furthest apart, and by how much.
    """

    person: str
    other: str
    both: int
    right_px: float
    up_px: float
    tem_px: float
    worst_view: str
    worst_landmark: str
    worst_px: float


def placing_error(groups: list[Floats]) -> PlacingError:
    """Return the technical error of measurement of repeated values.

    For two values each, TEM = sqrt(Σ d² / 2n); for more, the pooled within-subject standard
    deviation, TEM = sqrt(Σ (Σ m² - (Σ m)² / k) / Σ (k - 1)) (Ulijaszek and Kerr 1999,
    Br J Nutr 82:165, equations 1 and 2).

    Parameters
    ----------
    groups
        The repeated values of each subject, one array each; single values only widen the
        variance that `reliability` compares with.

    Raises
    ------
    ValueError
        If no subject has a repeat.

    Examples
    --------
    >>> round(placing_error([np.array([10.0, 12.0]), np.array([20.0, 20.0])]).tem, 4)
    1.0
    """
    repeats = sum(len(group) - 1 for group in groups)
    if repeats < 1:
        raise ValueError("no subject was measured twice")
    within = sum(float(np.sum((group - group.mean()) ** 2)) for group in groups) / repeats
    values = np.concatenate(groups)
    spread = float(np.var(values, ddof=1))
    mean = float(values.mean())
    return PlacingError(
        tem=math.sqrt(within),
        relative=100.0 * math.sqrt(within) / abs(mean) if mean else math.nan,
        reliability=1.0 - within / spread if spread > 0 else math.nan,
        repeats=repeats,
    )


def person(placed_by: str) -> str:
    """Return who placed.

    >>> person("ana#2")  # Ana's second placing
    'ana'
    """
    return placed_by.split("#", 1)[0].strip()


def axes_of(landmark: str) -> int:
    """Return along how many axes a landmark is placed.

    >>> axes_of("chin"), axes_of("ground")  # where along its line the ground is clicked is nothing
    (2, 1)
    """
    return 1 if landmark == "ground" else 2


def placing_errors(
    placings: Sequence[Placing], sizes: Mapping[str, float] | None = None
) -> tuple[LandmarkError, ...]:
    """Return the placing error of all landmarks together and of each, within and between people.

    Parameters
    ----------
    placings
        Of one sheet, repeats not yet averaged; x and y are not NaN.
    sizes
        How large each drawing is, px of it for one px of the base view; None for all alike. The
        errors are in px of the base view.

    Returns
    -------
    tuple
        Within people first, then between them; of each first all together. A landmark without a
        repeat is not in it.
    """
    if len({(one.view, one.landmark) for one in placings}) == len(placings):
        return ()  # nothing was placed again
    sizes = sizes or {}
    same: dict[str, list[Floats]] = {}
    others: dict[tuple[str, str], list[Floats]] = {}
    for (view, landmark, _), xy in _by_person(placings).items():
        places = np.array(xy) / sizes.get(view, 1.0)
        same.setdefault(landmark, []).append(places)
        others.setdefault((landmark, view), []).append(places.mean(axis=0))
    between: dict[str, list[Floats]] = {landmark: [] for landmark in same}
    for (landmark, _), means in others.items():
        between[landmark].append(np.array(means))
    return (*_landmark_errors("within", same), *_landmark_errors("between", between))


def _landmark_errors(
    people: Literal["within", "between"], groups: Mapping[str, Sequence[Floats]]
) -> Iterator[LandmarkError]:
    """Yield the error of all landmarks and of each that was placed again; (n, 2) places a group."""
    again = {name: mine for name, mine in groups.items() if any(len(xy) > 1 for xy in mine)}
    if not again:
        return
    for name in ["", *again]:
        mine = groups if name == "" else {name: groups[name]}
        up = placing_error([xy[:, 1] for each in mine.values() for xy in each])
        across = [xy[:, 0] for one, each in mine.items() if axes_of(one) > 1 for xy in each]
        tem = up.tem
        if any(len(x) > 1 for x in across):
            tem = math.hypot(up.tem, placing_error(across).tem) / math.sqrt(2.0)
        yield LandmarkError(name, people, tem, up.relative, up.reliability, up.repeats)


def people_apart(placings: Sequence[Placing]) -> tuple[PeopleApart, ...]:
    """Return how far people place the same landmarks apart, and where most.

    Parameters
    ----------
    placings
        Of one sheet, repeats not yet averaged. One without a name counts for nobody.

    Returns
    -------
    tuple
        Of each two people who placed something both, the furthest apart first.
    """
    named = [one for one in placings if person(one.placed_by)]
    spots = dict.fromkeys((one.view, one.landmark) for one in named)
    means: dict[str, dict[tuple[str, str], tuple[float, float]]] = {}
    for (view, landmark, who), xy in _by_person(named).items():
        x, y = np.mean(xy, axis=0)
        # where the ground is clicked along its line means nothing
        means.setdefault(who, {})[view, landmark] = (x if axes_of(landmark) > 1 else 0.0, y)
    found = []
    for one, other in combinations(sorted(means), 2):
        both = [spot for spot in spots if spot in means[one] and spot in means[other]]
        if not both:
            continue
        here, there = (np.array([means[who][spot] for spot in both]) for who in (one, other))
        right, down = (there - here).T
        apart = np.sqrt(right**2 + down**2)
        worst = int(apart.argmax())
        found.append(
            PeopleApart(
                person=one,
                other=other,
                both=len(both),
                right_px=float(right.mean()),
                up_px=float(-down.mean()),
                tem_px=float(np.sqrt(np.mean(apart**2) / 4.0)),  # Σ d² / 2n on each of two axes
                worst_view=both[worst][0],
                worst_landmark=both[worst][1],
                worst_px=float(apart[worst]),
            )
        )
    return tuple(sorted(found, key=lambda pair: -pair.tem_px))


def _by_person(
    placings: Sequence[Placing],
) -> dict[tuple[str, str, str], list[tuple[float, float]]]:
    """Return the places, (x, y) px, of each landmark on a view by each person."""
    found: dict[tuple[str, str, str], list[tuple[float, float]]] = {}
    for one in placings:
        found.setdefault((one.view, one.landmark, person(one.placed_by)), []).append((one.x, one.y))
    return found

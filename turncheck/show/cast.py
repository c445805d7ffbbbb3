"""The line-up of the cast: how large each figure stands, and how far that is known.

Lengths are in cm where a sheet tells its character's height, in hundredths of the usual figure
where none does; pictures have y down in px of the thumbnail.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from turncheck.show.record import Record

#: How tall the usual figure stands where no sheet tells a height, which is the unit then.
_USUAL = 100.0
#: A guessed figure is so many times the usual one at most, and the least its inverse: heads are
#: counted from points that may be misplaced. Chosen by eye.
_GUESS_MOST = 3.0
#: On the screen, px: how tall the tallest stands where there are many and where there are few; the
#: usual one at least, for which giants may grow; and what two shelves hold. Chosen by eye.
_MANY, _FEW, _USUAL_LEAST, _GIANT_MOST, _SHELVES = 168.0, 260.0, 84.0, 420.0, 2 * 1240.0
#: A figure takes so much paper at least, and so much beside it, px; chosen by eye, as are the
#: numbers below.
_NARROWEST, BESIDE = 118.0, 18.0
#: Lines of height there are at most, and px between them at least.
_RULES_MOST, _RULES_APART = 6, 26.0
#: Width of the place kept for a figure that is not there, of its height.
_EMPTY_WIDE = 0.34


@dataclass(frozen=True, slots=True)
class Stand:
    """How one figure stands in the line-up.

    Attributes
    ----------
    wide, high
        Size of its picture.
    below
        How much of the picture lies below the ground.
    tall
        The figure, ground to crown.
    is_told
        Whether the sheet tells that height; else it is a guess, from its heads or the usual height.
    """

    wide: float
    high: float
    below: float
    tall: float
    is_told: bool


@dataclass(frozen=True)
class Cast:
    """All figures on one ground line at one scale.

    Attributes
    ----------
    stands
        One a record, in their order.
    px
        Screen px a unit.
    rule
        Units from one line of height to the next; 0 where no height is told.
    """

    stands: tuple[Stand, ...]
    px: float
    rule: float


def line_up(records: Sequence[Record]) -> Cast:
    """Stand the figures of a show beside each other.

    Examples
    --------
    >>> cast = line_up([Record("odo", height_cm=168.0), Record("pim")])
    >>> [(stand.tall, stand.is_told) for stand in cast.stands], cast.rule
    ([(168.0, True), (168.0, False)], 50.0)
    """
    stands = tuple(
        _stand(record, tall) for record, tall in zip(records, heights(records), strict=True)
    )
    if not stands:
        return Cast((), 1.0, 0.0)
    px = _scale(stands)
    rule = 0.0
    if any(stand.is_told for stand in stands):
        rule = _rule(max(stand.tall for stand in stands), px)
        px = max(round(rule * px), 1) / rule  # lines of height on whole px
    return Cast(stands, px, rule)


def heights(records: Sequence[Record]) -> list[float]:
    """Return how tall each character stands: as told, else guessed.

    A guess is the usual height times the character's heads over the usual heads, medians of those
    whose height is told, or of all where none is; the usual height itself where the heads are
    not known.

    Examples
    --------
    >>> heights([Record("odo", height_cm=180.0, heads=6.0), Record("pim", heads=3.0)])
    [180.0, 90.0]
    """
    told = np.array([_positive(record.height_cm) for record in records])
    heads = np.array([_positive(record.heads) for record in records])
    is_told, is_counted = np.isfinite(told), np.isfinite(heads)
    usual = float(np.median(told[is_told])) if is_told.any() else _USUAL
    counted = heads[is_told & is_counted] if (is_told & is_counted).any() else heads[is_counted]
    times = heads / np.median(counted) if counted.size else np.ones_like(heads)
    guess = usual * np.clip(np.where(is_counted, times, 1.0), 1.0 / _GUESS_MOST, _GUESS_MOST)
    return [float(tall) for tall in np.where(is_told, told, guess)]


def _positive(value: float | None) -> float:
    return float(value) if value and value > 0.0 and math.isfinite(value) else math.nan


def _stand(record: Record, tall: float) -> Stand:
    is_told = math.isfinite(_positive(record.height_cm))
    figure = record.figure
    if figure is None:
        return Stand(_EMPTY_WIDE * tall, tall, 0.0, tall, is_told)
    px = figure.ground - figure.crown
    if not (px > 0.0 and figure.ground > 0.0):  # points that can't be: the picture is the figure
        return Stand(tall * figure.width / figure.height, tall, 0.0, tall, is_told)
    unit = tall / px
    below = max(figure.height - figure.ground, 0.0)
    return Stand(figure.width * unit, figure.height * unit, below * unit, tall, is_told)


def _scale(stands: Sequence[Stand]) -> float:
    """Return px a unit: as large as lets the cast stand on two shelves, within bounds."""
    tallest = max(stand.tall for stand in stands)
    usual = float(np.median([stand.tall for stand in stands]))
    px = _FEW / tallest
    room = [max(stand.wide * px + BESIDE, _NARROWEST) for stand in stands]
    px *= min(max(_SHELVES / sum(room), _MANY / _FEW), 1.0)
    return max(px, min(_USUAL_LEAST / usual, _GIANT_MOST / tallest))


def _rule(tallest: float, px: float) -> float:
    """Return a round distance of lines, neither too many nor too near."""
    least = max(tallest / _RULES_MOST, _RULES_APART / px)
    power = 10.0 ** math.floor(math.log10(least))
    return next(step * power for step in (1.0, 2.0, 5.0, 10.0) if step * power >= least)

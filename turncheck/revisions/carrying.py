"""Carries placings over from one revision's drawing to the next where the drawing is unchanged.

Pixels decide that and not motion: a shoulder under plain cloth goes along with whatever moves
around it, and no rule of motion notices.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from turncheck.geometry.measurement import Measurement
from turncheck.geometry.placing_sd import stated_sd
from turncheck.images.picture_file import decode
from turncheck.images.registration import Registration, register
from turncheck.instructions.result import Result
from turncheck.sheet.landmark_table import PIXEL_EDGE, SD_LEAST, Placing
from turncheck.sheet.model import Sheet

#: Half the side of the square around a point that must be unchanged, share of the figure height,
#: and the share of it that may differ: of 74 points that stayed none was taken for moved and of 24
#: that moved all were, in a trial on samples; by eye, as tests/revisions/test_carrying.py holds.
REACH, CHANGED_MOST = 0.03, 0.002
#: Where fewer of a drawing's points than such a share are unchanged, it was drawn anew as a whole,
#: turned otherwise say, and what looks alike here and there lies elsewhere; common practice, no
#: source.
UNCHANGED_LEAST = 0.5
#: A placing's sd is written where the registration makes it so many times as large as stated;
#: common practice, no source.
_GROWN = 1.01


@dataclass(frozen=True)
class Uncarried:
    """A point to place anew: where it would lie if it had not moved, px of the new drawing.

    NaN where even that can't be said.
    """

    view: str
    landmark: str
    x: float
    y: float


@dataclass(frozen=True)
class Carried:
    """What became of the old revision's placings that the new one has none of its own for.

    Attributes
    ----------
    placings
        Those whose drawing is unchanged around them, px of the new drawings.
    uncarried
        All others.
    laid
        By view, how the new drawing lies on the old one; only of those that do.
    """

    placings: tuple[Placing, ...]
    uncarried: tuple[Uncarried, ...]
    laid: dict[str, Registration]


def carry(old: Result, new: Sheet, own: Iterable[Placing]) -> Carried:
    """Return what can be carried from a checked sheet to its next revision.

    Parameters
    ----------
    own
        What the new revision has placed itself, which nothing is carried over.
    """
    measured = old.measured
    there = {(placing.view, placing.landmark) for placing in own}
    marks = new.vocabulary.landmarks
    placings: list[Placing] = []
    uncarried: list[Uncarried] = []
    laid: dict[str, Registration] = {}
    for name in (name for name in new.views if name in old.sheet.views):
        height = measured.figure_height * measured.size(measured.views.index(name))
        pictures = old.sheet.views[name].picture, new.views[name].picture
        lies = register(decode(pictures[0]), decode(pictures[1]), height)
        here = [one for one in old.placings if one.view == name and one.landmark in marks]
        moved = {
            one.landmark
            for one in here
            if lies is None or lies.changed_share(one.x, one.y, REACH * height) > CHANGED_MOST
        }
        if lies is not None:
            laid[name] = lies
            parts = {marks[mark].part for mark in moved} - {""}
            moved |= {  # behind another part nothing shows whether a limb moved as a whole
                one.landmark for one in here if one.hidden and marks[one.landmark].part in parts
            }
            names = {one.landmark for one in here}
            if len(names - moved) < UNCHANGED_LEAST * len(names):
                moved = names
        for one in here:
            if (name, one.landmark) in there:
                continue
            at = lies.to(one.x, one.y) if lies is not None else (math.nan, math.nan)
            if not _is_inside(at, new, name):
                at = math.nan, math.nan
            elif lies is not None and one.landmark not in moved:
                sd = _grown(one, lies, measured, height)
                placings.append(replace(one, x=round(at[0], 2), y=round(at[1], 2), sd=sd))
                continue
            uncarried.append(Uncarried(name, one.landmark, *at))
    return Carried(tuple(placings), tuple(dict.fromkeys(uncarried)), laid)


def _is_inside(at: tuple[float, float], sheet: Sheet, view: str) -> bool:
    picture = sheet.views[view].picture
    sides = zip(at, (picture.width, picture.height), strict=True)
    return all(-PIXEL_EDGE <= place <= side - PIXEL_EDGE for place, side in sides)


def _grown(placing: Placing, lies: Registration, measured: Measurement, height: float) -> float:
    """Return a carried placing's sd, px; NaN where the sheet's own says it as well."""
    known = stated_sd(measured.sheet.placing_sd / 100.0 * height, placing.hidden, placing.sd)
    grown = math.hypot(known * lies.scale, lies.sd(placing.x, placing.y))
    if math.isnan(placing.sd) and grown < _GROWN * known * lies.scale:
        return math.nan
    return max(grown, SD_LEAST)

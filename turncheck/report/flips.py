"""Flipped drawings: what differs where one may be another's mirror image.

Frame of each picture: px of the first drawing, y down.
"""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace

from turncheck.assets.pages import heading
from turncheck.handover.flipped import DIFFERS
from turncheck.handover.flips import Flip, OneSided, find_flips
from turncheck.handover.ghost import points_of
from turncheck.handover.matrices import applied
from turncheck.handover.put_right import figure_bounds
from turncheck.plain import capital, counted, number, sentence_px, spoken, together
from turncheck.report.bands import box_about, strip
from turncheck.report.facts import Facts

#: Width and height of a picture on the screen, px, and paper around the figure, as a share of its
#: height; chosen by eye.
_SIDES, _AROUND = (420.0, 520.0), 0.05
_WHY = {
    "named": "sheet.toml says that one may be flipped from the other",
    "yaw": "they are meant as each other's mirror image",
    "alike": "one looks like the other flipped",
}


def build_flips(facts: Facts) -> list[SimpleNamespace] | None:
    """Return each pair with its pictures and sentences; None where there is no pair."""
    measured = facts.checked.measured
    return [_pair(facts, flip) for flip in find_flips(measured)] or None


def _pair(facts: Facts, flip: Flip) -> SimpleNamespace:
    points = points_of(facts.checked.measured, flip.view)
    left, top, right, bottom = bounds = figure_bounds(facts.checked, flip.view, points)
    paper = 1.0 + 2.0 * _AROUND
    box = box_about(bounds, ((right - left) * paper, (bottom - top) * paper), _SIDES)
    return SimpleNamespace(
        flip=flip,
        title=f"{heading(flip.view)} and {spoken(flip.other)}",
        why=_WHY[flip.why],
        says=[together(capital(says)) for says in _says(facts, flip)],
        box=box,
        unit=box[2] / _SIDES[0],
        strips=[strip(one.here, one.flipped, one.y) for one in flip.outline],
        here=[one.here for one in flip.points if one.here],
        there=[one.flipped for one in flip.points if one.flipped],
        fills=_spots(flip),
        sides=_SIDES,
    )


def _spots(flip: Flip) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """Return where the colours lie that only the first, and only the flipped drawing has."""
    here = [fill.at for fill, first in flip.fills if first]
    there = [applied(flip.matrix, fill.at) for fill, first in flip.fills if not first]
    return here, there


def _says(facts: Facts, flip: Flip) -> Iterator[str]:
    one, other = spoken(flip.view), spoken(flip.other)
    if flip.exact:
        yield f"the {other} drawing is the {one} drawing flipped, line for line"
    for point in flip.points:
        yield _of_point(facts, flip, point)
    for stretch in flip.outline:
        rows = f"{number(stretch.y[0], 0)} to {number(stretch.y[-1], 0)} px from the top"
        far = _px(flip, stretch.most)
        yield f"the outline differs on the {stretch.side}, {rows}, by up to {far}"
    if flip.places:
        places = counted(len(flip.places), "place")
        yield f"{places} within the figure where only one of them is drawn on"
    for fill, first in flip.fills:
        yield f"{fill.label} is in the {one if first else other} drawing only"
    if not flip.differs and not flip.points:
        least = f"{DIFFERS:g} % of the figure"
        yield f"nothing differs by more than {least}: one may be flipped for the other"


def _of_point(facts: Facts, flip: Flip, point: OneSided) -> str:
    title = facts.titles[point.name]
    if point.here is None or point.flipped is None:
        seen = flip.view if point.here else flip.other
        return f"{title}, on one side only, is placed in the {spoken(seen)} drawing alone"
    if flip.changed_sides(point):
        return (
            f"{title}, which belongs to one side only, has changed sides: in one of the two it is "
            "wrong; draw it again there"
        )
    return f"{title}, on one side only: a flip would move it {_px(flip, point.apart)}"


def _px(flip: Flip, far: float) -> str:
    return f"{sentence_px(far)} ({number(100.0 * far / flip.height)} %)"

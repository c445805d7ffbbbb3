"""The page of pivots, to print and keep beside the desk."""

from __future__ import annotations

import math
from types import SimpleNamespace

from turncheck.assets.pages import environment, policy, style
from turncheck.geometry.guard_bands import WIDTH
from turncheck.handover.pivot_places import PivotPlace
from turncheck.handover.pivots import Pivots
from turncheck.sheet.model import Rig
from turncheck.wording.findings import VERDICTS

_ROOM = "turncheck.handover"
#: A pivot that is drawn this near to where it goes needs no line to there, % of the figure height;
#: common practice, no source.
DRAWN_NEAR = 0.5
#: Letters of a pivot's number in a drawing are this tall, % of the figure height; chosen by eye.
_LETTERS = 2.0


def render(pivots: Pivots) -> str:
    """Return the page; the same input gives the same text."""
    checked = pivots.checked
    looks = style(_ROOM, ("pivots",))
    return (
        environment(_ROOM)
        .get_template("pivots.html.j2")
        .render(
            policy=policy([looks]),
            style=looks,
            sheet=checked.sheet,
            summary=SimpleNamespace(verdict=VERDICTS[checked.verdict], how_much=checked.how_much),
            drawings=[_drawing(pivots, view) for view in checked.measured.views],
            body=pivots.body_rows,
            titles={name: mark.title for name, mark in checked.sheet.vocabulary.landmarks.items()},
            hidden=pivots.hidden,
            parts=checked.sheet.vocabulary.parts,
            rig=rig_words(checked.sheet.rig),
            width=WIDTH,
        )
    )


def _drawing(pivots: Pivots, view: str) -> SimpleNamespace:
    """Return a drawing with its pivots, numbered from the top as they lie in it."""
    checked = pivots.checked
    measured = checked.measured
    height = measured.figure_height * measured.size(measured.views.index(view))
    marked = marked_places(pivots, view)
    places = [one.place for one in marked]
    letters = _LETTERS / 100.0 * height
    xs = [x for one in places for x in (one.x, one.drawn_x) if math.isfinite(x)]
    picture = checked.sheet.views[view].picture
    top, bottom = (min(one.y for one in places), max(one.y for one in places))
    box = (
        max(min(xs) - 0.25 * height, 0.0),
        max(min(top, bottom - height) - 0.15 * height, 0.0),
        min(max(xs) + 0.25 * height, picture.width),
        min(bottom + 0.05 * height, picture.height),
    )
    return SimpleNamespace(
        view=view,
        picture=checked.drawings[view],
        size=picture,
        box=(box[0], box[1], box[2] - box[0], box[3] - box[1]),
        unit=letters,
        places=marked,
    )


def marked_places(pivots: Pivots, view: str) -> list[SimpleNamespace]:
    """Return a drawing's pivots from the top as `place`, and whether each is drawn elsewhere."""
    measured = pivots.checked.measured
    height = measured.figure_height * measured.size(measured.views.index(view))
    places = [one for one in pivots.places if one.view == view and math.isfinite(one.x + one.y)]
    places.sort(key=lambda one: (one.y, one.x))
    return [_marked(one, height) for one in places]


def _marked(place: PivotPlace, height: float) -> SimpleNamespace:
    away = math.hypot(place.x - place.drawn_x, place.y - place.drawn_y)
    return SimpleNamespace(
        place=place,
        moved=away > DRAWN_NEAR / 100.0 * height,
    )


def rig_words(rig: Rig) -> str:
    """Return a rig's units as people say them."""
    unit = f"the figure is {rig.figure:g} tall" if rig.figure else "px of the reference drawing"
    zero = "the turning axis on the ground"
    if rig.origin:
        zero = f"({rig.origin[0]:g}, {rig.origin[1]:g}) px of each drawing"
    return f"{unit}; zero is {zero}; y counts {'up' if rig.y_up else 'down'}"

"""The page of pivots, to print and keep beside the desk."""

from __future__ import annotations

import math
from types import SimpleNamespace

from turncheck.assets.pages import environment, policy, style
from turncheck.geometry.guard_bands import WIDTH
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
    xs = [x for one in places for x in (one.x, one.drawn_x) if math.isfinite(x)]
    picture = checked.sheet.views[view].picture
    first, last = places[0].y, places[-1].y
    left = max(min(xs) - 0.25 * height, 0.0)
    top = max(min(first, last - height) - 0.15 * height, 0.0)
    right = min(max(xs) + 0.25 * height, picture.width)
    bottom = min(last + 0.05 * height, picture.height)
    return SimpleNamespace(
        view=view,
        picture=checked.drawings[view],
        size=picture,
        box=(left, top, right - left, bottom - top),
        unit=_LETTERS / 100.0 * height,
        places=marked,
    )


def marked_places(pivots: Pivots, view: str) -> list[SimpleNamespace]:
    """Return a drawing's pivots from the top as `place`, and whether each is drawn elsewhere."""
    measured = pivots.checked.measured
    height = measured.figure_height * measured.size(measured.views.index(view))
    places = [one for one in pivots.places if one.view == view and math.isfinite(one.x + one.y)]
    places.sort(key=lambda one: (one.y, one.x))
    near = DRAWN_NEAR / 100.0 * height
    away = (math.hypot(one.x - one.drawn_x, one.y - one.drawn_y) for one in places)
    return [
        SimpleNamespace(place=one, moved=far > near) for one, far in zip(places, away, strict=True)
    ]


def rig_words(rig: Rig) -> str:
    """Return a rig's units as people say them."""
    unit = f"the figure is {rig.figure:g} tall" if rig.figure else "px of the reference drawing"
    zero = "the turning axis on the ground"
    if rig.origin:
        zero = f"({rig.origin[0]:g}, {rig.origin[1]:g}) px of each drawing"
    return f"{unit}; zero is {zero}; y counts {'up' if rig.y_up else 'down'}"

"""What is built on the drawings: the pivots in each, and the character turned all round."""

from __future__ import annotations

from types import SimpleNamespace

from turncheck.handover.pivots import pivots_of
from turncheck.handover.pivots_page import marked_places, rig_words
from turncheck.images.thumbnail import data_uri
from turncheck.plain import degrees
from turncheck.report.facts import Facts


def build_rig(facts: Facts) -> SimpleNamespace | None:
    """Return the pivots of each drawing and the parts that lie hidden; None without pivots."""
    found = pivots_of(facts.checked)
    vocabulary = facts.checked.sheet.vocabulary
    drawings = [(view, marked_places(found, view)) for view in facts.views]
    if not any(one.place.parent for _, places in drawings for one in places):
        return None
    return SimpleNamespace(
        drawings=drawings,
        hidden=[
            (view, [one.title for one in found.hidden if one.view == view])
            for view in facts.views
            if any(one.view == view for one in found.hidden)
        ],
        titles={name: mark.title for name, mark in vocabulary.landmarks.items()},
        parts=vocabulary.parts,
        words=rig_words(facts.checked.sheet.rig),
    )


def build_turning(facts: Facts) -> SimpleNamespace | None:
    """Return the angles and where they stand in the picture; None where no turn was drawn.

    `stale` is whether it was drawn of what is no longer so; `start` is the angle that is shown
    first, the one nearest the front.
    """
    turn = facts.turn
    if turn is None:
        return None
    strip = turn.strip
    if strip is None:
        return SimpleNamespace(stale=True)
    return SimpleNamespace(
        stale=False,
        uri=data_uri("image/webp", turn.picture),
        size=strip.size,
        strip=strip,
        angles=[(degrees(yaw), *strip.corner(number)) for number, yaw in enumerate(strip.yaws)],
        start=min(range(len(strip.yaws)), key=lambda number: abs(strip.yaws[number])),
    )

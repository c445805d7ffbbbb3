"""For the rig: where each pivot goes in each drawing, and what can't be seen in it."""

from __future__ import annotations

from types import SimpleNamespace

from turncheck.handover.pivots import pivots_of
from turncheck.handover.pivots_page import marked_places, rig_words
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

"""The turn slider: the character turned through all angles, from the guides beside the report."""

from __future__ import annotations

from types import SimpleNamespace

from turncheck.images.thumbnail import data_uri
from turncheck.plain import degrees
from turncheck.report.facts import Facts


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

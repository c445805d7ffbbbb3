"""What a survey keeps of one sheet."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from sys import intern
from typing import Any


@dataclass(frozen=True, slots=True)
class Spot:
    """One of a sheet's worst points, magnified.

    Attributes
    ----------
    says, view
        What is off, in words; the drawing's title.
    picture
        The file, seen from the index page; '' where there is none.
    """

    says: str
    view: str
    picture: str


@dataclass(frozen=True, slots=True)
class Figure:
    """The reference drawing's figure cut out, as a thumbnail.

    Attributes
    ----------
    picture
        The file, seen from the index page; its paper is clear.
    width, height
        px.
    crown, ground, axis
        y of crown and ground, x of the turning axis, px of the thumbnail, which they may lie
        outside of.
    """

    picture: str
    width: int
    height: int
    crown: float
    ground: float
    axis: float


@dataclass(frozen=True, slots=True)
class Record:
    """What a survey keeps of one sheet.

    Attributes
    ----------
    path
        Of the sheet below the folder, with slashes.
    character, revision
        '' where they can't be read.
    verdict
        on_model, off_model, undecided or not_measured; '' where the sheet can't be used.
    to_redraw, to_decide
        How many things there are to redraw, and to decide first.
    worst, worst_pct
        What is furthest off model, in words, else the first warning, '' where there is neither;
        the largest off-model drift of all that are in % of the figure height, with its sign.
    approval, changed
        none, valid or stale; what a stale approval no longer matches, in words.
    reason
        Why the sheet can't be used, one sentence; '' where it can.
    seconds
        Processor time of the check when it was last made.
    height_cm, heads
        0 where unknown; figure height over head height, None where crown or chin is not placed.
    drawn_by
        By view; '' where unknown.
    report
        The report, seen from the index page; '' where there is none.
    spots
        Only of a sheet in a sample.
    """

    path: str
    character: str = ""
    revision: str = ""
    verdict: str = ""
    to_redraw: int = 0
    worst: str = ""
    worst_pct: float | None = None
    approval: str = "none"
    changed: tuple[str, ...] = ()
    reason: str = ""
    seconds: float = 0.0
    height_cm: float = 0.0
    heads: float | None = None
    drawn_by: Mapping[str, str] = field(default_factory=dict)
    report: str = ""
    figure: Figure | None = None
    spots: tuple[Spot, ...] = ()
    to_decide: int = 0


def from_json(held: Mapping[str, Any]) -> Record:
    """Return the record whose `asdict` JSON has held.

    Raises
    ------
    TypeError, KeyError, AttributeError
        If it is none.
    """
    figure = held["figure"]
    return Record(
        **{
            **held,
            "changed": tuple(held["changed"]),
            "drawn_by": {intern(view): intern(by) for view, by in held["drawn_by"].items()},
            "figure": Figure(**figure) if figure else None,
            "spots": tuple(Spot(**spot) for spot in held["spots"]),
        }
    )


def natural(text: str) -> list[tuple[int, int, str]]:
    """Return what puts revisions or names in order as people count, numbers by their value.

    >>> sorted(["10", "9", "B", "A2", "A10"], key=natural)
    ['9', '10', 'A2', 'A10', 'B']
    """
    words = re.findall(r"[0-9]+|[^0-9]+", text)
    return [(0, int(w), "") if w.isdecimal() else (1, 0, w) for w in words]

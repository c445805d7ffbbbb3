"""What a likely mistake is, and how it is told."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from turncheck.geometry.turn import Misreading
from turncheck.plain import listed, spoken


@dataclass(frozen=True)
class Slip:
    """A likely mistake in what was given: until it is mended no finding can be trusted.

    Attributes
    ----------
    code
        Names its kind, for programs; never renamed.
    says
        One sentence: what it looks like, and the mend.
    views
        The drawings that it is about.
    reading
        How these are to be read, and no other drawing otherwise than asked; None where it says
        nothing of that.
    is_of_files
        Whether these drawings are not the ones that their points were placed on.
    """

    code: str
    says: str
    views: tuple[str, ...]
    reading: Misreading | None = None
    is_of_files: bool = False


def named(views: Iterable[str]) -> str:
    """Return drawings as a sentence lists them.

    >>> named(["front"]), named(["front", "three_quarter", "side"])
    ('front', 'front, three quarter and side')
    """
    return listed(map(spoken, views))


def does(views: Iterable[str], one: str, many: str) -> str:
    """Return a verb that agrees with how many drawings there are."""
    return one if len(tuple(views)) == 1 else many

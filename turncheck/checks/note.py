"""What a row says in words, and the names in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass


class ViewName(str):
    """The name of a view inside a note."""


class LandmarkName(str):
    """The name of a landmark or line inside a note."""


@dataclass(frozen=True)
class Note:
    """What a row says beside its figures; names in it are marked, to be written as people say them.

    Examples
    --------
    >>> note = noted("{} is not placed on {}", LandmarkName("knee_l"), ViewName("side"))
    >>> str(note), note.spoken({"knee_l": "left knee", "side": "side"})
    ('knee_l is not placed on side', 'left knee is not placed on side')
    """

    parts: tuple[str, ...] = ()

    def __str__(self) -> str:
        return "".join(self.parts)

    def __bool__(self) -> bool:
        return bool(self.parts)

    def spoken(self, titles: Mapping[str, str]) -> str:
        """Return the note with names as people say them."""
        named = (ViewName, LandmarkName)
        return "".join(titles.get(p, p) if isinstance(p, named) else p for p in self.parts)


def noted(template: str, *names: str | Note) -> Note:
    """Return a note: a text, with a name or a note in place of each {}."""
    parts: list[str] = []
    texts = template.split("{}")
    for text, name in zip(texts, (*names, ""), strict=True):
        parts += [text, *(name.parts if isinstance(name, Note) else [name])]
    return Note(tuple(part for part in parts if part))


def joined(notes: Iterable[str | Note], between: str = "; ") -> Note:
    """Return names or notes one after the other as one note, empty ones left out."""
    some = [note for note in notes if note]
    return noted(between.join(["{}"] * len(some)), *some)

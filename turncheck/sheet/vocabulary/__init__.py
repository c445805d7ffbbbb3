"""Vocabularies: which landmarks a kind of body has, as data files beside this module."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from importlib import resources
from itertools import chain
from pathlib import Path
from typing import Any, Literal

from pydantic import Field

from turncheck.errors import FileFaults, did_you_mean, quoted, unknown
from turncheck.files.user_files import is_file, is_inside, read_text
from turncheck.sheet.toml_faults import Entry, Flag, Text, Tolerance, read_toml

Kind = Literal["height", "eye", "pivot", "width"]
SHIPPED = ("biped", "quadruped")
SIDES = {"l": "left", "r": "right"}

#: Landmark, view and part names: a letter or digit, then letters, digits, space and _ . - ( ) ',
#: no space at the end.
NAME_PATTERN = r"^[^\W_](?:[\w .()'-]{0,62}[\w.()'-])?$"
#: Every sheet is measured between these.
_NEEDED = ("ground", "crown")


@dataclass(frozen=True)
class Landmark:
    """A named point of the body.

    Attributes
    ----------
    kind
        What it is compared for: `height` and `eye` in y, `pivot` in both, `width` in x.
    part
        The part that it moves with, or ''.
    twin
        The same landmark on the other side, or ''.
    symmetric
        Whether it is meant to mirror its twin, or to lie on the midline where `midline`.
    coincides_with
        A landmark that must lie on the same spot, or ''.
    parent
        The pivot that carries this one along, or '' where none does.
    slides
        Whether it lies on the outline, so that a turn of the body moves it over the surface:
        where it falls sideways then says nothing of the turn.
    height_varies
        Whether another side shows another place of it, a little higher or lower: its height is
        compared, and no drawing's size or ground rests on it.
    tolerance
        Own tolerance in % of the figure height, or None for the check's.
    """

    name: str
    kind: Kind
    part: str = ""
    midline: bool = False
    twin: str = ""
    symmetric: bool = True
    slides: bool = False
    height_varies: bool = False
    coincides_with: str = ""
    parent: str = ""
    tolerance: float | None = None
    says: str = ""

    @property
    def title(self) -> str:
        """The name as a person says it: `knee_l` is 'left knee'."""
        words = self.name.replace("_", " ")
        side = SIDES.get(self.name[-1]) if self.name.endswith(("_l", "_r")) else None
        return f"{side} {words[:-2]}" if side else words

    @property
    def has_height(self) -> bool:
        """Whether its height is compared."""
        return self.kind != "width"

    @property
    def is_firm(self) -> bool:
        """Whether it lies at one height from every side."""
        return self.has_height and not self.height_varies


class Proportion(Entry):
    """`[[proportions]]`: a ratio of two spans."""

    name: Text = Field(min_length=1, max_length=80)
    of: tuple[Text, Text] = Field(description="the first span, from one landmark to another")
    to: tuple[Text, Text] = Field(description="the span it is compared to")
    tolerance: Tolerance | None = Field(None, description="% of the ratio")


@dataclass(frozen=True)
class Vocabulary:
    """All landmarks that a sheet may use.

    `ahead` pairs landmarks of which the first lies further forward in any body, `above` those of
    which the first lies higher in any body that stands; those of the `face` are not seen from
    behind.
    """

    name: str
    landmarks: Mapping[str, Landmark]
    parts: Mapping[str, str]
    head: tuple[str, str]
    eyes: tuple[str, ...]
    tolerances: Mapping[str, float] = field(default_factory=dict)
    proportions: tuple[Proportion, ...] = ()
    ahead: tuple[tuple[str, str], ...] = ()
    above: tuple[tuple[str, str], ...] = ()
    face: tuple[str, ...] = ()

    def of_kind(self, *kinds: Kind) -> list[Landmark]:
        """Landmarks of these kinds, in the vocabulary's order."""
        return [mark for mark in self.landmarks.values() if mark.kind in kinds]

    def pairs(self, *kinds: Kind) -> list[tuple[Landmark, Landmark]]:
        """Left and right landmarks of these kinds (all kinds if none is given)."""
        return [
            (mark, self.landmarks[mark.twin])
            for mark in self.landmarks.values()
            if mark.name.endswith("_l") and mark.twin and (not kinds or mark.kind in kinds)
        ]

    def part_title(self, part: str) -> str:
        """How a person would call the part, e.g. 'the left arm'."""
        return self.parts.get(part, part)


class LandmarkEntry(Entry):
    """`[landmarks.NAME]` of a sheet or a vocabulary: an addition, or a change to a known one."""

    kind: Kind | None = Field(None, description="height, eye, pivot or width")
    part: Text | None = Field(None, description="the part that it moves with")
    midline: Flag | None = Field(None, description="meant to lie on the body's midline")
    symmetric: Flag | None = Field(None, description="meant to mirror its twin")
    slides: Flag | None = Field(
        None, description="lies on the outline, not on one spot of the body"
    )
    height_varies: Flag | None = Field(
        None, description="another side shows another place of it, a little higher or lower"
    )
    coincides_with: Text | None = Field(None, description="landmark meant on the same spot")
    parent: Text | None = Field(None, description="pivot that carries this one along")
    tolerance: Tolerance | None = Field(None, description="own tolerance, % of figure height")
    says: Text | None = Field(None, description="what the landmark is, for the person placing it")
    absent: Flag | None = Field(None, description="this character has no such point")


class VocabularyFile(Entry):
    """A vocabulary file."""

    name: str = Field(min_length=1, pattern=NAME_PATTERN)
    head: tuple[Text, Text]
    eyes: tuple[Text, ...] = ()
    ahead: tuple[tuple[Text, Text], ...] = Field(
        (), description="landmarks of which the first lies further forward in any body"
    )
    above: tuple[tuple[Text, Text], ...] = Field(
        (), description="landmarks of which the first lies higher in any body that stands"
    )
    face: tuple[Text, ...] = Field((), description="landmarks that can't be seen from behind")
    tolerances: dict[str, Tolerance] = Field(default_factory=dict)
    parts: dict[str, Text] = Field(default_factory=dict)
    landmarks: dict[str, LandmarkEntry]
    proportions: tuple[Proportion, ...] = ()


def read_vocabulary(name: str, folder: Path, *, named_in: Path | None = None) -> Vocabulary:
    """Read a shipped vocabulary, or a TOML file beside the sheet.

    Parameters
    ----------
    name
        `biped`, `quadruped` or the name of a TOML file in `folder`.
    named_in
        The file that names it, for the faults' sentences; the folder if none is given.

    Raises
    ------
    TurncheckError
        If there is no such vocabulary or its file has faults (all are named).

    Examples
    --------
    >>> biped = read_vocabulary("biped", Path())
    >>> biped.landmarks["knee_l"].twin, biped.part_title("arm_r")
    ('knee_r', 'the right arm')
    """
    if name in SHIPPED:
        faults = FileFaults(f"{name}.toml")
        text = resources.files(__name__).joinpath(f"{name}.toml").read_text("utf-8")
    else:
        path = _beside_the_sheet(name, folder, named_in or folder)
        faults = FileFaults(str(path))
        text = read_text(path, faults)
    parsed = read_toml(text, VocabularyFile, faults)
    vocabulary = Vocabulary(
        name=parsed.name,
        landmarks={},
        parts=dict(pair for name, title in parsed.parts.items() for pair in _both(name, title)),
        head=parsed.head,
        eyes=parsed.eyes,
        tolerances=parsed.tolerances,
        ahead=_sided_pairs(parsed.ahead),
        above=_sided_pairs(parsed.above),
        face=tuple(name for pattern in parsed.face for name, _ in _sides(pattern)),
    )
    vocabulary = extended(vocabulary, parsed.landmarks, parsed.proportions, faults)
    ordered = chain(*vocabulary.ahead, *vocabulary.above)
    used = (*vocabulary.head, *vocabulary.eyes, *ordered, *vocabulary.face, *_NEEDED)
    for needed in used:
        if needed not in vocabulary.landmarks:
            faults.add("", f"{quoted(needed)} is used but is not among the landmarks; add it")
    faults.raise_any()
    return vocabulary


def refuse_name(name: str, place: str, faults: FileFaults) -> None:
    """Note a fault where a name of the user's does not follow `NAME_PATTERN`."""
    if not re.fullmatch(NAME_PATTERN, name):
        faults.add(
            place,
            f"{quoted(name)} is not a usable name; use letters, digits, spaces and _ . - only",
        )


def extended(
    vocabulary: Vocabulary,
    landmarks: Mapping[str, LandmarkEntry],
    proportions: tuple[Proportion, ...],
    faults: FileFaults,
) -> Vocabulary:
    """Return the vocabulary with additions and changes worked in; faults are noted."""
    marks = dict(vocabulary.landmarks)
    lacking: set[str] = set()
    for pattern, entry in landmarks.items():
        refuse_name(pattern.replace("*", "x"), "[landmarks]", faults)
        given = entry.model_dump(exclude_none=True)
        if given.pop("absent", False):
            lacking |= {name for name, _ in _sides(pattern) if name in marks}
        for name, side in _sides(pattern):
            values = {key: _sided(value, side) for key, value in given.items()}
            if name in marks:
                marks[name] = replace(marks[name], **values)
            elif "kind" in values:
                marks[name] = Landmark(name=name, **values)
            else:
                faults.add(
                    f"[landmarks.{pattern}]",
                    f"a new landmark needs a kind; {did_you_mean(name, marks)}",
                )
    for name in lacking & {*vocabulary.head, *_NEEDED}:
        faults.add(f"[landmarks.{name}]", "every sheet is measured by it, so it can't be absent")
    vocabulary, marks = _without(lacking, vocabulary, marks)
    for name, mark in marks.items():
        twin = _twin(name)
        marks[name] = replace(mark, twin=twin if twin in marks else "")
        for key in ("coincides_with", "parent"):
            other = getattr(mark, key)
            if other == name:
                faults.add(f"[landmarks.{name}]", f"{key} names itself; name another landmark")
            elif other and other not in marks:
                says = f"{key} = {unknown(other, marks, 'a landmark')}"
                faults.add(f"[landmarks.{name}]", says)
    ratios = list(vocabulary.proportions)
    for ratio in proportions:
        patterned = "*" in "".join((ratio.name, *ratio.of, *ratio.to))
        for side in SIDES if patterned else [""]:
            of, to = (tuple(_sided(name, side) for name in span) for span in (ratio.of, ratio.to))
            name = ratio.name.replace("*", SIDES.get(side, "")).strip()
            ratios.append(ratio.model_copy(update={"name": name, "of": of, "to": to}))
    for proportion in ratios:
        for name in (*proportion.of, *proportion.to):
            if name not in marks:
                place = f'[[proportions]] "{proportion.name}"'
                faults.add(place, unknown(name, marks, "a landmark"))
    return replace(vocabulary, landmarks=marks, proportions=tuple(ratios))


def _without(
    lacking: set[str], vocabulary: Vocabulary, marks: Mapping[str, Landmark]
) -> tuple[Vocabulary, dict[str, Landmark]]:
    """Return a vocabulary and its landmarks without some, and without what needs them."""

    def whole(names: Iterable[str]) -> bool:
        return not lacking & set(names)

    def carrier(name: str) -> str:
        for _ in lacking:  # no more often, should they carry each other
            name = marks[name].parent if name in lacking else name
        return name if name not in lacking else ""

    kept = {
        name: replace(
            mark,
            coincides_with="" if mark.coincides_with in lacking else mark.coincides_with,
            parent=carrier(mark.parent),
        )
        for name, mark in marks.items()
        if name not in lacking
    }
    vocabulary = replace(
        vocabulary,
        eyes=tuple(name for name in vocabulary.eyes if name not in lacking),
        face=tuple(name for name in vocabulary.face if name not in lacking),
        ahead=tuple(filter(whole, vocabulary.ahead)),
        above=tuple(filter(whole, vocabulary.above)),
        proportions=tuple(r for r in vocabulary.proportions if whole((*r.of, *r.to))),
    )
    return vocabulary, kept


def _beside_the_sheet(name: str, folder: Path, named_in: Path) -> Path:
    path = folder / name
    faults = FileFaults(f"{named_in}, vocabulary = {quoted(name)}")
    if not name.endswith(".toml"):
        faults.add("", f"there is no vocabulary of this name; {did_you_mean(name, SHIPPED)}")
    elif not is_inside(path, folder):
        faults.add("", "a vocabulary must lie in the sheet's own folder; copy it there")
    elif not is_file(path):
        there = (file.name for file in folder.glob("*.toml"))
        faults.add("", f"there is no such file beside the sheet; {did_you_mean(name, there)}")
    faults.raise_any()
    return path


def _sides(pattern: str) -> list[tuple[str, str]]:
    if "*" not in pattern:
        return [(pattern, pattern[-1] if pattern.endswith(("_l", "_r")) else "")]
    return [(pattern.replace("*", side), side) for side in SIDES]


def _both(pattern: str, title: str) -> list[tuple[str, str]]:
    return [(name, title.replace("*", SIDES.get(side, "*"))) for name, side in _sides(pattern)]


def _sided_pairs(pairs: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    return tuple(
        (_sided(first, side), _sided(second, side))
        for first, second in pairs
        for _, side in _sides(first)
    )


def _sided(value: Any, side: str) -> Any:
    return value.replace("*", side) if isinstance(value, str) and side else value


def _twin(name: str) -> str:
    other = {"_l": "r", "_r": "l"}.get(name[-2:])
    return name[:-1] + other if other else ""

"""Marked sheets as examples to learn from: every drawing in the frame of its figure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from turncheck.checks.register import open_sheet
from turncheck.errors import TurncheckError
from turncheck.geometry.heights import averaged
from turncheck.geometry.placing_sd import stated_sd
from turncheck.numerics.arrays import Bools, Floats, Ints
from turncheck.placing.drawings import Drawings
from turncheck.placing.learned.model import (
    SITUATIONS,
    Point,
    frames_of,
    outlines_of,
    views_by_yaw,
)
from turncheck.placing.learned.model_file import Source
from turncheck.placing.learned.outline import BANDS, PER_BAND
from turncheck.placing.proposing import propose
from turncheck.plain import spoken
from turncheck.sheet.landmark_table import read_table
from turncheck.sheet.model import LANDMARKS_FILE


@dataclass(frozen=True)
class Spot:
    """A point in the frame of its drawing.

    Attributes
    ----------
    variance
        By its hand, of x and of y.
    hidden
        Whether it lies behind another part.
    """

    x: float
    y: float
    variance: float
    hidden: bool


@dataclass(frozen=True)
class Proposed:
    """A proposal that rests on nothing learned, in the frame; and whether its height is ruled."""

    x: float
    y: float
    ruled: bool


@dataclass(frozen=True)
class Example:
    """One marked sheet; lengths are % of each figure's own height, see `Frame`.

    Attributes
    ----------
    views
        Their names, by yaw.
    percent
        One % of the figure height, ground to crown.
    steps
        The yaws of the base view and of the one nearest to the side: the order of placing.
    proposed
        By situation, `steps` being placed one after the other, and the grounds with the first.
    """

    source: Source
    vocabulary: str
    views: Mapping[int, str]
    points: Mapping[Point, Spot]
    outlines: Mapping[int, Floats]
    percent: float
    steps: tuple[int, int]
    proposed: Sequence[Mapping[Point, Proposed]]

    @property
    def who(self) -> str:
        """The character, the same in all its revisions."""
        return self.source.character.strip().casefold()


def read_example(file: Path, path: str) -> Example:
    """Read a sheet's file and its placings; `path` is how it is called.

    Raises
    ------
    TurncheckError
        If it can't be read, or is not marked.
    """
    sheet = open_sheet(file)
    placings = tuple(read_table(sheet.folder / LANDMARKS_FILE, sheet).placings.values())
    placed, base = averaged(placings), sheet.base
    for name in ("ground", "crown"):
        if (base, name) not in placed:
            raise TurncheckError(f"its {name} is not placed on {spoken(base)}")
    drawings = Drawings(sheet)
    frames = frames_of(drawings)
    if base not in frames:
        raise TurncheckError(f"the figure on {spoken(base)} can't be told from its ground")
    percent = (placed[base, "ground"].y - placed[base, "crown"].y) / frames[base].height
    if percent <= 0.0:
        raise TurncheckError(f"its crown on {spoken(base)} lies below its ground")
    views = {yaw: view for yaw, view in views_by_yaw(sheet).items() if view in frames}
    of = {view: yaw for yaw, view in views.items()}
    points = {}
    for (view, name), one in placed.items():
        if view in of and name != "ground":
            own = 100.0 * one.sd / frames[view].height
            sd = stated_sd(sheet.placing_sd * percent, one.hidden, own)
            at = frames[view].inside(one.x, one.y)
            points[of[view], name] = Spot(*at, sd**2, one.hidden)
    side = min(views, key=lambda yaw: (abs(abs(yaw) - 90), yaw < 0))
    steps = round(sheet.views[base].yaw), side
    proposed = []
    for situation in range(SITUATIONS):
        given = [
            one
            for one in placings
            if (situation and one.landmark == "ground") or of.get(one.view) in steps[:situation]
        ]
        proposed.append(
            {
                (of[one.view], one.landmark): Proposed(
                    *frames[one.view].inside(one.x, one.y), one.ruled
                )
                for one in propose(sheet, given, drawings)
                if one.view in of
            }
        )
    return Example(
        Source(path=path, character=sheet.character, revision=sheet.revision),
        sheet.vocabulary.name,
        views,
        points,
        {of[view]: row for view, row in outlines_of(frames, drawings).items() if view in of},
        percent,
        steps,
        proposed,
    )


@dataclass(frozen=True)
class Shapes:
    """The sheets of a show as arrays over sheets (S), points (N) and outline numbers (O).

    Attributes
    ----------
    characters
        (S,) whose sheet it is, counted from 0; revisions of one character have one number.
    points
        (N,) in the order of `shapes`.
    shapes, outlines
        (S, 2 N) and (S, O), NaN where unknown.
    variance
        (S, 2 N) of each placing by its hand.
    hidden
        (S, N) whether it lies behind another part.
    """

    characters: Ints
    points: tuple[Point, ...]
    shapes: Floats
    outlines: Floats
    variance: Floats
    hidden: Bools

    def only(self, sheets: Ints) -> Shapes:
        """Return these sheets alone."""
        held = {name: value[sheets] for name, value in vars(self).items() if name != "points"}
        return Shapes(points=self.points, **held)

    @property
    def count(self) -> int:
        """How many characters there are."""
        return len(np.unique(self.characters))


def characters_of(examples: Iterable[Example]) -> int:
    """Return how many characters there are."""
    return len({one.who for one in examples})


def of_one_kind(examples: Sequence[Example]) -> tuple[list[Example], list[Source]]:
    """Return the sheets of the vocabulary that most have, and the others with the reason."""
    if not examples:
        return [], []
    most, _ = Counter(one.vocabulary for one in examples).most_common(1)[0]
    reason = f"its points are those of another kind of body ({{}}) than most sheets' ({most})"
    return _parted(examples, lambda one: one.vocabulary == most, reason)


def turned_alike(examples: Sequence[Example], least: int) -> tuple[list[Example], list[Source]]:
    """Return the sheets with a point on a drawing where `least` characters have it; and the others.

    These come with the reason.
    """
    on = _characters_on(examples)
    shared = {point for point, who in on.items() if len(who) >= least}
    reason = "no point of it is placed on a drawing that is turned as those of the others"
    return _parted(examples, lambda one: bool(shared & one.points.keys()), reason)


def _parted(
    examples: Iterable[Example], stays: Callable[[Example], bool], reason: str
) -> tuple[list[Example], list[Source]]:
    """Return the sheets that stay, and the others with the reason, which may name their kind."""
    kept, left = [], []
    for one in examples:
        if stays(one):
            kept.append(one)
        else:
            says = reason.format(one.vocabulary)
            left.append(one.source.model_copy(update={"reason": says}))
    return kept, left


def _characters_on(examples: Iterable[Example]) -> dict[Point, set[str]]:
    """Return the characters on which each point is placed."""
    on: dict[Point, set[str]] = {}
    for one in examples:
        for point in one.points:
            on.setdefault(point, set()).add(one.who)
    return on


def stacked(examples: Sequence[Example], least: int) -> tuple[Shapes, dict[Point, int]]:
    """Return the sheets as arrays, and the points that too few characters have, with how many.

    Parameters
    ----------
    least
        The fewest characters on which a point must be placed.
    """
    on = _characters_on(examples)
    points = tuple(sorted(point for point, who in on.items() if len(who) >= least))
    missing = {point: len(who) for point, who in sorted(on.items()) if len(who) < least}
    whose = {name: n for n, name in enumerate(dict.fromkeys(one.who for one in examples))}
    size = len(examples), len(points)
    shapes, variance = np.full((*size, 2), np.nan), np.full((*size, 2), np.nan)
    hidden = np.zeros(size, dtype=bool)
    yaws = list(dict.fromkeys(yaw for yaw, _ in points))
    outlines = np.full((len(examples), len(yaws), BANDS * PER_BAND), np.nan)
    for s, one in enumerate(examples):
        for n, point in enumerate(points):
            spot = one.points.get(point)
            if spot is not None:
                shapes[s, n], variance[s, n] = (spot.x, spot.y), spot.variance
                hidden[s, n] = spot.hidden
        for v, yaw in enumerate(yaws):
            if yaw in one.outlines:
                outlines[s, v] = one.outlines[yaw]
    characters = np.array([whose[one.who] for one in examples])
    flat = [each.reshape(len(examples), -1) for each in (shapes, outlines, variance)]
    return Shapes(characters, points, flat[0], flat[1], flat[2], hidden), missing

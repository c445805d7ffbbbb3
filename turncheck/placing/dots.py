"""Reads the coloured dots of a sheet's drawings as placings of its landmarks."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

from turncheck.checks.register import open_sheet
from turncheck.errors import Fault, TurncheckError, unknown
from turncheck.images.dots import DOT_RADII, Dot, find_dots, lab_at, lab_of
from turncheck.images.picture_file import decode
from turncheck.numerics.arrays import Bytes
from turncheck.placing.naming_dots import Wanted, name_dots, told_apart
from turncheck.sheet.landmark_table import Placing, read_table
from turncheck.sheet.merging_placings import Merged, merge_placings
from turncheck.sheet.model import LANDMARKS_FILE, Sheet

PLACED_BY = "dots"
#: A dot that names others has at least this chroma (CIELAB): a pupil is black, no dot. Common
#: practice, no source.
CHROMA_LEAST = 20.0


@dataclass(frozen=True)
class DotReading:
    """One landmark that should have a dot on one view.

    Attributes
    ----------
    dot
        None where none was found.
    doubt
        Why its name or its place can't be trusted, '' where both can.
    """

    view: str
    landmark: str
    dot: Dot | None
    doubt: str

    @property
    def sure(self) -> bool:
        """Whether it may be placed."""
        return self.dot is not None and not self.doubt


@dataclass(frozen=True)
class DotsRead:
    """The dots of a sheet: every landmark that should have one, view by view."""

    sheet: Sheet
    readings: tuple[DotReading, ...]

    @property
    def placings(self) -> list[Placing]:
        """What is sure, as placings to a hundredth of a pixel; the sheet's own `sd` holds."""
        return [
            Placing(
                reading.view,
                reading.landmark,
                round(reading.dot.x, 2),
                round(reading.dot.y, 2),
                hidden=False,
                sd=math.nan,
                placed_by=PLACED_BY,
            )
            for reading in self.readings
            if reading.dot is not None and reading.sure
        ]

    def write(
        self, *, replace: bool = False, previews: Mapping[Path, bytes] = MappingProxyType({})
    ) -> Merged:
        """Write the sure ones into the sheet's landmark table, see `merge_placings`."""
        return merge_placings(self.sheet, self.placings, replace=replace, beside=previews)

    def previews(self, folder: Path) -> dict[Path, bytes]:
        """Return a PNG of each view that was read with what was found on it, by its path."""
        from turncheck.images.previewing import Ring, with_rings

        rings: dict[str, list[Ring]] = {one.view: [] for one in self.readings}
        for one in self.readings:
            if (dot := one.dot) is not None:
                rings[one.view].append(Ring(dot.x, dot.y, dot.radius, one.landmark, one.sure))
        return {
            folder / f"{view}_dots.png": with_rings(decode(self.sheet.views[view].picture), found)
            for view, found in rings.items()
        }


def dots(sheet: str | Path, *, named_on: str | None = None) -> DotsRead:
    """Find and name the coloured dots on a sheet's drawings. Nothing is written.

    Parameters
    ----------
    named_on
        A view whose landmarks are placed on its dots: their colours and heights name the dots of
        the other views. Without it the sheet's [dots] says which colour is which landmark.

    Raises
    ------
    TurncheckError
        If the sheet can't be read, or there is nothing to name the dots by.
    """
    read = open_sheet(sheet)
    wanted = _keyed(read) if named_on is None else _named_on(read, named_on)
    readings: list[DotReading] = []
    for view in read.views.values():
        mine = wanted.get(view.name, [])
        colours = list(dict.fromkeys(want.colour for want in mine))
        found = find_dots(decode(view.picture), colours) if mine else []
        named = told_apart(name_dots(found, mine), read.vocabulary.landmarks, view.yaw)
        readings += [DotReading(view.name, one.landmark, one.dot, one.doubt) for one in named]
    return DotsRead(read, tuple(readings))


def _keyed(sheet: Sheet) -> Mapping[str, list[Wanted]]:
    if not any(view.dots for view in sheet.views.values()):
        says = (
            "nothing says which dot is which; write their colours into it, as in [dots] "
            'knee_l = "#ff00aa", or place the points of one view on its dots and name it '
            "with --from"
        )
        raise TurncheckError(Fault(says, str(sheet.path)))
    return {
        name: [Wanted(landmark, lab_of(code)) for landmark, code in view.dots.items()]
        for name, view in sheet.views.items()
    }


def _named_on(sheet: Sheet, name: str) -> Mapping[str, list[Wanted]]:
    """Return what every other view should have, from the placings and the dots of one view."""
    if name not in sheet.views:
        raise TurncheckError(f"--from {unknown(name, sheet.views, 'a view of this sheet')}")
    table = sheet.folder / LANDMARKS_FILE
    pixels = decode(sheet.views[name].picture)
    wanted: dict[str, Wanted] = {}
    for placing in read_table(table, sheet).placings.values():
        if placing.view == name and not placing.hidden and placing.landmark != "ground":
            dot = _dot_under(pixels, placing)
            if dot is not None and math.hypot(*dot.colour[1:]) >= CHROMA_LEAST:
                wanted.setdefault(placing.landmark, Wanted(placing.landmark, dot.colour, dot.y))
    if not wanted:
        says = f'no landmark of {name} is placed on a dot; place them with "turncheck mark" first'
        raise TurncheckError(Fault(says, str(table)))
    return {other: [*wanted.values()] for other in sheet.views if other != name}


def _dot_under(pixels: Bytes, placing: Placing) -> Dot | None:
    """Return the dot that a placing lies on."""
    reach = round(3 * DOT_RADII[1])
    left, top = max(round(placing.x) - reach, 0), max(round(placing.y) - reach, 0)
    patch = pixels[top : round(placing.y) + reach + 1, left : round(placing.x) + reach + 1]
    at = (round(placing.x) - left, round(placing.y) - top)
    for dot in find_dots(patch, [lab_at(patch, *at)]):
        if math.hypot(dot.x + left - placing.x, dot.y + top - placing.y) <= dot.radius:
            return replace(dot, x=dot.x + left, y=dot.y + top)
    return None

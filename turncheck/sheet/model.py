"""The sheet: one character at one revision, its drawings and what the user asked for."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from pydantic import Field

from turncheck.images.picture_file import Picture
from turncheck.sheet.toml_faults import Entry, Text
from turncheck.sheet.vocabulary import Vocabulary

LinedUpBy = Literal["canvas", "ground", "fit"]
CONSENSUS = "consensus"
SHEET_FILE = "sheet.toml"
LANDMARKS_FILE = "landmarks.csv"
CHARACTER_LONGEST = 120
#: Of each half of a folder name, bytes: together they stay far below the 255 that file systems
#: allow; common practice, no source.
_SLUG_LONGEST = 60


@dataclass(frozen=True)
class View:
    """One drawing of the sheet, at a nominal yaw in degrees within (-180, 180].

    `figure` is a mask that overrides the figure that is found in the drawing; `dots` is the
    colour of the dot left on each landmark, #rrggbb; `drawn_by` is '' where unknown.
    """

    name: str
    picture: Picture
    yaw: float
    flip_of: str = ""
    figure: Picture | None = None
    dots: Mapping[str, str] = field(default_factory=dict)
    drawn_by: str = ""


class Waiver(Entry):
    """`[[waivers]]`: a finding that a named role accepts, with the reason.

    One that names a revision ends with it.
    """

    check: Text
    view: Text
    subject: Text = Field(min_length=1)
    reason: Text = Field(min_length=1)
    by: Text = Field(min_length=1)
    revision: Text = Field("", description="the one revision that it holds for; empty for all")


@dataclass(frozen=True)
class Rig:
    """Units of the table of pivots.

    Attributes
    ----------
    figure
        How many units tall the figure is; 0 where a unit is a px of the base drawing.
    origin
        (x, y) px of each drawing; None for the turning axis on the ground line.
    y_up
        Whether y counts upwards.
    """

    figure: float = 0.0
    origin: tuple[float, float] | None = None
    y_up: bool = True


@dataclass(frozen=True)
class Sheet:
    """One character at one revision.

    Attributes
    ----------
    folder
        Where the sheet lies.
    reference
        The name of the view that the others are held against, or 'consensus'.
    placing_sd
        Standard uncertainty of one placing, in % of the figure height.
    tolerances
        Tolerance by check, where the sheet sets one.
    settings, vocabulary_file
        The sheet's file as it is written; the vocabulary's beside it, '' for a shipped one.
    file
        The name of its file in the folder.
    height_cm
        How tall the character is; 0 where unknown.
    """

    folder: Path
    character: str
    revision: str
    reference: str
    placing: LinedUpBy
    placing_sd: float
    symmetric: bool
    vocabulary: Vocabulary
    views: Mapping[str, View]
    tolerances: Mapping[str, float]
    waivers: tuple[Waiver, ...]
    rig: Rig = field(default_factory=Rig)
    settings: str = ""
    vocabulary_file: str = ""
    file: str = SHEET_FILE
    height_cm: float = 0.0

    @property
    def path(self) -> Path:
        """Where its file lies."""
        return self.folder / self.file

    @property
    def base(self) -> str:
        """The view whose pixels are the unit: the reference, else the one nearest to the front."""
        if self.reference != CONSENSUS:
            return self.reference
        return min(self.views.values(), key=lambda view: abs(view.yaw)).name

    @property
    def straight_on(self) -> list[str]:
        """The views from straight in front or behind, to a degree."""
        yaws = {name: abs(view.yaw) for name, view in self.views.items()}
        return [name for name, yaw in yaws.items() if min(yaw, 180.0 - yaw) < 1.0]

    @property
    def waivers_in_force(self) -> tuple[Waiver, ...]:
        """The waivers that have not ended with an earlier revision."""
        return tuple(one for one in self.waivers if one.revision in ("", self.revision))

    @property
    def slug(self) -> str:
        """A folder name for this character and revision."""
        return f"{_slug(self.character)}-{_slug(self.revision)}"


def _slug(text: str) -> str:
    """Return a text as half of a folder name.

    >>> _slug("Odo / the 2nd"), _slug("../.."), _slug("???")
    ('Odo_the_2nd', 'sheet', 'sheet')
    """
    plain = re.sub(r"[^\w.-]+", "_", unicodedata.normalize("NFC", text))
    short = plain.strip("._-").encode("utf-8")[:_SLUG_LONGEST].decode("utf-8", "ignore")
    return short.rstrip("._-") or "sheet"

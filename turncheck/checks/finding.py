"""A finding: one comparison, what it is about, and whom it speaks against."""

from __future__ import annotations

import enum
import math
from dataclasses import dataclass, field, replace
from typing import Literal

from turncheck.checks.note import Note, noted
from turncheck.geometry.colour_matching import MatchedColour
from turncheck.geometry.guard_bands import CERTAIN, Verdict, judge, judge_distance, width
from turncheck.geometry.outlines import Contradiction
from turncheck.images.flat_colours import Fill

Unit = Literal["pct_height", "pct_ratio", "deg", "delta_e"]


class Kind(enum.StrEnum):
    """What a finding is about; from this it is drawn, told and mended."""

    POINT = "point"  # where a landmark, or a line through several, lies: up, or sideways
    LEVEL = "level"  # whether two landmarks of one drawing are level
    SEAT = "seat"  # whether two landmarks of one drawing sit on each other
    MIDDLE = "middle"  # whether a pair, or a landmark of the midline, lies about the midline
    RATIO = "ratio"  # of lengths
    SCALE = "scale"  # how large the whole drawing is
    GROUND = "ground"  # where the whole drawing stands
    RULER = "ruler"  # whether one size and position explain the drawing's heights
    YAW = "yaw"  # which way the whole drawing faces
    OUTLINE = "outline"  # rows of the outline that no body can have
    LINE_WEIGHT = "line_weight"  # how heavy the outline is drawn
    FILL = "fill"  # a flat colour
    OTHER = "other"  # anything else: told by its unit and mended as its check says

    @property
    def is_of_whole_drawing(self) -> bool:
        """Whether it is about a drawing as a whole, so that it explains what lies in it."""
        return self in (Kind.SCALE, Kind.GROUND, Kind.RULER, Kind.YAW)

    @property
    def is_within_a_drawing(self) -> bool:
        """Whether it compares places of one drawing with each other."""
        return self in (Kind.LEVEL, Kind.SEAT, Kind.MIDDLE)


@dataclass(frozen=True)
class Subject:
    """What a finding is about.

    Attributes
    ----------
    name, landmarks
        As `findings.csv` and waivers have it, and the landmarks that it rests on.
    sideways
        Whether its drift runs across the picture, not up.
    rows, side
        Of an `OUTLINE`: its first and last row in the view, px, and the side of the picture that
        would have to move there, as remedies name it.
    contradiction
        Of an `OUTLINE`: its rows in every drawing, and what would mend them.
    fill, nearest
        Of a `FILL`: the colour in every drawing, and where only one has it, the fill of the
        others that comes nearest.
    """

    kind: Kind
    name: str
    landmarks: tuple[str, ...] = ()
    sideways: bool = False
    rows: tuple[float, float] | None = None
    side: str = ""
    contradiction: Contradiction | None = None
    fill: MatchedColour | None = None
    nearest: Fill | None = None


NOTHING = Subject(Kind.OTHER, "")


class Blamed(enum.StrEnum):
    """Whom an off-model row speaks against."""

    UNSAID = ""  # its own drawing, held against the reference alone
    THIS = "this"  # its own drawing, which the others outvote
    OTHER = "other"  # another drawing, which the others outvote
    SET = "set"  # one of several; which, the drawings can't tell
    NOBODY = "nobody"  # the drawings disagree, and no majority says which is wrong


@dataclass(frozen=True)
class Blame:
    """Whom a row speaks against.

    Attributes
    ----------
    views
        The drawing, or those of the set; empty where nothing says so.
    amount
        How far the blamed drawing lies from those that agree, in the row's unit; NaN where none
        is blamed.
    sides
        Of a set, its drawings in groups that agree, one of which is wrong.
    """

    kind: Blamed = Blamed.UNSAID
    views: tuple[str, ...] = ()
    amount: float = math.nan
    sides: tuple[tuple[str, ...], ...] = ()

    @property
    def odd_view(self) -> str:
        """The drawing that the others outvote, '' where there is none."""
        return self.views[0] if self.kind in (Blamed.THIS, Blamed.OTHER) else ""

    @property
    def settled(self) -> bool:
        """Whether it is said which drawing is wrong."""
        return self.kind not in (Blamed.SET, Blamed.NOBODY)


def blame_on(view: str, amount: float, row_view: str) -> Blame:
    """Return the blame of a drawing that the others outvote, in a row of `row_view`."""
    return Blame(Blamed.THIS if view == row_view else Blamed.OTHER, (view,), amount)


class Cause(enum.StrEnum):
    """What a drift comes from, where more is known of it than its size."""

    UNKNOWN = ""
    WHOLE = "whole"  # the whole drawing's size or position explains most of it
    MIRRORED = "mirrored"  # the drawing looks like its own mirror image
    SWAPPED = "swapped"  # its left and right landmarks look exchanged
    BOTH = "mirrored and swapped"  # it looks flipped together with its landmarks
    MISSING = "missing"  # the drawing lacks the fill
    EXTRA = "extra"  # no other drawing has the fill
    UNSURE = "unsure"  # no placing as sure as these could tell, whatever the drawing is


@dataclass(frozen=True)
class Finding:
    """One comparison.

    Attributes
    ----------
    view, subject
        The drawing, '' for the sheet as a whole, and what was compared.
    expected, measured
        px of the view's own drawing; heights count upwards from its ground line; for `unit`
        pct_ratio the ratios themselves.
    drift_px
        measured - expected, up or to the picture's right positive; NaN where the unit is not px.
    drift_pct, uncertainty_pct, tolerance_pct
        In `unit`: % of the figure height, % of the expected ratio, degrees, or CIEDE2000.
    dof
        Degrees of freedom that the uncertainty rests on; infinite where it is known.
    whole_pct, own_pct
        The shares of the drift that the whole drawing's size and position explain, and its own.
    """

    check: str
    view: str
    subject: Subject
    expected: float = math.nan
    measured: float = math.nan
    drift_px: float = math.nan
    drift_pct: float = math.nan
    uncertainty_pct: float = math.nan
    tolerance_pct: float = math.nan
    verdict: Verdict = Verdict.NOT_MEASURED
    note: Note = field(default_factory=Note)
    unit: Unit = "pct_height"
    whole_pct: float = math.nan
    own_pct: float = math.nan
    blame: Blame = field(default_factory=Blame)
    cause: Cause = Cause.UNKNOWN
    dof: float = math.inf

    def judged(self, certain: float = CERTAIN) -> Finding:
        """Return the finding with the verdict that its drift and uncertainty give it.

        Undecided is also what noise alone might give in one of the hundred rows of a sheet: what
        does not lie beyond so many standard uncertainties.
        """
        judging = judge_distance if self.subject.kind is Kind.SEAT else judge
        verdict = judging(self.drift_pct, self.uncertainty_pct, self.tolerance_pct, self.dof)
        if verdict is Verdict.OFF_MODEL and abs(self.drift_pct) <= certain * self.uncertainty_pct:
            verdict = Verdict.UNDECIDED
        return replace(self, verdict=verdict)

    def in_px(self, px: float) -> Finding:
        """Return the finding with its values, so many px each, and its drift in px."""
        expected, measured = self.expected * px, self.measured * px
        drift = (self.measured - self.expected) * px
        return replace(self, expected=expected, measured=measured, drift_px=drift)

    @property
    def width_pct(self) -> float:
        """What is said after ±, in `unit`: the drift lies within it in 95 % of cases."""
        return width(self.dof) * self.uncertainty_pct

    @property
    def is_off_model(self) -> bool:
        """Whether it is off model, and nobody accepts that."""
        return self.verdict is Verdict.OFF_MODEL

    @property
    def is_measured(self) -> bool:
        """Whether anything was compared."""
        return self.verdict is not Verdict.NOT_MEASURED


def not_measured(
    check: str, view: str, subject: Subject, reason: Note | str, unit: Unit = "pct_height"
) -> Finding:
    """Return the row that says why something could not be measured."""
    note = noted("{}", reason) if isinstance(reason, str) else reason
    bare = replace(subject, landmarks=())
    return Finding(check, view, bare, note=note, unit=unit)

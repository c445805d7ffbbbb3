"""What findings are called and what they say, in the words of the person who draws."""

import math
from collections.abc import Mapping

from turncheck.checks.finding import Finding, Kind, Subject
from turncheck.geometry.guard_bands import Verdict
from turncheck.plain import degrees, number, sentence_px, spoken, together
from turncheck.sheet.model import Sheet
from turncheck.sheet.vocabulary import Landmark

#: Verdict by value: the words beside its mark, from worst to best.
VERDICTS: Mapping[str, str] = {
    **{verdict.value: verdict.value.replace("_", " ") for verdict in Verdict},
    Verdict.UNDECIDED: "too close to call",
}
#: How bad a verdict is, 0 the worst.
RANK: Mapping[str, int] = {name: rank for rank, name in enumerate(VERDICTS)}
_SIDES = {
    "left": ", left side",
    "right": ", right side",
    "both": ", both sides",
    "height": ", too high or low",
}
_WHOLE = {
    Kind.SCALE: "size of the whole drawing",
    Kind.GROUND: "stand of the whole drawing",
    Kind.YAW: "which way it faces",
}
#: Below this a drift is not worth a direction, px.
_NO_DRIFT_PX = 0.05


def titles_of(sheet: Sheet) -> dict[str, str]:
    """Return what the names of a sheet's views and landmarks are called in a sentence."""
    titles = {name: spoken(name) for name in sheet.views}
    return titles | {name: mark.title for name, mark in sheet.vocabulary.landmarks.items()}


def note_of(finding: Finding, titles: Mapping[str, str]) -> str:
    """Return a finding's note as people say it."""
    return together(finding.note.spoken(titles))


def pair_title(left: Landmark, right: Landmark) -> str:
    """Return what two landmarks are called together: 'left and right knee'."""
    if left.twin == right.name and left.title.startswith("left "):
        return f"left and right {left.title.removeprefix('left ')}"
    return f"{left.title} and {right.title}"


def outline_place(rows: tuple[float, float]) -> str:
    """Return rows of an outline as people find them.

    >>> outline_place((63.2, 117.0))
    '63 to 117 px from the top'
    """
    return f"{rows[0]:.0f} to {rows[1]:.0f} px from the top"


def subject_title(subject: Subject, landmarks: Mapping[str, Landmark]) -> str:
    """Return what a finding is about as a person says it: `knee_l` is 'left knee'."""
    marks = [landmarks[name] for name in subject.landmarks if name in landmarks]
    if subject.kind in _WHOLE:
        return _WHOLE[subject.kind]
    if subject.rows is not None:
        return f"outline, {outline_place(subject.rows)}{_SIDES.get(subject.side, '')}"
    if subject.kind.is_within_a_drawing and len(marks) == 2:
        if subject.kind is Kind.SEAT:
            return " on ".join(mark.title for mark in marks)
        return pair_title(*marks) + (", level" if subject.kind is Kind.LEVEL else ", middle")
    if subject.name in landmarks and subject.kind is not Kind.RATIO:
        return landmarks[subject.name].title
    return spoken(subject.name)


def drift_phrase(finding: Finding) -> str:
    """Return a drift in a few words: '25 px (2.5 %) too low'.

    >>> chin = Subject(Kind.POINT, "chin", ("chin",))
    >>> off = Verdict.OFF_MODEL
    >>> drift_phrase(Finding("sparkle", "side", chin, drift_px=-25.0, drift_pct=-2.5, verdict=off))
    '25 px (2.5 %) too low'
    >>> heads = Subject(Kind.RATIO, "head count")
    >>> drift_phrase(Finding("sparkle", "side", heads, drift_pct=4.0, unit="pct_ratio"))
    '4.0 % more'
    """
    kind, px, pct = finding.subject.kind, finding.drift_px, finding.drift_pct
    if math.isnan(pct):
        return ""
    size, up = f"{abs(pct):.1f}", pct > 0
    if finding.unit == "deg":
        return degrees(pct, 1, signed=True)
    if finding.unit == "delta_e":
        return f"{size} apart in colour"
    if kind is Kind.LINE_WEIGHT:
        return f"{size} % {'heavier' if up else 'lighter'}"
    if finding.unit == "pct_ratio":
        return f"{size} % {'more' if up else 'less'}"
    if kind is Kind.SCALE:
        return f"{size} % {'larger' if up else 'smaller'}"
    if math.isnan(px) or kind is Kind.OTHER:
        return f"{number(pct, 1, signed=True)} %"
    if abs(px) < _NO_DRIFT_PX:
        return "spot on"
    size, up = f"{sentence_px(px)} ({size} %)", px > 0
    if kind is Kind.OUTLINE:
        return f"can't fit by {size}"
    if kind is Kind.SEAT:
        return f"{size} apart"
    if kind is Kind.LEVEL:
        return f"left {size} {'higher' if up else 'lower'}"
    if finding.subject.sideways:
        return f"{size} to the picture's {'right' if up else 'left'}"
    if kind is Kind.GROUND:
        return f"{size} {'above' if up else 'below'} the ground"
    too = "too " if finding.is_off_model else ""
    return f"{size} {too}{'high' if up else 'low'}"

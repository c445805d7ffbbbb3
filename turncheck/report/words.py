"""What the report says, in the words of the person who draws."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping

from turncheck.geometry.guard_bands import Verdict
from turncheck.instructions import outline_place
from turncheck.sheet.vocabulary import Landmark
from turncheck.wording import capital, degrees, number, sentence_px, spoken, together

#: Verdict by value: the words beside its mark, from worst to best.
VERDICTS: Mapping[str, str] = {
    verdict.value: verdict.value.replace("_", " ") for verdict in Verdict
}
#: How bad a verdict is, 0 the worst.
RANK: Mapping[str, int] = {name: rank for rank, name in enumerate(VERDICTS)}
#: Checks whose drifts run across the picture, not up and down.
ACROSS = ("pairing", "turn")
#: Checks of outlines: their drift is the least that must move, on whichever side.
UNSIGNED = ("mirror", "outline")
_LEVEL = " level"
_ROWS = "rows "
_SIDES = {
    "left": ", left side",
    "right": ", right side",
    "both": ", both sides",
    "height": ", too high or low",
}
_ON = " on "
_WHOLE = {"scale": "size of the whole drawing", "ground": "stand of the whole drawing"}
#: Below this a drift is not worth a direction, px.
_NO_DRIFT_PX = 0.05


def pair_title(left: Landmark, right: Landmark) -> str:
    """Return what two landmarks are called together: 'left and right knee'."""
    if left.twin == right.name and left.title.startswith("left "):
        return f"left and right {left.title.removeprefix('left ')}"
    return f"{left.title} and {right.title}"


def subject_title(check: str, subject: str, landmarks: Mapping[str, Landmark]) -> str:
    """Return a finding's subject as a person says it: `knee_l` is 'left knee'."""
    if check == "size" and subject in _WHOLE:
        return _WHOLE[subject]
    if check == "turn" and subject == "yaw":
        return "which way it faces"
    if check in UNSIGNED and subject.startswith(_ROWS):
        side = subject.partition(", ")[2]
        return f"outline, {outline_place(subject)}{_SIDES.get(side, '')}"
    if subject in landmarks:
        return landmarks[subject].title
    names = subject.removesuffix(_LEVEL)
    pair = [landmarks[name] for name in names.split("/") if name in landmarks]
    if len(pair) == 2:
        return pair_title(*pair) + (", level" if subject.endswith(_LEVEL) else ", middle")
    stacked = [landmarks[name].title for name in subject.split(_ON) if name in landmarks]
    return _ON.join(stacked) if len(stacked) == 2 else spoken(subject)


def is_across(check: str, subject: str) -> bool:
    """Return whether a finding's drift runs across the picture."""
    return check in ACROSS and not subject.endswith(_LEVEL)


def has_direction(subject: str) -> bool:
    """Return whether a finding says where one landmark should go, and not how two differ."""
    return not (subject.endswith(_LEVEL) or _ON in subject)


def drift_phrase(
    check: str, subject: str, unit: str, drift_px: float, drift_pct: float, verdict: str
) -> str:
    """Return a drift in a few words: '25 px (2.5 %) too low'.

    >>> drift_phrase("height", "chin", "pct_height", -25.0, -2.5, "off_model")
    '25 px (2.5 %) too low'
    >>> drift_phrase("proportion", "head count", "pct_ratio", float("nan"), 4.0, "on_model")
    '4.0 % more'
    >>> drift_phrase("outline", "rows 5 to 90, left", "pct_height", 12.0, 1.2, "off_model")
    "can't fit by 12 px (1.2 %)"
    """
    if math.isnan(drift_pct):
        return ""
    size = f"{abs(drift_pct):.1f}"
    if unit == "deg":
        return degrees(drift_pct, 1, signed=True)
    if unit == "delta_e":
        return f"{size} apart in colour"
    if unit == "pct_ratio":
        more, less = ("heavier", "lighter") if check == "line_weight" else ("more", "less")
        return f"{size} % {more if drift_pct > 0 else less}"
    if check == "size" and subject == "scale":
        return f"{size} % {'larger' if drift_pct > 0 else 'smaller'}"
    if math.isnan(drift_px):
        return f"{number(drift_pct, 1, signed=True)} %"
    if abs(drift_px) < _NO_DRIFT_PX:
        return "spot on"
    size = f"{sentence_px(drift_px)} ({size} %)"
    if check in UNSIGNED:
        return f"can't fit by {size}"
    up = drift_px > 0
    if _ON in subject:
        return f"{size} apart"
    if subject.endswith(_LEVEL):
        return f"left {size} {'higher' if up else 'lower'}"
    if is_across(check, subject):
        return f"{size} to the picture's {'right' if up else 'left'}"
    if check == "size":
        return f"{size} {'above' if up else 'below'} the ground"
    too = "too " if verdict == Verdict.OFF_MODEL.value else ""
    return f"{size} {too}{'high' if up else 'low'}"


def plain_notes(landmarks: Mapping[str, Landmark], views: Iterable[str]) -> Callable[[str], str]:
    """Return a function that writes the names of landmarks and views in a note as words.

    Landmarks themselves are called points: that is what was placed.
    """
    words = {"landmark": "point", "landmarks": "points"}
    words |= {name: spoken(name) for name in ("eye_line", *views) if "_" in name}
    words |= {name: mark.title for name, mark in landmarks.items() if "_" in name}
    words |= {capital(name): capital(title) for name, title in words.items()}
    longest_first = sorted(words, key=len, reverse=True)
    pattern = re.compile(rf"(?<!\w)({'|'.join(map(re.escape, longest_first))})(?!\.?\w)")
    return lambda note: together(pattern.sub(lambda found: words[found[1]], note))


def slugs(prefix: str, names: Iterable[str]) -> dict[str, str]:
    """Return an id for each name, fit for an address, unique and the same every time.

    >>> slugs("at", ["knee_l", "a b", "a.b"])
    {'knee_l': 'at-knee_l', 'a b': 'at-a-b', 'a.b': 'at-a-b-2'}
    """
    found: dict[str, str] = {}
    taken: set[str] = set()
    for name in names:
        if name in found:
            continue
        plain = f"{prefix}-{re.sub(r'[^0-9A-Za-z_]+', '-', name).strip('-')}"
        slug, count = plain, 1
        while slug in taken:
            count += 1
            slug = f"{plain}-{count}"
        taken.add(slug)
        found[name] = slug
    return found

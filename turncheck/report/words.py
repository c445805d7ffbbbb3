"""What the report says, in the words of the person who draws."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping

from turncheck.redraw import outline_place, sentence_px, spoken
from turncheck.uncertainty import Verdict
from turncheck.vocabulary import Landmark

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


def number(value: float, decimals: int = 1, signed: bool = False) -> str:
    """Return a number with a true minus sign, '' for NaN.

    >>> number(-2.345, 2), number(3.0, 1, signed=True), number(-0.01), number(float("nan"))
    ('−2.35', '+3.0', '0.0', '')
    """
    if math.isnan(value):
        return ""
    text = f"{abs(value):.{decimals}f}"
    if not float(text):
        return text
    return f"{'−' if value < 0 else '+' if signed else ''}{text}"


def degrees(value: float, decimals: int = -1, signed: bool = False) -> str:
    """Return an angle with its sign, as many decimals as it has where none are given.

    >>> degrees(-45.0), degrees(36.08, 1), degrees(8.9, 1, signed=True)
    ('−45°', '36.1°', '+8.9°')
    """
    if decimals < 0:
        return f"{value:g}°".replace("-", "\N{MINUS SIGN}")
    return f"{number(value, decimals, signed)}°"


def counted(count: int, one: str, many: str = "") -> str:
    """Return a count with its noun.

    >>> counted(1, "drawing"), counted(2, "drawing"), counted(0, "is", "are")
    ('1 drawing', '2 drawings', '0 are')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"


def listed(names: Iterable[str]) -> str:
    """Return names as a list in a sentence.

    >>> listed(["chin"]), listed(["chin", "mouth", "waist"])
    ('chin', 'chin, mouth and waist')
    """
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


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
    words |= {_capital(name): _capital(title) for name, title in words.items()}
    longest_first = sorted(words, key=len, reverse=True)
    pattern = re.compile(rf"(?<!\w)({'|'.join(map(re.escape, longest_first))})(?!\.?\w)")
    return lambda note: together(pattern.sub(lambda found: words[found[1]], note))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def together(text: str) -> str:
    """Return text whose numbers are not parted from their units at the end of a line."""
    return re.sub(r"(?<=\d) (?=px|%)", "\N{NO-BREAK SPACE}", text)


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

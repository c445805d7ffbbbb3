"""How lengths, angles, counts and names are written for people, everywhere."""

import math
import re
from collections.abc import Iterable


def sentence_px(amount: float) -> str:
    """Return a length as a person reads it off a drawing: tenths below 10 px.

    >>> sentence_px(-12.4), sentence_px(3.14)
    ('12 px', '3.1 px')
    """
    size = abs(amount)
    return f"{size:.0f} px" if size >= 9.95 else f"{size:.1f} px"


def spoken(view: str) -> str:
    """Return a view's name as a person says it.

    >>> spoken("three_quarter")
    'three quarter'
    """
    return view.replace("_", " ")


def capital(text: str) -> str:
    """Return a sentence with its first letter large."""
    return text[:1].upper() + text[1:]


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


def together(text: str) -> str:
    """Return text whose numbers are not parted from their units at the end of a line."""
    return re.sub(r"(?<=\d) (?=px|%)", "\N{NO-BREAK SPACE}", text)

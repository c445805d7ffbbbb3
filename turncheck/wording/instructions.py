"""What to redraw, one sentence each: what is off, by how much, what to do."""

from collections.abc import Sequence

from turncheck.wording.plain import capital, listed, sentence_px, spoken


def resize(times: float, against: str, settled: bool) -> str:
    """Return that a whole drawing is so many times as large as it should be."""
    amount = 100.0 * (times - 1.0)
    too = "larger" if amount > 0 else "smaller"
    do = f"scale it to {100.0 / times:.1f} %" if settled else _nobody("scale")
    return f"The whole drawing is {abs(amount):.1f} % {too} than {against}; {do}."


def stand(px: float, line: str, reference: str, settled: bool) -> str:
    """Return that a whole drawing stands px above a line."""
    where, move = ("above", "down") if px > 0 else ("below", "up")
    do = f"move it {move} {sentence_px(px)}" if settled else _nobody("move")
    given = "" if settled else f" if {reference} is right"
    return (
        f"The whole drawing stands {sentence_px(px)} {where} {line}{given}; {do}, "
        "or place the ground again."
    )


def turn(reads: float, within: float, asked: float) -> str:
    """Return that a whole drawing faces another way than it was asked to, degrees."""
    return (
        f"The whole drawing reads as {reads:.1f}° ± {within:.1f}° "
        f"where {asked:.0f}° was asked for; redraw it at {asked:.0f}°, or say "
        f"yaw = {reads:.0f} in the sheet if that is meant."
    )


def misread(note: str) -> str:
    """Return what a whole drawing looks like instead."""
    return f"{capital(note)}."


def unruled(note: str) -> str:
    """Return that a whole drawing can't be measured at all."""
    return f"It can't be put on the ruler: {note}; look at the placings first."


def move(
    points: Sequence[str],
    part: str,
    whole_part: bool,
    px: float,
    pct: float,
    sideways: bool,
    reference: str,
    settled: bool,
) -> str:
    """Return that points lie too far up, down or to one side.

    Parameters
    ----------
    points
        What they are called.
    part, whole_part
        The part they belong to, and whether they are all of it.
    px, pct
        Their drift, up or to the picture's right positive, and in % of the figure height.
    """
    if len(points) > 1 and whole_part:
        subject, verb, it = part.replace("the ", "the whole ", 1), "is", "it"
    elif len(points) > 1:
        subject, verb, it = f"{part}: {listed(points)}", "are", "them"
    else:
        subject, verb, it = f"the {points[0]}", "is", "it"
    size = f"{sentence_px(px)} ({abs(pct):.1f} %)"
    if sideways:
        side, back = ("right", "left") if px > 0 else ("left", "right")
        too, do = f"too far to the picture's {side}", f"move {it} {sentence_px(px)} {back}"
        compared = f"farther to the picture's {side} than the other drawings let expect"
    else:
        too, do = ("too high", f"lower {it}") if px > 0 else ("too low", f"raise {it}")
        do += f" {sentence_px(px)}"
        compared = f"{'higher' if px > 0 else 'lower'} than in {reference}"
    if settled:
        return f"{capital(subject)} {verb} {size} {too}; {do}."
    return f"{capital(subject)} {verb} {size} {compared}; {_nobody('redraw')}."


def level(one: str, other: str, px: float, pct: float) -> str:
    """Return that one of two points lies px above the other."""
    where = "higher" if px > 0 else "lower"
    return f"The {one} is {_size(px, pct)} {where} than the {other}; level them."


def centre(points: Sequence[str], px: float, pct: float) -> str:
    """Return that a pair's middle, or a point of the midline, lies px beside the midline."""
    to, back = ("right", "left") if px > 0 else ("left", "right")
    what = f"The middle of {listed(points)}" if len(points) > 1 else capital(points[0])
    return (
        f"{what} lies {_size(px, pct)} to the picture's {to} of the midline; "
        f"move it {sentence_px(px)} {back}."
    )


def seat(one: str, other: str, px: float, pct: float) -> str:
    """Return that two points that belong on one spot do not sit there."""
    return f"The {one} is {_size(px, pct)} away from the {other}; put them on one spot."


def ratio(name: str, pct: float, settled: bool) -> str:
    """Return that a ratio of lengths is off."""
    more = "more" if pct > 0 else "less"
    against = "in the other drawings" if settled else "in the reference"
    return (
        f"{capital(spoken(name))} is {abs(pct):.1f} % {more} than {against}; "
        "look at the points that it rests on."
    )


def outline(place: str, opposite: bool, note: str) -> str:
    """Return that no body has an outline, and what would mend it."""
    other = "the opposite drawing" if opposite else "the other drawings"
    return f"{capital(place)} the outline does not fit {other}; {note}."


def line_weight(now: float, right: float, pct: float, settled: bool) -> str:
    """Return that an outline is too heavy or too light, px."""
    weight = "heavy" if pct > 0 else "light"
    do = f"redraw the outline at {sentence_px(right)}" if settled else _nobody("redraw")
    return f"The outline is {sentence_px(now)}, {abs(pct):.0f} % too {weight}; {do}."


def fill_in(colour: str, view: str, where: str) -> str:
    """Return that a drawing lacks a fill that another has at a place."""
    there = f"the {spoken(view)} drawing has it{where}"
    return f"{capital(colour)} is missing; fill it in again: {there}."


def refill(colour: str, where: str, instead: str, settled: bool) -> str:
    """Return that a fill should have the colour of the other drawings."""
    if settled:
        return f"Refill {colour}{where} with {instead}, as in the other drawings."
    differs = f"{capital(colour)}{where} is {instead} in another drawing"
    return f"{differs}; {_nobody('refill')}."


def refill_as_lacked(colour: str, where: str, lacked: str) -> str:
    """Return that a fill took the place of one that the drawing lacks."""
    return f"Refill {colour}{where} with {lacked}, which this drawing lacks."


def refill_unknown(colour: str, where: str, nearest: str) -> str:
    """Return that no other drawing has a fill, and which comes nearest there."""
    return (
        f"Refill {colour}{where} as in the other drawings: none has this colour; "
        f"the nearest elsewhere is {nearest}."
    )


def other(title: str, drift: str, mend: str) -> str:
    """Return what a check of any other kind found, and how it says to mend it."""
    return f"{capital(title)}: {drift}; {mend}." if title else f"{capital(drift)}; {mend}."


def _size(px: float, pct: float) -> str:
    return f"{sentence_px(px)} ({abs(pct):.1f} %)"


def _nobody(do: str) -> str:
    """Return what to do where the drawings disagree and nobody is blamed."""
    return f"no majority says which drawing is wrong, so {do} the one you trust less"

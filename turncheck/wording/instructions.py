"""What to redraw, one sentence each: what is off, by how much, what to do."""

from collections.abc import Mapping, Sequence

from turncheck.plain import capital, listed, sentence_px, spoken

#: What to do where the drawings disagree and none is outvoted.
DECIDE = "decide which is right"
#: What such instructions stand under, in place of a drawing's name.
DECIDE_FIRST = "decide first"
#: So many findings are named, more only counted; chosen by eye.
FEW = 2


def resize(view: str, times: float, against: str, settled: bool) -> str:
    """Return that a whole drawing is so many times as large as it should be."""
    amount = 100.0 * (times - 1.0)
    too = "larger" if amount > 0 else "smaller"
    do = f"scale it to {100.0 / times:.1f} %" if settled else DECIDE
    return f"{_whole(view, settled)} is {abs(amount):.1f} % {too} than {against}; {do}."


def stand(view: str, px: float, line: str, reference: str, settled: bool) -> str:
    """Return that a whole drawing stands px above a line."""
    where, move = ("above", "down") if px > 0 else ("below", "up")
    do = f"move it {move} {sentence_px(px)}" if settled else DECIDE
    given = "" if settled else f" if {reference} is right"
    return (
        f"{_whole(view, settled)} stands {sentence_px(px)} {where} {line}{given}; {do}, "
        "or place the ground again."
    )


def _whole(view: str, settled: bool) -> str:
    return "The whole drawing" if settled else f"The whole {spoken(view)} drawing"


def turn(view: str, reads: float, within: float, asked: float, note: str, settled: bool) -> str:
    """Return that a whole drawing faces another way than it was asked to, degrees."""
    says = f"{_whole(view, settled)} reads as {reads:.1f}° ± {within:.1f}° "
    says += f"where {asked:.0f}° was asked for; "
    if not settled:
        return f"{says}{note}; {DECIDE}." if note else f"{says}{DECIDE}."
    return (
        f"{says}redraw it at {asked:.0f}°, or say yaw = {reads:.0f} in the sheet if that is meant."
    )


def misread(view: str, note: str, settled: bool) -> str:
    """Return what a whole drawing looks like instead."""
    return f"{capital(note)}." if settled else f"{_whole(view, settled)}: {note}; {DECIDE}."


def unruled(note: str) -> str:
    """Return that a whole drawing can't be measured at all."""
    return f"It can't be put on the ruler: {note}; look at the placings first."


def subject(points: Sequence[str], part: str, whole_part: bool) -> tuple[str, bool]:
    """Return what points are called together, and whether they are several.

    Parameters
    ----------
    points
        What they are called.
    part, whole_part
        The part they belong to, and whether they are all of it.
    """
    if len(points) > 1 and whole_part:
        return capital(part.replace("the ", "the whole ", 1)), False
    if len(points) > 1:
        return f"{capital(part)}: {listed(points)}", True
    return f"The {points[0]}", False


def move(called: tuple[str, bool], px: float, pct: float, sideways: bool) -> str:
    """Return that points lie too far up, down or to one side.

    Parameters
    ----------
    called
        As `subject` has it.
    px, pct
        Their drift, up or to the picture's right positive, and in % of the figure height.
    """
    subject, many = called
    verb, it = ("are", "them") if many else ("is", "it")
    if sideways:
        side, back = ("right", "left") if px > 0 else ("left", "right")
        too, do = f"too far to the picture's {side}", f"move {it} {sentence_px(px)} {back}"
    else:
        too, do = ("too high", f"lower {it}") if px > 0 else ("too low", f"raise {it}")
        do += f" {sentence_px(px)}"
    return f"{subject} {verb} {_size(px, pct)} {too}; {do}."


def disagree(
    called: tuple[str, bool],
    sides: Sequence[Sequence[str]],
    px: Mapping[str, float],
    pct: Mapping[str, float],
) -> str:
    """Return that some drawings have points higher than others, none of them outvoted.

    Parameters
    ----------
    sides
        The drawings that agree, group by group.
    px, pct
        By drawing, how far its points lie too high if it is wrong.
    """
    it = "them" if called[1] else "it"
    if len(sides) == 2:
        high, low = sides if px[sides[0][0]] > 0 else sides[::-1]
        has = "has" if len(high) == 1 else "have"
        size = _size(px[high[0]], pct[high[0]])
        says = f"{_views(high)} {has} {it} {size} higher than {_views(low)}"
    else:
        first, *others = sorted(sides, key=lambda side: px[side[0]])
        each = [f"{_views(side)} {sentence_px(px[side[0]] - px[first[0]])}" for side in others]
        says = f"{listed(each)} higher than {_views(first)}"
    return f"{called[0]}: {says}; {DECIDE}."


def contradict(
    called: tuple[str, bool],
    sides: Sequence[Sequence[str]],
    px: Mapping[str, float],
    clause: str,
) -> str:
    """Return that drawings contradict each other sideways, and what would mend it in each.

    Parameters
    ----------
    px
        By drawing, how far its points lie too far to the right if it is wrong.
    clause
        What would settle it, '' where nothing is known to.
    """
    mends = [
        f"{sentence_px(amount)} {'left' if amount > 0 else 'right'} in the {spoken(view)}"
        for view, amount in px.items()
    ]
    views = _views([view for side in sides for view in side])
    return f"{called[0]}: {views} contradict each other: {' or '.join(mends)}; {clause or DECIDE}."


def _views(views: Sequence[str]) -> str:
    return listed(map(spoken, views))


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


def ratio(name: str, view: str, pct: float, settled: bool) -> str:
    """Return that a ratio of lengths is off."""
    more = "more" if pct > 0 else "less"
    if settled:
        where, do = "than in the other drawings", "look at the points that it rests on"
    else:
        where, do = f"in the {spoken(view)} drawing than in the reference", DECIDE
    return f"{capital(spoken(name))} is {abs(pct):.1f} % {more} {where}; {do}."


def outline(place: str, opposite: bool, note: str) -> str:
    """Return that no body has an outline, and what would mend it."""
    other = "the opposite drawing" if opposite else "the other drawings"
    return f"{capital(place)} the outline does not fit {other}; {note}."


def line_weight(view: str, now: float, right: float, pct: float, settled: bool) -> str:
    """Return that an outline is too heavy or too light, px."""
    if settled:
        weight = f"too {'heavy' if pct > 0 else 'light'}"
        do = f"redraw the outline at {sentence_px(right)}"
        return f"The outline is {sentence_px(now)}, {abs(pct):.0f} % {weight}; {do}."
    weight = f"{'heavier' if pct > 0 else 'lighter'} than in the reference"
    outline = f"The outline of the {spoken(view)} drawing"
    return f"{outline} is {sentence_px(now)}, {abs(pct):.0f} % {weight}; {DECIDE}."


def fill_in(colour: str, view: str, where: str) -> str:
    """Return that a drawing lacks a fill that another has at a place."""
    there = f"the {spoken(view)} drawing has it{where}"
    return f"{capital(colour)} is missing; fill it in again: {there}."


def refill(view: str, colour: str, where: str, instead: str, settled: bool) -> str:
    """Return that a fill should have the colour of the other drawings."""
    if settled:
        return f"Refill {colour}{where} with {instead}, as in the other drawings."
    differs = f"{capital(colour)}{where} in the {spoken(view)} drawing is {instead} in another"
    return f"{differs}; {DECIDE}."


def refill_as_lacked(colour: str, where: str, lacked: str) -> str:
    """Return that a fill took the place of one that the drawing lacks."""
    return f"Refill {colour}{where} with {lacked}, which this drawing lacks."


def refill_unknown(colour: str, where: str, nearest: str) -> str:
    """Return that no other drawing has a fill, and which comes nearest there."""
    return (
        f"Refill {colour}{where} as in the other drawings: none has this colour; "
        f"the nearest elsewhere is {nearest}."
    )


def also_mends(titles: Sequence[str]) -> str:
    """Return what else an instruction mends, by name where that is short; '' for nothing."""
    few = f" Also mends: {listed(titles)}." if titles else ""
    return few if len(titles) <= FEW else f" Also mends {len(titles)} more findings."


def other(title: str, drift: str, mend: str) -> str:
    """Return what a check of any other kind found, and how it says to mend it."""
    return f"{capital(title)}: {drift}; {mend}." if title else f"{capital(drift)}; {mend}."


def _size(px: float, pct: float) -> str:
    return f"{sentence_px(px)} ({abs(pct):.1f} %)"

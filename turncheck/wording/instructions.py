"""What to redraw in words: what is off and by how much, and what to do."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from turncheck.checks.finding import Cause
from turncheck.plain import capital, counted, degrees, listed, sentence_px, spoken

#: What to do where the drawings disagree and none is outvoted.
DECIDE = "decide which is right"
#: What such instructions stand under, in place of a drawing's name.
DECIDE_FIRST = "decide first"
#: So many findings are named, more only counted; chosen by eye.
FEW = 2


@dataclass(frozen=True)
class Telling:
    """What is off and what to do about it, in words.

    Attributes
    ----------
    headline
        What is off and by how much, without the drawing's name: 'Left arm 26 px too low'.
    mend
        What to do: 'raise it 26 px (2.4 %)'.
    """

    headline: str
    mend: str

    @property
    def says(self) -> str:
        """Both as one sentence."""
        return f"{self.headline}: {self.mend}."


def whole(view: str, faults: Sequence[Telling], settled: bool) -> Telling:
    """Return what is told of a whole drawing, of its size and its stand."""
    called = "Whole drawing" if settled else f"Whole {spoken(view)} drawing"
    headline = " and ".join(fault.headline for fault in faults)
    return Telling(f"{called} {headline}", ", then ".join(fault.mend for fault in faults))


def resize(times: float, against: str, settled: bool) -> Telling:
    """Return that a whole drawing is so many times as large as it should be."""
    amount = 100.0 * (times - 1.0)
    size = f"{abs(amount):.1f} %"
    if settled:
        too = "large" if amount > 0 else "small"
        return Telling(f"{size} too {too}", f"scale it to {100.0 / times:.1f} %")
    return Telling(f"{size} {'larger' if amount > 0 else 'smaller'} than {against}", DECIDE)


def stand(px: float, line: str, reference: str, settled: bool) -> Telling:
    """Return that a whole drawing stands px above a line."""
    where, move = ("above", "down") if px > 0 else ("below", "up")
    given = "" if settled else f" if {reference} is right"
    do = f"move it {move} {sentence_px(px)}" if settled else DECIDE
    return Telling(f"{sentence_px(px)} {where} {line}{given}", f"{do}, or place the ground again")


def turn(view: str, reads: float, asked: float, note: str, settled: bool) -> Telling:
    """Return that a whole drawing faces another way than it was asked to, degrees."""
    decimals = 0 if f"{reads:.0f}" != f"{asked:.0f}" else 1
    is_turned, meant = degrees(reads, decimals), degrees(asked, 0)
    if settled:
        yaw = f"{reads:.{decimals}f}"
        mend = f"redraw it at {meant}, or set yaw = {yaw} in sheet.toml"
        return Telling(f"Turned {is_turned}, not {meant}", mend)
    headline = f"{capital(spoken(view))} turned {is_turned}, not {meant}"
    return Telling(headline, f"{note}; {DECIDE}" if note else DECIDE)


#: What a whole drawing looks like instead.
_MISREAD = {
    Cause.MIRRORED: "Facing the other way",
    Cause.SWAPPED: "Left and right names exchanged",
    Cause.BOTH: "Flipped together with its points",
}


def misread(view: str, cause: Cause, note: str, settled: bool) -> Telling:
    """Return what a whole drawing looks like instead."""
    if settled:
        return Telling(_MISREAD[cause], note)
    return Telling(f"{capital(spoken(view))}: {_lower(_MISREAD[cause])}", f"{note}; {DECIDE}")


def unruled(note: str) -> Telling:
    """Return that a whole drawing can't be measured at all."""
    return Telling("Can't be put on the ruler", f"{note}; look at its points first")


def subject(points: Sequence[str], part: str, whole_part: bool) -> tuple[str, bool]:
    """Return what points are called together, and whether they are several.

    Parameters
    ----------
    points
        What they are called.
    part, whole_part
        The part they belong to, and whether they are all of it.
    """
    part = capital(part.removeprefix("the "))
    if len(points) > 1:
        return (part, False) if whole_part else (f"{part}: {listed(points)}", True)
    return capital(points[0]), False


def move(called: tuple[str, bool], px: float, pct: float, sideways: bool) -> Telling:
    """Return that points lie too far up, down or to one side.

    Parameters
    ----------
    called
        As `subject` has it.
    px, pct
        Their drift, up or to the picture's right positive, and in % of the figure height.
    """
    subject, many = called
    it, size = "them" if many else "it", sentence_px(px)
    if sideways:
        side, back = ("right", "left") if px > 0 else ("left", "right")
        too, do = f"too far to the picture's {side}", f"move {it} {_size(px, pct)} {back}"
    else:
        too, do = ("too high", f"lower {it}") if px > 0 else ("too low", f"raise {it}")
        do += f" {_size(px, pct)}"
    return Telling(f"{subject} {size} {too}", do)


def against_approved(headline: str) -> str:
    """Return that points lie otherwise than in the approved drawing."""
    return f"{headline} against the approved drawing"


def disagree(
    called: tuple[str, bool],
    sides: Sequence[Sequence[str]],
    px: Mapping[str, float],
    pct: Mapping[str, float],
) -> Telling:
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
    return Telling(f"{called[0]}: {says}", DECIDE)


def contradict(
    called: tuple[str, bool],
    sides: Sequence[Sequence[str]],
    px: Mapping[str, float],
    clause: str,
) -> Telling:
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
    mend = f"{' or '.join(mends)}; {clause or DECIDE}"
    return Telling(f"{called[0]}: {views} contradict each other", mend)


def level(one: str, other: str, px: float, pct: float) -> Telling:
    """Return that one of two points lies px above the other."""
    where = "higher" if px > 0 else "lower"
    return Telling(f"{capital(one)} {_size(px, pct)} {where} than the {other}", "level them")


def centre(points: Sequence[str], px: float, pct: float) -> Telling:
    """Return that a pair's middle, or a point of the midline, lies px beside the midline."""
    to, back = ("right", "left") if px > 0 else ("left", "right")
    what = f"Middle of {listed(points)}" if len(points) > 1 else capital(points[0])
    return Telling(
        f"{what} {sentence_px(px)} to the picture's {to} of the midline",
        f"move it {_size(px, pct)} {back}",
    )


def seat(one: str, other: str, px: float, pct: float) -> Telling:
    """Return that two points that belong on one spot do not sit there."""
    headline = f"{capital(one)} {_size(px, pct)} away from the {other}"
    return Telling(headline, "put them on one spot")


def ratio(name: str, view: str, pct: float, settled: bool) -> Telling:
    """Return that a ratio of lengths is off."""
    if settled:
        where, do = "than in the other drawings", "look at the points that it rests on"
    else:
        where, do = f"in the {spoken(view)} drawing than in the reference", DECIDE
    more = "more" if pct > 0 else "less"
    return Telling(f"{capital(spoken(name))} {abs(pct):.1f} % {more} {where}", do)


def outline(place: str, opposite: bool, note: str) -> Telling:
    """Return that no body has an outline, and what would mend it."""
    other = "the opposite drawing" if opposite else "the other drawings"
    return Telling(f"Outline does not fit {other}, {place}", note)


def line_weight(view: str, now: float, right: float, pct: float, settled: bool) -> Telling:
    """Return that an outline is too heavy or too light, px."""
    size = f"{sentence_px(now)}, {abs(pct):.0f} %"
    if settled:
        headline = f"Outline {size} too {'heavy' if pct > 0 else 'light'}"
        return Telling(headline, f"redraw it at {sentence_px(right)}")
    weight = f"{'heavier' if pct > 0 else 'lighter'} than in the reference"
    return Telling(f"Outline of the {spoken(view)} drawing {size} {weight}", DECIDE)


def fill_in(colour: str, view: str, where: str) -> Telling:
    """Return that a drawing lacks a fill that another has at a place."""
    there = f"the {spoken(view)} drawing has it{where}"
    return Telling(f"{capital(colour)} is missing", f"fill it in again: {there}")


def refill(view: str, colour: str, where: str, instead: str, settled: bool) -> Telling:
    """Return that a fill should have the colour of the other drawings."""
    if settled:
        headline = f"{capital(colour)}{where} is not this colour elsewhere"
        return Telling(headline, f"refill it with {instead}, as in the other drawings")
    differs = f"{capital(colour)}{where} in the {spoken(view)} drawing is {instead} in another"
    return Telling(differs, DECIDE)


def refill_as_lacked(colour: str, where: str, lacked: str) -> Telling:
    """Return that a fill took the place of one that the drawing lacks."""
    headline = f"{capital(colour)}{where} where {lacked} belongs"
    return Telling(headline, f"refill it with {lacked}, which this drawing lacks")


def refill_unknown(colour: str, where: str, nearest: str) -> Telling:
    """Return that no other drawing has a fill, and which comes nearest there."""
    headline = f"{capital(colour)}{where} is in no other drawing"
    mend = f"refill it as in the other drawings; the nearest elsewhere is {nearest}"
    return Telling(headline, mend)


def other(title: str, drift: str, mend: str) -> Telling:
    """Return what a check of any other kind found, and how it says to mend it."""
    return Telling(f"{capital(title)}, {drift}" if title else capital(drift), mend)


def how_much(redraw: int, decide: int, drawings: int, of: int) -> str:
    """Return how much there is to do.

    Parameters
    ----------
    redraw, decide
        The things to redraw, and those to decide first.
    drawings, of
        The drawings that have something to redraw, of how many.

    Examples
    --------
    >>> how_much(5, 1, 3, 4)
    '1 thing to decide, 5 things to redraw in 3 of 4 drawings'
    >>> how_much(0, 0, 0, 4)
    'nothing to redraw'
    """
    told = [f"{counted(decide, 'thing')} to decide"] if decide else []
    if redraw:
        told.append(f"{counted(redraw, 'thing')} to redraw in {drawings} of {of} drawings")
    return ", ".join(told) or "nothing to redraw"


def also_mends(titles: Sequence[str]) -> str:
    """Return what else an instruction mends, by name where that is short; '' for nothing."""
    few = f" Also mends: {listed(titles)}." if titles else ""
    return few if len(titles) <= FEW else f" Also mends {len(titles)} more findings."


def _views(views: Sequence[str]) -> str:
    return listed(map(spoken, views))


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _size(px: float, pct: float) -> str:
    return f"{sentence_px(px)} ({abs(pct):.1f} %)"

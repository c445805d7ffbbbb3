"""Outline: where no solid body has the drawings' outlines, and what they could not have shown.

Frame of each picture: px of its drawing, y down.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from types import SimpleNamespace
from typing import TYPE_CHECKING

import numpy as np

from turncheck.assets.pages import heading
from turncheck.geometry.guard_bands import Verdict
from turncheck.numerics.arrays import Floats
from turncheck.plain import capital, listed, sentence_px, spoken, together
from turncheck.report.bands import bands_of, box_about, contour_path, edges_at, edges_between, strip
from turncheck.report.facts import Facts, Row

if TYPE_CHECKING:
    from turncheck.geometry.outlines.result import Contradiction, OutlineComparison, Remedy
    from turncheck.images.features import ImageFeatures

#: Width that the pictures share on the screen, and the height of a figure in them, px; paper beside
#: it, and where a bracket has words, in shares of the figure height; chosen by eye.
ROOM, LEAST, MOST, BESIDE, FOR_WORDS = 1250.0, 300.0, 430.0, 0.09, 0.25
#: Least width of a picture on the screen, px: what its words need.
NARROWEST = 228.0
#: Width and height of a magnified place on the screen, px; paper around its rows, and its least
#: height, in shares of the figure height; chosen by eye.
STRIP, AROUND, SHORTEST = (264.0, 198.0), 0.04, 0.12
#: Errors that are counted in the sentence under each picture, % of the figure height; chosen by
#: eye: about the smallest that a viewer sees, and one that anybody sees.
SMALL, PLAIN = 1.0, 3.0
#: A share of an outline that is none, as it is written.
NOWHERE = "0 %"
_FOUND_BY = {
    "alpha": "found by the drawing's own transparency",
    "paper": "told from its paper",
    "mask": "as the sheet's mask has it",
}


@dataclass(frozen=True)
class Bracket:
    """Rows of a drawing that can't fit.

    Attributes
    ----------
    called
        What the contradiction is called, the number of the instruction that it belongs to or a
        letter; '' where that is not shown.
    x, top, bottom, out
        Where it stands; `out` is −1 where its ends point right from the picture's left.
    text
        What mends it here, '' where nothing in this drawing does alone.
    """

    called: str
    x: float
    top: float
    bottom: float
    out: int
    text: str


def build_outline(facts: Facts) -> SimpleNamespace:
    """Return each drawing with its bands and brackets, and the contradictions in words.

    `caught` says along how much of all outlines a slip would have shown; `open` are the
    contradictions that no instruction above explains, with a picture of each place, `follow` the
    others.
    """
    measured = facts.checked.measured
    figures = [
        _figure(facts, view, measured.features[measured.views.index(view)]) for view in facts.views
    ]
    tall = ROOM / sum(figure.box[2] / figure.height for figure in figures)
    tall = min(max(tall, LEAST), MOST)
    for figure in figures:
        x, y, width, height = figure.box
        figure.unit = figure.height / tall  # px of the drawing per px of the screen
        spare = max(NARROWEST * figure.unit - width, 0.0)
        figure.box = (x - spare / 2, y, width + spare, height)
    reading = measured.outlines
    misfits = [_misfit(facts, n, one) for n, one in enumerate(reading.contradictions, start=1)]
    reaches = [figure.reach for figure in figures if figure.reach is not None]
    return SimpleNamespace(
        refusal=reading.refusal,
        note=_said(reading.symmetry_note),
        figures=figures,
        caught=_power(np.concatenate(reaches), "these outlines") if reaches else "",
        open=[misfit for misfit in misfits if not misfit.follows],
        follow=[misfit for misfit in misfits if misfit.follows],
    )


def _said(note: str) -> str:
    """Return a note of the measuring as the page says it: a capital, '12 %' not '12%'."""
    return capital(together(re.sub(r"(?<=\d)%", "\N{NO-BREAK SPACE}%", note)))


def _figure(facts: Facts, view: str, study: ImageFeatures) -> SimpleNamespace:
    measured = facts.checked.measured
    v = measured.views.index(view)
    reading = measured.outlines
    height = measured.figure_height * measured.size(v)
    whole = 0.0, 0.0, float(study.width), float(study.height)
    left, top, right, bottom = study.box or whole
    bands, reach = dict.fromkeys(("near", "edge", "far", "never"), ""), None
    brackets: list[Bracket] = []
    if reading and reading.compared[v]:
        bands = bands_of(facts, v, study, reading)
        reach = _reach(facts, v, study, reading)
        brackets = [
            bracket
            for number, found in enumerate(reading.contradictions, start=1)
            for bracket in _brackets(facts, found, v, _called(facts, number, found))
        ]
    worded = {bracket.out for bracket in brackets if bracket.text}
    left -= height * (FOR_WORDS if -1 in worded else BESIDE)
    right += height * (FOR_WORDS if 1 in worded else BESIDE)
    return SimpleNamespace(
        title=heading(view),
        picture=facts.picture_ids[view],
        box=(left, top - 0.03 * height, right - left, bottom - top + 0.06 * height),
        height=height,
        contour=contour_path(study.contours),
        bands=bands,
        brackets=brackets,
        found_by=_FOUND_BY[study.found_by] if study.box else "no figure was found",
        doubts=study.doubts,
        reach=reach,
        power="" if reach is None else _power(reach, "this outline"),
        left_out=_said(reading.left_out[v]),
    )


def _reach(facts: Facts, v: int, study: ImageFeatures, reading: OutlineComparison) -> Floats | None:
    """Return how far each place of an outline could move unnoticed, % of the figure; None if none.

    At a place both ways count: the farther.
    """
    measured = facts.checked.measured
    _, edges = edges_at(facts, v, study, reading.heights)
    reach = np.maximum(reading.outward[v], reading.inward[v])[np.isfinite(edges)]
    return 100.0 * reach / (measured.figure_height * measured.size(v)) if len(reach) else None


def _power(percent: Floats, where: str) -> str:
    """Return along how much of an outline a slip would have shown, in words."""
    small, plain, never = (
        f"{share.mean():.0%}".replace("%", " %")
        for share in (percent <= SMALL, percent <= PLAIN, np.isinf(percent))
    )
    if plain == NOWHERE:
        says = f"no slip of up to {PLAIN:g} % would be caught on {where}"
    else:
        says = f"a {SMALL:g} % slip would be caught on {small} of {where}, "
        says += f"a {PLAIN:g} % slip on {plain}"
    if never != NOWHERE:
        says += f"; on {never} of it none would be, however large"
    return together(says)


def brackets_of(facts: Facts, row: Row, view: str) -> list[Bracket]:
    """Return the brackets in a drawing of the contradiction that a finding is about."""
    found, v = row.subject.contradiction, facts.checked.measured.views.index(view)
    return [] if found is None else list(_brackets(facts, found, v))


def _brackets(facts: Facts, found: Contradiction, v: int, called: str = "") -> Iterator[Bracket]:
    """Yield a bracket at each side that would mend a contradiction, one at the left if none.

    One of which no more is told says what it is called alone.
    """
    if v not in found.views:
        return
    measured, told = facts.checked.measured, _is_told(facts, found)
    study, height = measured.features[v], measured.figure_height * measured.size(v)
    top, bottom = (float(y) for y in found.rows[v])
    left, right = edges_between(study, top, bottom)
    if left > right:
        left = right = study.width / 2.0
    sides: dict[str, str] = {}
    for remedy in found.remedies:
        if remedy.view == v:
            for side in ("left", "right") if remedy.side == "both" else (remedy.side,):
                sides["left" if side == "height" else side] = _short(remedy) if told else ""
    for side, text in (sides or {"left": ""}).items():
        x, out = (left - 0.02 * height, -1) if side == "left" else (right + 0.02 * height, 1)
        yield Bracket(called, x, top, bottom, out, text)


def _short(remedy: Remedy) -> str:
    size = together(sentence_px(remedy.px))
    if remedy.side == "height":
        return f"{size} {'missing' if remedy.px > 0 else 'too many'}"
    return f"{size} {'out' if remedy.px > 0 else 'in'}"


def _misfit(facts: Facts, number: int, found: Contradiction) -> SimpleNamespace:
    names = facts.checked.measured.views
    height = facts.checked.measured.figure_height
    row = _row_of(facts, found)
    called = _called(facts, number, found)
    low, high = (f"{100.0 * h / height:.0f} %" for h in found.heights)
    views = listed(spoken(names[v]) for v in found.views)
    span = f"at {low}" if low == high else f"between {low} and {high}"
    where = f"{span} of the height{_near(facts, found)}"
    if found.kind == "mirror":
        says = f"{heading(views)} see the figure from opposite sides, and {where} they are no "
        says += "mirror images of each other."
    else:
        says = f"The outlines of {views} can't be of one figure {where}."
    blamed = found.blamed
    aside = []
    if row is not None and row.waits:
        aside.append(f"{capital(row.aside)}.")
    elif not found.remedies:
        aside.append("No single change would mend it: more than one drawing is off there.")
    elif blamed is not None:
        aside.append(f"Only the {spoken(names[blamed])} drawing could be at fault alone.")
    elif len(found.remedies) > 1:
        aside.append("Which of them is wrong can't be told from the outlines alone.")
    if found.symmetry:
        aside.append("This takes the figure to be the same left and right.")
    return SimpleNamespace(
        number=number,
        called=called,
        says=together(says),
        follows=_followed(facts, found),
        strips=list(_strips(facts, found, called)) if _is_told(facts, found) else [],
        aside="" if _followed(facts, found) else " ".join(aside),
        verdict=row.verdict if row else Verdict.OFF_MODEL,
        row=row.id if row else "",
    )


def _strips(facts: Facts, found: Contradiction, called: str) -> Iterator[SimpleNamespace]:
    """Yield the place in each drawing that alone could be at fault, or in all, magnified.

    `must` is the path of what the outline has to take in, or give up, at least; `says` what would
    mend it there.
    """
    measured = facts.checked.measured
    suspects = dict.fromkeys(remedy.view for remedy in found.remedies) or found.views
    for v in suspects:
        study, view = measured.features[v], measured.views[v]
        height = measured.figure_height * measured.size(v)
        brackets = list(_brackets(facts, found, v, called))
        mine = [remedy for remedy in found.remedies if remedy.view == v]
        left, right = (pick(b.x for b in brackets) for pick in (min, max))
        top, bottom = (float(y) for y in found.rows[v])
        tall = max(bottom - top + 2 * AROUND * height, SHORTEST * height)
        bounds, size = (left, top, right, bottom), (right - left + 4 * AROUND * height, tall)
        x, y, wide, tall = box_about(bounds, size, STRIP)
        inward = 0.2 * wide * sum(b.out for b in brackets) / len(brackets)
        yield SimpleNamespace(
            title=heading(view),
            picture=facts.picture_ids[view],
            box=(x - inward, y, wide, tall),
            unit=wide / STRIP[0],
            contour=contour_path(study.contours),
            must="".join(_must(study, found.rows[v], remedy) for remedy in mine),
            brackets=brackets,
            mends=[_mend(measured.views, remedy) for remedy in mine],
        )


def _must(study: ImageFeatures, rows: Floats, remedy: Remedy) -> str:
    """Return the path of what an edge has to move over at least."""
    y = np.arange(max(round(rows[0]), 0), min(round(rows[1]) + 1, study.height))
    paths = []
    for side, edge, out in (("left", study.left[y], -1.0), ("right", study.right[y], 1.0)):
        seen = np.isfinite(edge)
        if remedy.side in (side, "both") and seen.sum() > 1:
            paths.append(strip(edge[seen], edge[seen] + out * remedy.px, y[seen].astype(float)))
    return "".join(paths)


def _row_of(facts: Facts, found: Contradiction) -> Row | None:
    return next((row for row in facts.rows if row.subject.contradiction is found), None)


def _called(facts: Facts, number: int, found: Contradiction) -> str:
    """Return what a contradiction is called: by the instruction it belongs to, else by a letter."""
    row = _row_of(facts, found)
    at = facts.numbers.get(row.index, 0) if row is not None else 0
    return str(at) if at else chr(ord("A") + (number - 1) % 26)


def _followed(facts: Facts, found: Contradiction) -> int:
    """Return the number of the instruction that a contradiction follows from, 0 for none."""
    row = _row_of(facts, found)
    return facts.checked.follows.get(row.index, 0) if row is not None else 0


def _is_told(facts: Facts, found: Contradiction) -> bool:
    """Whether it is told what mends a contradiction.

    Not where that follows from an instruction, or waits for a warning.
    """
    row = _row_of(facts, found)
    return row is None or not (_followed(facts, found) or row.waits)


def _mend(names: Sequence[str], remedy: Remedy) -> str:
    size = sentence_px(remedy.px)
    view = heading(names[remedy.view])
    way = "out" if remedy.px > 0 else "in"
    if remedy.side == "height":
        do = f"the figure {'lacks' if remedy.px > 0 else 'has'} {size} of height there"
        do += ", add them" if remedy.px > 0 else " that no other drawing shows, take them off"
    elif remedy.side == "both":
        do = f"move both edges {size} {way}"
    else:
        do = f"move the edge at the picture's {remedy.side} {size} {way}"
    return together(f"{view}: {do}")


def _near(facts: Facts, found: Contradiction) -> str:
    """Return which landmark is nearest in height: ' (near the wrist)'."""
    measured = facts.checked.measured
    base = measured.views.index(facts.checked.sheet.base)
    marks = facts.checked.sheet.vocabulary.landmarks
    middle = sum(found.heights) / 2.0
    heights = measured.trusted_scales[base].heights(measured.y[base])
    apart = {
        name: abs(float(height) - middle)
        for name, height in zip(measured.landmarks, heights, strict=True)
        if math.isfinite(height) and marks[name].has_height
    }
    nearest = min(apart, key=lambda name: apart[name], default="")
    if not nearest or apart[nearest] > 0.05 * measured.figure_height:
        return ""
    title = marks[nearest].title
    if marks[nearest].twin:
        title = title.removeprefix("left ").removeprefix("right ")
    return f" (near the {title})"

"""Fills to paint again: which, near which point, and in which colour."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from turncheck.geometry.colour_matching import MatchedColour
from turncheck.geometry.measurement import Measurement
from turncheck.images.flat_colours import Fill
from turncheck.instructions.instruction import Instruction, Row, Work, answer, asked, target_of
from turncheck.wording import instructions as words

#: A fill further than this from every point is not named by one, % of the figure height; common
#: practice, no source.
FILL_NEAR_POINT = 8.0
#: A fill that no other drawing has is taken for one that its drawing lacks where neither is
#: more than so many times as large as the other; common practice, no source.
FILL_AS_LARGE = 2.0


def refills(measured: Measurement, rows: Sequence[Row]) -> list[Instruction]:
    """Return what rows of fills ask for; a fill that takes a missing one's place answers both."""
    missing: dict[tuple[tuple[str, ...], str], int] = {}
    answered: dict[tuple[tuple[str, ...], str], int] = {}
    found: list[tuple[str, Instruction]] = []
    for row in rows:
        finding = row[1]
        paint, target = finding.subject.fill, target_of(measured, finding)
        if paint is None:
            continue
        v = measured.views.index(target.views[0])
        own = paint.fills[v]
        others = [fill for w, fill in enumerate(paint.fills) if fill is not None and w != v]
        if own is None:
            missing[target.views, paint.label] = len(found)
            w = paint.fills.index(paint.first)
            where = _where(measured, w, paint.first)
            told = words.fill_in(paint.label, measured.views[w], where)
        elif not others:
            lacked, where = lacked_for(measured.paints, v, own), _where(measured, v, own)
            if lacked is not None:
                answered[target.views, lacked.label] = len(found)
                told = words.refill_as_lacked(own.label, where, lacked.label)
            else:
                nearest = finding.subject.nearest
                instead = nearest.label if nearest else "another"
                told = words.refill_unknown(own.label, where, instead)
        else:
            there = paint.fills[measured.views.index(finding.view)]
            other = there if there in others else others[0]
            where = _where(measured, v, own)
            told = words.refill(target.views[0], own.label, where, other.label, target.settled)
        found.append((paint.label, asked(measured, row, Work.INK, told)))
    into = {missing[key]: answered[key] for key in missing.keys() & answered}
    for gone, kept in into.items():
        label, one = found[kept]
        found[kept] = label, replace(one, findings=(*one.findings, *found[gone][1].findings))
    return answer(one for n, one in enumerate(found) if n not in into)


def lacked_for(paints: Sequence[MatchedColour], v: int, fill: Fill) -> MatchedColour | None:
    """Return the paint that a view lacks and whose place a fill of its own most likely takes."""
    unlike = {
        n: min(abs(math.log(other.share / fill.share)) for other in paint.fills if other)
        for n, paint in enumerate(paints)
        if paint.fills[v] is None
    }
    best = min(unlike, key=lambda n: unlike[n], default=-1)
    return paints[best] if best >= 0 and unlike[best] <= math.log(FILL_AS_LARGE) else None


def _where(measured: Measurement, v: int, fill: Fill) -> str:
    """Return where a view has a fill: near the nearest point, if one lies near."""
    apart = np.hypot(measured.x[v] - fill.at[0], measured.y[v] - fill.at[1])
    apart[measured.columns("ground")] = np.nan
    reach = FILL_NEAR_POINT / 100.0 * measured.figure_height * measured.size(v)
    if not (apart <= reach).any():
        return f" near ({fill.at[0]:.0f}, {fill.at[1]:.0f})"
    name = measured.landmarks[int(np.nanargmin(apart))]
    return f" near the {measured.sheet.vocabulary.landmarks[name].title}"

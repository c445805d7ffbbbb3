"""Fills to paint again: which, near which point, and in which colour."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd

from turncheck.geometry.colour_matching import MatchedColour
from turncheck.geometry.measurement import Measurement
from turncheck.images.flat_colours import Fill
from turncheck.instructions.instruction import Cause, Instruction, blame, nobody
from turncheck.wording import capital, spoken

#: A fill further than this from every point is not named by one, % of the figure height; common
#: practice, no source.
NEAR = 8.0
#: A fill that no other drawing has is taken for one that its drawing lacks where neither is
#: more than so many times as large as the other; common practice, no source.
AS_LARGE = 2.0


def refills(measured: Measurement, rows: pd.DataFrame) -> list[Instruction]:
    """Return what `palette` rows ask for; a fill that takes a missing one's place answers both."""
    paints = measured.paints
    found: list[Instruction] = []
    missing: dict[tuple[str, str], int] = {}
    answered: dict[tuple[str, str], int] = {}
    for index, row in rows.iterrows():
        blamed = blame(row)
        swatch = next(paint for paint in paints if paint.label == row["subject"])
        v = measured.views.index(blamed.view)
        own = swatch.fills[v]
        others = [fill for w, fill in enumerate(swatch.fills) if fill is not None and w != v]
        if own is None:
            missing[blamed.view, swatch.label] = len(found)
            says = _missing(measured, swatch)
        elif not others:
            lacked = lacked_for(paints, v, own)
            says = f"Refill {own.label}{_where(measured, v, own)} "
            if lacked is not None:
                answered[blamed.view, lacked.label] = len(found)
                says += f"with {lacked.label}, which this drawing lacks."
            else:
                nearest = str(row["note"]).partition("; ")[2]
                says += f"as in the other drawings: none has this colour; the {nearest}."
        else:
            as_elsewhere = swatch.fills[measured.views.index(str(row["view"]))]
            other = as_elsewhere if as_elsewhere in others else others[0]
            assert other is not None
            says = _repaint(measured, v, own, other, blamed.settled)
        found.append(
            Instruction(
                blamed.view,
                Cause.INK,
                says,
                amount_pct=blamed.amount,
                settled=blamed.settled,
                findings=(int(str(index)),),
            )
        )
    return _joined(found, {missing[key]: answered[key] for key in missing.keys() & answered})


def lacked_for(paints: list[MatchedColour], v: int, fill: Fill) -> MatchedColour | None:
    """Return the paint that a view lacks and whose place a fill of its own most likely takes."""
    unlike = {
        n: min(abs(math.log(other.share / fill.share)) for other in paint.fills if other)
        for n, paint in enumerate(paints)
        if paint.fills[v] is None
    }
    best = min(unlike, key=lambda n: unlike[n], default=-1)
    return paints[best] if best >= 0 and unlike[best] <= math.log(AS_LARGE) else None


def near_point(measured: Measurement, v: int, at: tuple[float, float]) -> str:
    """Return what the nearest point of a view is called, '' if none lies near (px of the view)."""
    apart = np.hypot(measured.x[v] - at[0], measured.y[v] - at[1])
    apart[measured.columns("ground")] = np.nan
    reach = NEAR / 100.0 * measured.figure_height * measured.size(v)
    if not (apart <= reach).any():
        return ""
    name = measured.landmarks[int(np.nanargmin(apart))]
    return measured.sheet.vocabulary.landmarks[name].title


def _joined(found: list[Instruction], into: dict[int, int]) -> list[Instruction]:
    """Return instructions with some taken into others: their findings go along."""
    for gone, kept in into.items():
        both = (*found[kept].findings, *found[gone].findings)
        found[kept] = replace(found[kept], findings=both)
    return [one for n, one in enumerate(found) if n not in into]


def _where(measured: Measurement, v: int, fill: Fill) -> str:
    name = near_point(measured, v, fill.at)
    return f" near the {name}" if name else f" near ({fill.at[0]:.0f}, {fill.at[1]:.0f})"


def _missing(measured: Measurement, swatch: MatchedColour) -> str:
    w = swatch.fills.index(swatch.first)
    there = f"the {spoken(measured.views[w])} drawing has it{_where(measured, w, swatch.first)}"
    return f"{capital(swatch.label)} is missing; fill it in again: {there}."


def _repaint(measured: Measurement, v: int, own: Fill, other: Fill, settled: bool) -> str:
    where = _where(measured, v, own)
    if settled:
        return f"Refill {own.label}{where} with {other.label}, as in the other drawings."
    differs = f"{capital(own.label)}{where} is {other.label} in another drawing"
    return f"{differs}; {nobody('refill')}."

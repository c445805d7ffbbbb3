"""Outlines, line weight and colours: what the pixels of the drawings say to redraw."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from turncheck.checks.contradictions import shown_on, subject_of, suspects
from turncheck.measuring import Measured
from turncheck.redraw.instruction import Cause, Instruction, blame, capital, merged, spoken
from turncheck.redraw.moves import Move

#: How far the drawing around a landmark goes along with it, % of the figure height; common
#: practice, no source.
PART_REACH = 4.0
#: Checks whose findings come from the drawings' pixels.
CHECKS = ("outline", "mirror", "line_weight", "palette")


def redraw_looks(measured: Measured, rows: pd.DataFrame, moves: list[Move]) -> list[Instruction]:
    """Return what outlines, ink and fills ask for; each finding's note says where and what.

    An outline that breaks where a part is to be moved already is left to that move.
    """
    explained = {
        (measured.views[shown_on(measured, found)], subject_of(measured, found))
        for found in (measured.outlines.contradictions if measured.outlines else ())
        if any(
            _reaches(measured, move, v, found.rows[v]) for v in suspects(found) for move in moves
        )
    }
    found = []
    for index, row in rows.iterrows():
        blamed = blame(row)
        if (row["view"], row["subject"]) in explained:
            continue
        if row["check"] in ("outline", "mirror"):
            cause, says = Cause.OUTLINE, _outline(row)
        elif row["check"] == "line_weight":
            cause, says = Cause.INK, _ink(row, blamed.amount)
        else:
            cause, says = Cause.INK, f"{capital(str(row['subject']))}: {row['note']}."
        found.append(
            Instruction(
                blamed.view,
                cause,
                says,
                amount_px=float(row["drift_px"]),
                amount_pct=blamed.amount,
                settled=blamed.settled,
                findings=(int(str(index)),),
            )
        )
    return merged(found)


def _reaches(measured: Measured, move: Move, v: int, rows: npt.NDArray[np.float64]) -> bool:
    """Return whether a move in a view touches some of its picture rows."""
    if move.view != measured.views[v]:
        return False
    reach = (abs(move.amount_pct) + PART_REACH) / 100.0 * measured.figure_height * measured.size(v)
    y = measured.y[v, measured.columns(*move.landmarks)]
    return bool(np.nanmin(y) - reach <= rows.max() and np.nanmax(y) + reach >= rows.min())


def _outline(row: pd.Series) -> str:
    other = " in the opposite drawing" if row["check"] == "mirror" else ""
    return (
        f"{capital(str(row['subject']))}: no solid body can have this outline and the one"
        f"{other or 's in the other drawings'}; {spoken(str(row['note']))}."
    )


def _ink(row: pd.Series, amount: float) -> str:
    heavier = "heavier" if amount > 0 else "lighter"
    return f"The outline is {abs(amount):.0f} % {heavier}: {row['note']}."

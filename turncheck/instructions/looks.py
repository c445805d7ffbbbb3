"""Outlines, line weight and colours: what the pixels of the drawings say to redraw."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from turncheck.checks.comparing import ONE_OF_SEVERAL
from turncheck.checks.contradictions import shown_on, subject_of, suspects
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import Blame, Cause, Instruction, blame, merged, nobody
from turncheck.instructions.moves import Move
from turncheck.instructions.refills import refills
from turncheck.wording import capital, sentence_px, spoken

#: How far the drawing around a landmark goes along with it, % of the figure height; common
#: practice, no source.
PART_REACH = 4.0
#: Checks whose findings come from the drawings' pixels.
CHECKS = ("outline", "mirror", "line_weight", "palette")


def redraw_looks(measured: Measurement, rows: pd.DataFrame, moves: list[Move]) -> list[Instruction]:
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
    fills = rows["check"] == "palette"
    found = []
    for index, row in rows[~fills].iterrows():
        blamed = blame(row)
        if (row["view"], row["subject"]) in explained:
            continue
        if row["check"] in ("outline", "mirror"):
            cause, says = Cause.OUTLINE, _outline(row)
        else:
            cause, says = Cause.INK, _ink(measured, row, blamed)
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
    return merged([*found, *refills(measured, rows[fills])])


def _reaches(measured: Measurement, move: Move, v: int, rows: npt.NDArray[np.float64]) -> bool:
    """Return whether a move in a view touches some of its picture rows."""
    if move.view != measured.views[v]:
        return False
    reach = (abs(move.amount_pct) + PART_REACH) / 100.0 * measured.figure_height * measured.size(v)
    y = measured.y[v, measured.columns(*move.landmarks)]
    return bool(np.nanmin(y) - reach <= rows.max() and np.nanmax(y) + reach >= rows.min())


def _outline(row: pd.Series) -> str:
    other = "the opposite drawing" if row["check"] == "mirror" else "the other drawings"
    return (
        f"{capital(outline_place(str(row['subject'])))} the outline does not fit {other}; "
        f"{spoken(str(row['note'])).replace(ONE_OF_SEVERAL, 'the wrong one is')}."
    )


def outline_place(subject: str) -> str:
    """Return the rows of an outline's finding as a person says them.

    >>> outline_place("rows 63 to 117, height"), outline_place("outline")
    ('63 to 117 px from the top', 'outline')
    """
    rows = subject.partition(",")[0].removeprefix("rows ")
    return rows if rows == subject else f"{rows} px from the top"


def _ink(measured: Measurement, row: pd.Series, blamed: Blame) -> str:
    sizes = [measured.size(measured.views.index(view)) for view in (blamed.view, row["view"])]
    at_fault = blamed.view == row["view"]
    now = float(row["measured"] if at_fault else row["expected"]) * sizes[0] / sizes[1]
    right = now - blamed.amount / 100.0 * float(row["expected"]) * sizes[0] / sizes[1]
    weight = "heavy" if blamed.amount > 0 else "light"
    do = f"redraw the outline at {sentence_px(right)}" if blamed.settled else nobody("redraw")
    return f"The outline is {sentence_px(now)}, {abs(blamed.amount):.0f} % too {weight}; {do}."

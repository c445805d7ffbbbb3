"""What to redraw: findings turned into instructions that name a drawing and a move.

Whole-drawing causes come first and are taken out of the rest; then parts that drift as one;
then single landmarks; then pairs and ratios that nothing before explains; then outlines, ink
and colours.
"""

from __future__ import annotations

import math

import pandas as pd

from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import Cause, Instruction
from turncheck.instructions.looks import CHECKS, outline_place, redraw_looks
from turncheck.instructions.moves import as_instructions, find_moves
from turncheck.instructions.rest import ratios, uneven_pairs
from turncheck.instructions.whole import explained_by_whole, resized_views, whole_drawings

__all__ = [
    "Cause",
    "Instruction",
    "explained_by_whole",
    "outline_place",
    "what_to_redraw",
]


def what_to_redraw(measured: Measurement, findings: pd.DataFrame) -> list[Instruction]:
    """Return the instructions that the off-model findings add up to, in the order of work."""
    off = findings[findings["verdict"] == Verdict.OFF_MODEL.value]
    looks = off["check"].isin(CHECKS)
    pixels, off = off[looks], off[~looks]
    whole = (off["check"] == "size") | (off["subject"] == "yaw")
    ratio = ~whole & (off["unit"] == "pct_ratio")
    within = off["subject"].str.contains("/| on | level$", regex=True) | (off["check"] == "pairing")
    within &= ~whole & ~ratio
    first = whole_drawings(measured, off[whole])
    resized = resized_views(off, first)
    moves = find_moves(measured, off[~whole & ~ratio & ~within], resized)
    order = [
        *first,
        *as_instructions(measured, moves),
        *uneven_pairs(measured, off[within], moves),
        *ratios(measured, off[ratio], moves),
        *redraw_looks(measured, pixels, moves),
    ]
    return sorted(order, key=lambda i: (i.cause, -_size(i)))


def _size(instruction: Instruction) -> float:
    amount = abs(instruction.amount_pct)
    return math.inf if math.isnan(amount) else amount

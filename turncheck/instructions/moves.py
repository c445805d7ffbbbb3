"""Points that are too high, too low or too far to one side; parts that drift as one."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import Cause, Instruction, blame, nobody, reference_words
from turncheck.instructions.whole import own_drift
from turncheck.wording import capital, sentence_px, spoken


@dataclass
class Move:
    """One point or line that is off in one view, up or sideways."""

    view: str
    landmarks: tuple[str, ...]
    subject: str
    part: str
    sideways: bool
    amount_pct: float
    tolerance_pct: float
    settled: bool
    findings: list[int] = field(default_factory=list)

    def belongs_with(self, other: Move) -> bool:
        """Whether both are of one part of one view and drift alike."""
        return (
            bool(self.part)
            and (self.view, self.part, self.sideways, self.settled)
            == (other.view, other.part, other.sideways, other.settled)
            and self.amount_pct * other.amount_pct > 0
            and abs(self.amount_pct - other.amount_pct)
            <= max(self.tolerance_pct, other.tolerance_pct)
        )


def find_moves(measured: Measurement, rows: pd.DataFrame, resized: set[str]) -> list[Move]:
    """Return the moves that rows of single landmarks or lines ask for, one for each.

    Parameters
    ----------
    resized
        Views with a whole-drawing cause, whose share is taken out of heights.
    """
    moves: dict[tuple[str, str, bool], Move] = {}
    for index, row in rows.iterrows():
        blamed = blame(row)
        amount = blamed.amount
        sideways = row["check"] == "turn"
        own = own_drift(measured, row, resized)
        if math.isfinite(own):
            amount = own
            if abs(amount) <= float(row["tolerance_pct"]):
                continue  # the whole drawing's size or position explains it
        names = tuple(str(row["landmarks"]).split())
        mark = measured.sheet.vocabulary.landmarks[names[0]]
        move = moves.setdefault(
            (blamed.view, str(row["subject"]), sideways),
            Move(
                view=blamed.view,
                landmarks=names,
                subject=mark.title if len(names) == 1 else spoken(str(row["subject"])),
                part=mark.part,
                sideways=sideways,
                amount_pct=amount,
                tolerance_pct=float(row["tolerance_pct"]),
                settled=blamed.settled,
            ),
        )
        move.findings.append(int(str(index)))
    return list(moves.values())


def as_instructions(measured: Measurement, moves: list[Move]) -> list[Instruction]:
    """Return one instruction for each part that drifts as one, and for what is left."""
    groups: list[list[Move]] = []
    for move in sorted(moves, key=lambda m: (m.view, m.part, m.sideways, m.settled, m.amount_pct)):
        if groups and move.belongs_with(groups[-1][0]):
            groups[-1].append(move)
        else:
            groups.append([move])
    in_order = [sorted(g, key=lambda m: measured.columns(*m.landmarks)) for g in groups]
    return [_instruction(measured, group) for group in in_order]


def _instruction(measured: Measurement, group: list[Move]) -> Instruction:
    first = group[0]
    at = measured.views.index(first.view)
    names = tuple(dict.fromkeys(name for move in group for name in move.landmarks))
    amount = sum(move.amount_pct for move in group) / len(group)
    px = amount / 100.0 * measured.figure_height * measured.size(at)
    return Instruction(
        view=first.view,
        cause=Cause.PART if len(group) > 1 else Cause.LANDMARK,
        says=_sentence(measured, group, names, px, amount),
        amount_px=px,
        amount_pct=amount,
        sideways=first.sideways,
        settled=first.settled,
        landmarks=names,
        findings=tuple(index for move in group for index in move.findings),
    )


def _sentence(
    measured: Measurement, group: list[Move], names: tuple[str, ...], px: float, amount: float
) -> str:
    first = group[0]
    title = measured.sheet.vocabulary.part_title(first.part)
    if len(group) > 1 and set(names) >= _of_part(measured, first):
        subject, verb, it = title.replace("the ", "the whole ", 1), "is", "it"
    elif len(group) > 1:
        listed = ", ".join(move.subject for move in group[:-1]) + f" and {group[-1].subject}"
        subject, verb, it = f"{title}: {listed}", "are", "them"
    else:
        subject, verb, it = f"the {first.subject}", "is", "it"
    size = f"{sentence_px(px)} ({abs(amount):.1f} %)"
    if first.sideways:
        side, back = ("right", "left") if px > 0 else ("left", "right")
        too, do = f"too far to the picture's {side}", f"move {it} {sentence_px(px)} {back}"
        compared = f"farther to the picture's {side} than the other drawings let expect"
    else:
        too, do = ("too high", f"lower {it}") if px > 0 else ("too low", f"raise {it}")
        do += f" {sentence_px(px)}"
        compared = f"{'higher' if px > 0 else 'lower'} than in {reference_words(measured)}"
    if first.settled:
        return f"{capital(subject)} {verb} {size} {too}; {do}."
    return f"{capital(subject)} {verb} {size} {compared}; {nobody('redraw')}."


def _of_part(measured: Measurement, move: Move) -> set[str]:
    """Return the landmarks of a move's part that its view has and that could move likewise."""
    at = measured.views.index(move.view)
    return {
        mark.name
        for mark in measured.sheet.vocabulary.landmarks.values()
        if mark.part == move.part
        and mark.name in measured.landmarks
        and (not mark.slides if move.sideways else mark.has_height)
        and np.isfinite(measured.y[at, measured.landmarks.index(mark.name)])
    }

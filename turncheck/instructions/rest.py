"""What no move explains: pairs that are uneven within a drawing, and ratios."""

from __future__ import annotations

import pandas as pd

from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import Cause, Instruction, blame, merged
from turncheck.instructions.moves import Move
from turncheck.wording import capital, sentence_px, spoken


def uneven_pairs(measured: Measurement, rows: pd.DataFrame, moves: list[Move]) -> list[Instruction]:
    """Return what is uneven within one drawing, where no move named already explains it."""
    found = []
    for index, row in rows.iterrows():
        names = tuple(str(row["landmarks"]).split())
        level = str(row["subject"]).endswith(" level")
        sideways = row["check"] == "pairing" and not level
        moved = {m.view for m in moves for n in m.landmarks if n in names}
        moved_so = {m.view for m in moves if m.sideways == sideways and set(m.landmarks) & {*names}}
        if row["view"] in (moved if row["check"] == "pivot" and not level else moved_so):
            continue
        px, pct = float(row["drift_px"]), float(row["drift_pct"])
        titles = [measured.sheet.vocabulary.landmarks[name].title for name in names]
        size = f"{sentence_px(px)} ({abs(pct):.1f} %)"
        if level:
            where = "higher" if px > 0 else "lower"
            says = f"The {titles[0]} is {size} {where} than the {titles[1]}; level them."
        elif sideways:
            to, back = ("right", "left") if px > 0 else ("left", "right")
            what = f"The middle of {titles[0]} and {titles[1]}" if len(titles) > 1 else titles[0]
            says = f"{capital(what)} lies {size} to the picture's {to} of the midline; "
            says += f"move it {sentence_px(px)} {back}."
        else:
            says = f"The {titles[0]} is {size} away from the {titles[1]}; put them on one spot."
        found.append(
            Instruction(
                str(row["view"]),
                Cause.LANDMARK,
                says,
                px,
                pct,
                sideways=sideways,
                landmarks=names,
                findings=(int(str(index)),),
            )
        )
    return found


def ratios(measured: Measurement, rows: pd.DataFrame, moves: list[Move]) -> list[Instruction]:
    """Return ratios that are off, where no move named already explains them."""
    named = {(move.view, name) for move in moves for name in move.landmarks}
    found = []
    for index, row in rows.iterrows():
        blamed = blame(row)
        names = tuple(str(row["landmarks"]).split())
        held = {blamed.view} if row["odd_view"] else {blamed.view, measured.sheet.reference}
        if any((view, name) in named for view in held for name in names):
            continue
        more = "more" if blamed.amount > 0 else "less"
        against = "in the other drawings" if blamed.settled else "in the reference"
        says = (
            f"{capital(spoken(str(row['subject'])))} is {abs(blamed.amount):.1f} % {more} than "
            f"{against}; look at the points that it rests on."
        )
        found.append(
            Instruction(
                blamed.view,
                Cause.RATIO,
                says,
                amount_pct=blamed.amount,
                settled=blamed.settled,
                landmarks=names,
                findings=(int(str(index)),),
            )
        )
    return merged(found)

"""What to redraw: findings turned into instructions that name a drawing and a move.

Whole-drawing causes come first and are taken out of the rest; then parts that drift as one;
then single landmarks; then ratios and pairs that nothing before explains.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import pandas as pd

from turncheck.checks.comparing import DISAGREE
from turncheck.measuring import Measured
from turncheck.uncertainty import Verdict


class Cause(enum.IntEnum):
    """What an instruction is about, in the order of work."""

    WHOLE = 0
    PART = 1
    LANDMARK = 2
    RATIO = 3


@dataclass(frozen=True)
class Instruction:
    """One thing to redraw.

    Attributes
    ----------
    view
        The drawing to change.
    says
        One sentence: what is off, by how much, what to do.
    amount_px, amount_pct
        The drift in px of that drawing, and in % (of the figure height or of the ratio).
    settled
        Whether a majority of the drawings says that this one is wrong.
    landmarks
        The landmarks to move.
    findings
        The rows of the findings table that it answers, by index.
    """

    view: str
    cause: Cause
    says: str
    amount_px: float
    amount_pct: float
    settled: bool = True
    landmarks: tuple[str, ...] = ()
    findings: tuple[int, ...] = ()


@dataclass
class _Move:
    """One landmark or line that is too high or too low in one view."""

    view: str
    landmarks: tuple[str, ...]
    subject: str
    part: str
    amount_pct: float
    tolerance_pct: float
    settled: bool
    findings: list[int] = field(default_factory=list)


def what_to_redraw(measured: Measured, findings: pd.DataFrame) -> list[Instruction]:
    """Return the instructions that the off-model findings add up to, in the order of work."""
    off = findings[findings["verdict"] == Verdict.OFF_MODEL.value]
    size = off["check"] == "size"
    ratio = off["unit"] == "pct_ratio"
    within = off["subject"].str.contains("/| on | level$", regex=True) | (off["check"] == "pairing")
    whole = _whole_drawings(measured, off[size])
    moves = _moves(measured, off[~size & ~ratio & ~within], {i.view for i in whole})
    parts = _parts(measured, moves)
    named = {(move.view, name) for move in moves for name in move.landmarks}
    rest = [
        *_within(measured, off[~size & ~ratio & within], named),
        *_ratios(measured, off[~size & ratio], named),
    ]
    order = [*whole, *parts, *rest]
    return sorted(order, key=lambda i: (i.cause, -abs(i.amount_pct)))


def sentence_px(amount: float) -> str:
    """Return a length as a person reads it off a drawing: tenths below 10 px.

    >>> sentence_px(-12.4), sentence_px(3.14)
    ('12 px', '3.1 px')
    """
    size = abs(amount)
    return f"{size:.0f} px" if size >= 9.95 else f"{size:.1f} px"


def spoken(view: str) -> str:
    """Return a view's name as a person says it.

    >>> spoken("three_quarter")
    'three quarter'
    """
    return view.replace("_", " ")


def _whole_drawings(measured: Measured, rows: pd.DataFrame) -> list[Instruction]:
    done: dict[tuple[str, str], Instruction] = {}
    for index, row in rows.iterrows():
        view, amount, settled = _blamed(row)
        at = measured.views.index(view)
        px = amount / 100.0 * measured.figure_height * measured.size(at)
        against = "the other drawings" if settled else _reference_words(measured)
        if row["subject"] == "scale":
            px = amount / 100.0 * measured.figure_height
            # in the reference's px the others have size - amount, whichever view is blamed
            times = measured.size(at) / (measured.size(at) - amount / 100.0)
            amount = 100.0 * (times - 1.0)
            too = "larger" if amount > 0 else "smaller"
            do = f"scale it to {100.0 / times:.1f} %" if settled else _nobody("scale")
            says = f"The whole drawing is {abs(amount):.1f} % {too} than {against}; {do}."
        elif row["subject"] == "ground":
            line = "the common ground" if measured.sheet.placing == "canvas" else "its ground line"
            where, move = ("above", "down") if amount > 0 else ("below", "up")
            do = f"move it {move} {sentence_px(px)}" if settled else _nobody("move")
            given = "" if settled else f" if {against} is right"
            says = f"The whole drawing stands {sentence_px(px)} {where} {line}{given}; "
            says += f"{do}, or place the ground again."
        else:
            px = amount = math.nan
            says = f"It can't be put on the ruler: {row['note']}; look at the placings first."
        _merge(
            done, (view, str(row["subject"])), view, Cause.WHOLE, says, px, amount, settled, index
        )
    return list(done.values())


def _moves(measured: Measured, rows: pd.DataFrame, resized: set[str]) -> list[_Move]:
    moves: dict[tuple[str, str], _Move] = {}
    for index, row in rows.iterrows():
        view, amount, settled = _blamed(row)
        if not row["odd_view"] and resized & {row["view"], measured.sheet.reference}:
            amount = float(row["own_pct"])
            if abs(amount) <= float(row["tolerance_pct"]):
                continue  # the whole drawing's size or position explains it
        names = tuple(str(row["landmarks"]).split())
        mark = measured.sheet.vocabulary.landmarks[names[0]]
        key = (view, str(row["subject"]))
        move = moves.setdefault(
            key,
            _Move(
                view,
                names,
                mark.title if len(names) == 1 else spoken(str(row["subject"])),
                mark.part,
                amount,
                float(row["tolerance_pct"]),
                settled,
            ),
        )
        move.findings.append(int(str(index)))
    return list(moves.values())


def _parts(measured: Measured, moves: list[_Move]) -> list[Instruction]:
    """Return one instruction for each part that drifts as one, and for what is left."""
    groups: list[list[_Move]] = []
    for move in sorted(moves, key=lambda m: (m.view, m.part, m.settled, m.amount_pct)):
        last = groups[-1][0] if groups else None
        if (
            last is not None
            and move.part
            and (last.view, last.part, last.settled) == (move.view, move.part, move.settled)
            and last.amount_pct * move.amount_pct > 0
            and abs(move.amount_pct - last.amount_pct)
            <= max(last.tolerance_pct, move.tolerance_pct)
        ):
            groups[-1].append(move)
        else:
            groups.append([move])
    in_order = [sorted(g, key=lambda m: measured.columns(*m.landmarks)) for g in groups]
    return [_move_instruction(measured, group) for group in in_order]


def _move_instruction(measured: Measured, group: list[_Move]) -> Instruction:
    first = group[0]
    at = measured.views.index(first.view)
    names = tuple(dict.fromkeys(name for move in group for name in move.landmarks))
    amount = sum(move.amount_pct for move in group) / len(group)
    px = amount / 100.0 * measured.figure_height * measured.size(at)
    whole_part = len(group) > 1 and set(names) >= _of_part(measured, at, first.part)
    title = measured.sheet.vocabulary.part_title(first.part)
    if whole_part:
        subject, verb, it = title.replace("the ", "the whole ", 1), "is", "it"
    elif len(group) > 1:
        listed = ", ".join(move.subject for move in group[:-1]) + f" and {group[-1].subject}"
        subject, verb, it = f"{title}: {listed}", "are", "them"
    else:
        subject, verb, it = f"the {first.subject}", "is", "it"
    where, move_word = ("high", "lower") if amount > 0 else ("low", "raise")
    size = f"{sentence_px(px)} ({abs(amount):.1f} %)"
    if first.settled:
        says = f"{_capital(subject)} {verb} {size} too {where}; {move_word} {it} {sentence_px(px)}."
    else:
        against = _reference_words(measured)
        compared = "higher" if amount > 0 else "lower"
        says = (
            f"{_capital(subject)} {verb} {size} {compared} than in {against}; {_nobody('redraw')}."
        )
    return Instruction(
        view=first.view,
        cause=Cause.PART if len(group) > 1 else Cause.LANDMARK,
        says=says,
        amount_px=px,
        amount_pct=amount,
        settled=first.settled,
        landmarks=names,
        findings=tuple(index for move in group for index in move.findings),
    )


def _within(
    measured: Measured, rows: pd.DataFrame, named: set[tuple[str, str]]
) -> list[Instruction]:
    """Return what is uneven within one drawing and not explained by a move already named."""
    found = []
    for index, row in rows.iterrows():
        names = str(row["landmarks"]).split()
        subject, px, pct = str(row["subject"]), float(row["drift_px"]), float(row["drift_pct"])
        titles = [measured.sheet.vocabulary.landmarks[name].title for name in names]
        size = f"{sentence_px(px)} ({abs(pct):.1f} %)"
        explained = any((row["view"], name) in named for name in names)
        if subject.endswith(" level"):
            if explained:
                continue
            where = "higher" if px > 0 else "lower"
            says = f"The {titles[0]} is {size} {where} than the {titles[1]}; level them."
        elif " on " in subject:
            if explained:
                continue
            says = f"The {titles[0]} is {size} away from the {titles[1]}; put them on one spot."
        else:
            to, back = ("right", "left") if px > 0 else ("left", "right")
            what = f"The middle of {titles[0]} and {titles[1]}" if len(titles) > 1 else titles[0]
            says = f"{_capital(what)} lies {size} to the picture's {to} of the midline; "
            says += f"move it {sentence_px(px)} {back}."
        view = str(row["view"])
        found.append(
            Instruction(view, Cause.LANDMARK, says, px, pct, True, tuple(names), (int(str(index)),))
        )
    return found


def _ratios(
    measured: Measured, rows: pd.DataFrame, named: set[tuple[str, str]]
) -> list[Instruction]:
    done: dict[tuple[str, str], Instruction] = {}
    for index, row in rows.iterrows():
        view, amount, settled = _blamed(row)
        names = str(row["landmarks"]).split()
        held = {view} if row["odd_view"] else {view, measured.sheet.reference}
        if any((one, name) in named for one in held for name in names):
            continue  # a move already named, in this drawing or in the reference, explains it
        more = "more" if amount > 0 else "less"
        against = "in the other drawings" if settled else "in the reference"
        says = f"{_capital(str(row['subject']))} is {abs(amount):.1f} % {more} than {against}; "
        says += "look at the points that it rests on."
        key = (view, str(row["subject"]))
        _merge(done, key, view, Cause.RATIO, says, math.nan, amount, settled, index, tuple(names))
    return list(done.values())


def _merge(
    done: dict[tuple[str, str], Instruction],
    key: tuple[str, str],
    view: str,
    cause: Cause,
    says: str,
    px: float,
    pct: float,
    settled: bool,
    index: object,
    landmarks: tuple[str, ...] = (),
) -> None:
    """Add an instruction, or its finding to the one that says the same already."""
    earlier = done[key].findings if key in done else ()
    findings = (*earlier, int(str(index)))
    done[key] = Instruction(view, cause, says, px, pct, settled, landmarks, findings)


def _blamed(row: pd.Series) -> tuple[str, float, bool]:
    """Return the view to change, how far it is off in the row's unit, and whether that's sure."""
    if row["odd_view"] and math.isfinite(float(row["odd_pct"])):
        return str(row["odd_view"]), float(row["odd_pct"]), True
    return str(row["view"]), float(row["drift_pct"]), row["note"] != DISAGREE


def _of_part(measured: Measured, at: int, part: str) -> set[str]:
    """Return the landmarks of a part whose heights are placed on a view."""
    marks: Iterable[str] = (
        mark.name
        for mark in measured.sheet.vocabulary.landmarks.values()
        if mark.part == part and mark.has_height and mark.name in measured.landmarks
    )
    return {name for name in marks if math.isfinite(measured.y[at, measured.landmarks.index(name)])}


def _reference_words(measured: Measured) -> str:
    reference = measured.sheet.reference
    return "the consensus" if measured.reference is None else f"the {spoken(reference)} drawing"


def _nobody(do: str) -> str:
    return f"no majority says which drawing is wrong, so {do} the one you trust less"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]

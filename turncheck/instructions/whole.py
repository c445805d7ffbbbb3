"""Whole drawings: size, ground, and the angle that they were drawn at."""

from __future__ import annotations

import math
from collections.abc import Collection

import pandas as pd

from turncheck.geometry.guard_bands import COVERAGE, Verdict
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import (
    Blame,
    Cause,
    Instruction,
    blame,
    merged,
    nobody,
    reference_words,
)
from turncheck.wording import capital, sentence_px


def whole_drawings(measured: Measurement, rows: pd.DataFrame) -> list[Instruction]:
    """Return what is wrong with whole drawings: `size` rows and the yaws of `turn`."""
    say = {"scale": _scale, "ground": _ground, "yaw": _yaw, "ruler": _ruler}
    found = []
    for index, row in rows.iterrows():
        blamed = blame(row)
        says, px, amount = say[str(row["subject"])](measured, row, blamed)
        found.append(
            Instruction(
                blamed.view,
                Cause.WHOLE,
                says,
                px,
                amount,
                settled=blamed.settled,
                findings=(int(str(index)),),
            )
        )
    return merged(found)


def resized_views(findings: pd.DataFrame, instructions: Collection[Instruction]) -> set[str]:
    """Return the views that a `size` finding is about, and those that it asks to change."""
    sizes = findings.index[(findings["check"] == "size") & (findings["verdict"] == "off_model")]
    asked = {i.view for i in instructions if i.cause is Cause.WHOLE and {*i.findings} & {*sizes}}
    return asked | {str(view) for view in findings.loc[sizes, "view"]}


def own_drift(measured: Measurement, row: pd.Series, resized: Collection[str]) -> float:
    """Return a height's drift less the whole drawing's share; NaN where that has none in it."""
    has_share = not row["odd_view"] and math.isfinite(row["own_pct"])
    both = {row["view"], measured.sheet.reference}
    return float(row["own_pct"]) if has_share and both & {*resized} else math.nan


def explained_by_whole(
    measured: Measurement, findings: pd.DataFrame, instructions: Collection[Instruction]
) -> set[int]:
    """Return the rows, by index, that putting whole drawings right puts right as well.

    Off-model rows whose own drift is within the tolerance, and undecided ones whose own drift
    is so for certain.
    """
    resized = resized_views(findings, instructions)
    explained = set()
    for index, row in findings.iterrows():
        own, allowed = own_drift(measured, row, resized), float(row["tolerance_pct"])
        if row["verdict"] == Verdict.UNDECIDED.value and math.isfinite(own):
            own = abs(own) + COVERAGE * float(row["uncertainty_pct"])
        elif row["verdict"] != Verdict.OFF_MODEL.value:
            continue
        if abs(own) <= allowed:
            explained.add(int(str(index)))
    return explained


def _scale(measured: Measurement, row: pd.Series, blamed: Blame) -> tuple[str, float, float]:
    px = blamed.amount / 100.0 * measured.figure_height
    size = measured.size(measured.views.index(blamed.view))
    # in the reference's px the others have size - amount, whichever view is blamed
    times = size / (size - blamed.amount / 100.0)
    amount = 100.0 * (times - 1.0)
    too = "larger" if amount > 0 else "smaller"
    against = "the other drawings" if blamed.settled else reference_words(measured)
    do = f"scale it to {100.0 / times:.1f} %" if blamed.settled else nobody("scale")
    return f"The whole drawing is {abs(amount):.1f} % {too} than {against}; {do}.", px, amount


def _ground(measured: Measurement, row: pd.Series, blamed: Blame) -> tuple[str, float, float]:
    size = measured.size(measured.views.index(blamed.view))
    px = blamed.amount / 100.0 * measured.figure_height * size
    line = "the common ground" if measured.sheet.placing == "canvas" else "its ground line"
    where, move = ("above", "down") if px > 0 else ("below", "up")
    do = f"move it {move} {sentence_px(px)}" if blamed.settled else nobody("move")
    given = "" if blamed.settled else f" if {reference_words(measured)} is right"
    says = f"The whole drawing stands {sentence_px(px)} {where} {line}{given}; {do}, "
    return says + "or place the ground again.", px, blamed.amount


def _yaw(measured: Measurement, row: pd.Series, blamed: Blame) -> tuple[str, float, float]:
    if row["note"]:  # mirrored, or left and right exchanged
        return f"{capital(str(row['note']))}.", math.nan, float(row["drift_pct"])
    within = max(1.96 * float(row["uncertainty_pct"]), 0.1)  # 95 % of a normal error
    says = (
        f"The whole drawing reads as {row['measured']:.1f}° ± {within:.1f}° "
        f"where {row['expected']:.0f}° was asked for; redraw it at {row['expected']:.0f}°, or say "
        f"yaw = {row['measured']:.0f} in the sheet if that is meant."
    )
    return says, math.nan, float(row["drift_pct"])


def _ruler(measured: Measurement, row: pd.Series, blamed: Blame) -> tuple[str, float, float]:
    says = f"It can't be put on the ruler: {row['note']}; look at the placings first."
    return says, math.nan, math.nan

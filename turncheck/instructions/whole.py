"""Whole drawings: size, ground, and the angle that they were drawn at."""

import math
from collections.abc import Collection, Sequence
from dataclasses import replace

from turncheck.checks.finding import Cause, Finding, Kind
from turncheck.geometry.guard_bands import COVERAGE, Verdict
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import (
    Instruction,
    Row,
    Work,
    answer,
    asked,
    reference_words,
    target_of,
)
from turncheck.wording import instructions as words
from turncheck.wording.findings import titles_of

#: Standard uncertainties that hold 95 % of normal errors, and the least that is said, degrees.
YAW_COVERAGE, YAW_LEAST_SAID = 1.96, 0.1


def whole_drawings(measured: Measurement, rows: Sequence[Row]) -> list[Instruction]:
    """Return what is wrong with whole drawings: their size, their stand and their yaw."""
    found = []
    for row in rows:
        says, px, amount = _asks(measured, row[1])
        one = replace(asked(row, Work.WHOLE, says), amount_px=px, amount_pct=amount)
        found.append((one.kind, one))
    return answer(found)


def resized_views(rows: Sequence[Row], instructions: Collection[Instruction]) -> set[str]:
    """Return the views whose size or position is off, by off-model rows or what they ask for."""
    of_size = (Kind.SCALE, Kind.GROUND, Kind.RULER)
    sizes = {row: finding for row, finding in rows if finding.subject.kind in of_size}
    asked = {one.view for one in instructions if sizes.keys() & {*one.findings}}
    return asked | {finding.view for finding in sizes.values()}


def own_drift(measured: Measurement, finding: Finding, resized: Collection[str]) -> float:
    """Return a height's drift less the whole drawing's share; NaN where that has none in it."""
    has_share = not finding.blame.odd_view and math.isfinite(finding.own_pct)
    both = {finding.view, measured.sheet.reference}
    return finding.own_pct if has_share and both & {*resized} else math.nan


def explained_by_whole(
    measured: Measurement, findings: Sequence[Finding], instructions: Collection[Instruction]
) -> set[int]:
    """Return the rows, by index, that putting whole drawings right puts right as well.

    Off-model rows whose own drift is within the tolerance, and undecided ones whose own drift
    is so for certain.
    """
    whole = [one for one in instructions if one.work is Work.WHOLE]
    off = [(row, finding) for row, finding in enumerate(findings) if finding.is_off_model]
    resized = resized_views(off, whole)
    if not resized:
        return set()
    explained = set()
    for row, finding in enumerate(findings):
        own = abs(own_drift(measured, finding, resized))
        if finding.verdict is Verdict.UNDECIDED:
            own += COVERAGE * finding.uncertainty_pct
        elif not finding.is_off_model:
            continue
        if own <= finding.tolerance_pct:
            explained.add(row)
    return explained


def _asks(measured: Measurement, finding: Finding) -> tuple[str, float, float]:
    """Return what to do, and how far the drawing is off in px and in what its row is about."""
    kind, target = finding.subject.kind, target_of(finding)
    size = measured.size(measured.views.index(target.view))
    px = target.amount / 100.0 * measured.figure_height
    if kind is Kind.SCALE:
        # in the reference's px the others have size - amount, whichever view is blamed
        times = size / (size - target.amount / 100.0)
        against = "the other drawings" if target.settled else reference_words(measured)
        return words.resize(times, against, target.settled), px, 100.0 * (times - 1.0)
    if kind is Kind.GROUND:
        line = "the common ground" if measured.sheet.placing == "canvas" else "its ground line"
        says = words.stand(px * size, line, reference_words(measured), target.settled)
        return says, px * size, target.amount
    if kind is Kind.RULER:
        return words.unruled(str(finding.note)), math.nan, math.nan
    if finding.cause in (Cause.MIRRORED, Cause.SWAPPED, Cause.BOTH):
        says = words.misread(finding.note.spoken(titles_of(measured.sheet)))
    else:
        within = max(YAW_COVERAGE * finding.uncertainty_pct, YAW_LEAST_SAID)
        says = words.turn(finding.measured, within, finding.expected)
    return says, math.nan, finding.drift_pct

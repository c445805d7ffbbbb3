"""Whole drawings: size, ground, and the angle that they were drawn at; what they explain."""

import math
from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from turncheck.checks.finding import Cause, Finding, Kind
from turncheck.geometry.guard_bands import Verdict, certain
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
from turncheck.numerics.arrays import Floats
from turncheck.wording import instructions as words
from turncheck.wording.findings import titles_of

#: Standard uncertainties beyond which a drawing's size or stand is off for certain: passed by
#: chance once in a hundred (normal distribution, two sides).
STRAY_CERTAIN_FROM = 2.576

OF_SIZE = (Kind.SCALE, Kind.GROUND, Kind.RULER)


def whole_drawings(measured: Measurement, rows: Sequence[Row]) -> list[Instruction]:
    """Return what is wrong with whole drawings: their size, their stand and their yaw."""
    found = []
    for row in rows:
        finding = row[1]
        if finding.subject.kind.is_of_whole_drawing:
            told, px, amount = _asks(measured, finding)
            one = asked(measured, row, Work.WHOLE, told)
            drifts = (px,) if one.settled else ()
            found.append((one.kind, replace(one, drifts_px=drifts, amount_pct=amount)))
    return answer(found)


def hanging_drawings(
    measured: Measurement,
    rows: Sequence[Row],
    findings: Sequence[Finding],
    told: Collection[str],
) -> list[Instruction]:
    """Return the drawings whose size or stand is off for certain and explains heights that are.

    Whatever their own rows of size and ground say, which allow more than a height may be off. If
    the reference is such a drawing, the others are told once it is right.

    Parameters
    ----------
    told
        Views whose size or stand is told already, or accepted.
    """
    found = []
    for v, view in enumerate(measured.views):
        explains = any(
            finding.view == view
            and abs(finding.whole_pct) > abs(finding.own_pct)
            and is_explained(measured, finding, (view,))
            for _, finding in rows
        )
        one = _hanging(measured, v) if explains else None
        if one is not None and not {view, measured.sheet.reference} & {*told}:
            of_whole = [
                row
                for row, finding in enumerate(findings)
                if finding.view == view and finding.subject.kind is one.kind
            ]
            found.append((Work.WHOLE, replace(one, findings=tuple(of_whole))))
    told_now = answer(found)
    return [one for one in told_now if one.view == measured.sheet.reference] or told_now


def resized_views(instructions: Collection[Instruction]) -> set[str]:
    """Return the views whose size or position is told to be off, or may be."""
    return {view for one in instructions if one.kind in OF_SIZE for view in one.views}


def own_drift(measured: Measurement, finding: Finding, resized: Collection[str]) -> float:
    """Return a height's drift less the whole drawing's share; NaN where that has none in it."""
    both = {finding.view, measured.sheet.reference}
    return finding.own_pct if both & {*resized} else math.nan


def is_explained(measured: Measurement, finding: Finding, resized: Collection[str]) -> bool:
    """Return whether a height is better judged once whole drawings are right.

    Not off model any more if it is, and on model for certain if it is undecided.
    """
    own = own_drift(measured, finding, resized)
    if math.isnan(own):
        return False
    then = replace(finding, drift_pct=own).judged(certain(measured.scatter.slips)).verdict
    undecided = finding.verdict is Verdict.UNDECIDED
    return then is Verdict.ON_MODEL if undecided else then is not Verdict.OFF_MODEL


def explained_by_whole(
    measured: Measurement, findings: Sequence[Finding], instructions: Collection[Instruction]
) -> set[int]:
    """Return the off-model and undecided rows, by index, that whole drawings put right explain."""
    resized = resized_views(instructions)
    return {
        row
        for row, finding in enumerate(findings)
        if finding.is_off_model or finding.verdict is Verdict.UNDECIDED
        if is_explained(measured, finding, resized)
    }


def _asks(measured: Measurement, finding: Finding) -> tuple[words.Telling, float, float]:
    """Return what to do, and how far the drawing is off in px and in what its row is about."""
    kind, target = finding.subject.kind, target_of(measured, finding)
    view = target.views[0]
    size = measured.size(measured.views.index(view))
    px = target.amount / 100.0 * measured.figure_height
    if kind is Kind.SCALE:
        # in the reference's px the others have size - amount, whichever view is blamed
        times = size / (size - target.amount / 100.0)
        told = _told(target.views, _resize(measured, target.views, times))
        return told, px, 100.0 * (times - 1.0)
    if kind is Kind.GROUND:
        told = _told(target.views, _stand(measured, target.views, px * size))
        return told, px * size, target.amount
    if kind is Kind.RULER:
        return words.unruled(str(finding.note)), math.nan, math.nan
    note = finding.note.spoken(titles_of(measured.sheet))
    if finding.cause is not Cause.UNKNOWN:
        told = words.misread(finding.view, finding.cause, note, target.settled)
    else:
        reads, asked_for = finding.measured, finding.expected
        told = words.turn(finding.view, reads, asked_for, note, target.settled)
    return told, math.nan, finding.drift_pct


def _told(views: tuple[str, ...], *faults: words.Telling) -> words.Telling:
    return words.whole(views[0], faults, len(views) == 1)


def _resize(measured: Measurement, views: tuple[str, ...], times: float) -> words.Telling:
    settled = len(views) == 1
    against = "the other drawings" if settled else reference_words(measured)
    return words.resize(times, against, settled)


def _stand(measured: Measurement, views: tuple[str, ...], px: float) -> words.Telling:
    line = "the common ground" if measured.sheet.placing == "canvas" else "its ground line"
    return words.stand(px, line, reference_words(measured), len(views) == 1)


def _hanging(measured: Measurement, v: int) -> Instruction | None:
    """Return what is wrong with a whole drawing: its stand or its size alone if that will do.

    None where neither is certain.
    """
    stands, sizes, stands_sd, sizes_sd, lean = _strays(measured)
    stand_off, size_off = abs(stands[v]) / stands_sd[v], abs(sizes[v] - 1.0) / sizes_sd[v]
    if not max(stand_off, size_off) > STRAY_CERTAIN_FROM:
        return None
    both = min(stand_off, size_off) > STRAY_CERTAIN_FROM
    if not both:  # what each is where the other is right
        stands, sizes = (
            stands - lean * stands_sd / sizes_sd * (sizes - 1.0),
            sizes - lean * sizes_sd / stands_sd * stands,
        )
    of_stand = stand_off > size_off and not both
    values = stands if of_stand else sizes
    wrong = _outvoted(values, v, measured.reference)
    at = wrong[0]
    rest = np.delete(values, at)
    if not np.isfinite(rest).any():
        return None
    right = float(values[wrong[1]]) if len(wrong) > 1 else float(np.nanmedian(rest))
    views = tuple(measured.views[w] for w in wrong)
    px = float(stands[at] - (right if of_stand else 0.0)) * measured.size(at)
    times = float(sizes[at]) / (1.0 if of_stand else right)
    told = [] if of_stand else [_resize(measured, views, times)]
    told += [_stand(measured, views, px)] if of_stand or both else []
    return Instruction(
        **vars(_told(views, *told)),
        views=views,
        work=Work.WHOLE,
        kind=Kind.GROUND if of_stand else Kind.SCALE,
        drifts_px=(px if of_stand else (times - 1.0) * measured.figure_height,),
        stands_px=px if both else 0.0,
        amount_pct=100.0 * (px / measured.figure_height if of_stand else times - 1.0),
    )


def _outvoted(values: Floats, v: int, reference: int | None) -> tuple[int, ...]:
    """Return which of a view and the reference the other views outvote; both where neither is."""
    if reference is None or reference == v or not np.isfinite(values[reference]):
        return (v,)
    others = np.delete(values, [v, reference])
    others = others[np.isfinite(others)]
    apart = np.abs(others - values[v]) - np.abs(others - values[reference])
    votes = int(np.sign(apart).sum())
    if not votes:
        return v, reference
    return (v,) if votes > 0 else (reference,)


def _strays(measured: Measurement) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Return how far each view's figure stands above its line, base px, and its size.

    Each (V,): stands, sizes, their standard uncertainties, and how the two hang together: their
    correlation; NaN where the fit can't be trusted.
    """
    stand = measured.stand
    known = np.array([fit.trusted for fit in measured.fitted])
    stands, sizes = (np.where(known, one, np.nan) for one in (stand.above, stand.scales))
    covariance = stand.covariance
    stands_sd, sizes_sd = (np.maximum(np.sqrt(covariance[:, at, at]), 1e-12) for at in range(2))
    return stands, sizes, stands_sd, sizes_sd, covariance[:, 0, 1] / (stands_sd * sizes_sd)

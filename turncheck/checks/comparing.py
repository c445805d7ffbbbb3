"""The one way in which checks compare a value across views, or within one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from turncheck.checks.finding import Finding, not_measured
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.majority import Majority, find_majority
from turncheck.geometry.measurement import Measurement

Floats = npt.NDArray[np.float64]

#: Notes of off-model rows that blame nobody.
DISAGREE = "the views disagree and no majority says which one is wrong"
ONE_OF_SEVERAL = "the bad one is"


def compare_heights(
    measured: Measurement, check: str, subject: str, landmarks: list[str], tolerance: float
) -> Iterator[Finding]:
    """Compare the height of a landmark, or of a line through several, across views.

    Parameters
    ----------
    landmarks
        One, or several whose mean height is the line's; with a fixed reference only those
        that both drawings have are used.
    tolerance
        % of the figure height.

    Yields
    ------
    Finding
        For every view but the reference; for every view against the consensus.
    """
    columns = measured.columns(*landmarks)
    height = measured.figure_height
    allowed = tolerance / 100.0 * height
    own = find_majority(*measured.line(measured.trusted_scales, columns), allowed)
    consensus = find_majority(*measured.line(measured.height_scales, columns), allowed)
    reference = measured.reference
    for v, view in enumerate(measured.views):
        if v == reference:
            continue
        reason = _missing(measured, v, landmarks, " or ".join(landmarks))
        if reason:
            yield not_measured(check, view, subject, reason)
            continue
        if reference is None:
            expected = consensus.centre
            drift, uncertainty = float(consensus.drift[v]), float(consensus.drift_sd[v])
        else:
            both = [c for c in columns if np.isfinite(measured.y[[v, reference], c]).all()]
            mine, mine_sd = measured.line(measured.height_scales, both)
            expected = float(mine[reference])
            drift = float(mine[v] - expected)
            uncertainty = float(np.hypot(mine_sd[v], mine_sd[reference]))
        ruler, fitted = measured.height_scales[v], measured.fitted[v]
        whole = 0.0
        if not fitted.distrust:
            whole = float(ruler.heights(fitted.y_at(np.float64(expected)))) - expected
        finding = Finding(
            check,
            view,
            subject,
            expected=expected * ruler.scale,
            measured=(expected + drift) * ruler.scale,
            drift_px=drift * ruler.scale,
            drift_pct=measured.percent(drift),
            uncertainty_pct=measured.percent(uncertainty),
            tolerance_pct=tolerance,
            whole_pct=measured.percent(whole),
            own_pct=measured.percent(drift - whole),
            landmarks=" ".join(measured.landmarks[c] for c in columns),
        ).judged()
        if measured.sheet.placing == "fit" and ruler.distrust:
            finding = replace(finding, verdict=Verdict.UNDECIDED.value, note=ruler.distrust)
            yield finding
        else:
            yield attributed(finding, measured, own, 100.0 / height)


def compare_values(
    measured: Measurement,
    finding: Finding,
    values: Floats,
    sd: Floats,
    reasons: list[str],
    percent: float | None = None,
) -> Iterator[Finding]:
    """Compare a value of each view with the reference's, or with the consensus.

    Parameters
    ----------
    finding
        What all rows share: check, subject, tolerance, unit, landmarks.
    values, sd
        (V,) one value a view and its standard uncertainty; NaN where not measured.
    reasons
        (V,) why a view has no value.
    percent
        What turns a difference of values into the unit; None for % of the expected value.
    """
    reference = measured.reference
    there = values[np.isfinite(values)]
    typical = float(np.median(there)) if len(there) else math.nan
    factor = percent if percent is not None else 100.0 / abs(typical)
    found = find_majority(values, sd, finding.tolerance_pct / factor)
    for v, view in enumerate(measured.views):
        if v == reference:
            continue
        row = replace(finding, view=view)
        reason = reasons[v]
        if reference is not None and not reason:
            reason = reasons[reference]
        if reason:
            yield not_measured(row.check, view, row.subject, reason, row.unit)
            continue
        if reference is None:
            expected = found.centre
            drift, uncertainty = float(found.drift[v]), float(found.drift_sd[v])
        else:
            expected = float(values[reference])
            drift = float(values[v]) - expected
            uncertainty = float(np.hypot(sd[v], sd[reference]))
        to_unit = percent if percent is not None else 100.0 / abs(expected)
        row = replace(
            row,
            expected=expected,
            measured=expected + drift,
            drift_pct=drift * to_unit,
            uncertainty_pct=uncertainty * to_unit,
        ).judged()
        yield attributed(row, measured, found, to_unit)


def attributed(finding: Finding, measured: Measurement, found: Majority, percent: float) -> Finding:
    """Return the finding with the view that the majority outvotes, and its drift from them."""
    if finding.verdict != Verdict.OFF_MODEL.value:
        return finding
    v = measured.views.index(finding.view)
    odd = v if found.odd[v] else measured.reference
    if odd is not None and found.odd[odd]:
        view = measured.views[odd]
        note = "" if odd == v else f"{view} is the odd one out: the other drawings agree"
        drift = float(found.drift[odd]) * percent
        return replace(finding, odd_view=view, odd_pct=drift, note=note)
    if found.settled:
        explained = math.isfinite(finding.whole_pct) and abs(finding.whole_pct) > abs(
            finding.own_pct
        )
        note = "explained by the size or position of the whole drawing" if explained else ""
        return replace(finding, note=note)
    return replace(finding, note=DISAGREE)


def compare_levels(
    measured: Measurement, check: str, v: int, left: str, right: str, tolerance: float
) -> Finding:
    """Compare the heights of a left and a right landmark within one view.

    The drift is the left's height above the right's.
    """
    view, subject = measured.views[v], f"{left}/{right} level"
    missing = _unplaced(measured, v, [left, right])
    if missing:
        return not_measured(check, view, subject, f"{missing} is not placed on {view}")
    left_at, right_at = measured.columns(left, right)
    drift = float(measured.y[v, right_at] - measured.y[v, left_at])
    uncertainty = math.hypot(measured.sd[v, left_at], measured.sd[v, right_at])
    return within_view(measured, check, v, subject, drift, uncertainty, tolerance, (left, right))


def within_view(
    measured: Measurement,
    check: str,
    v: int,
    subject: str,
    drift: float,
    uncertainty: float,
    tolerance: float,
    landmarks: tuple[str, ...],
) -> Finding:
    """Return the judged row of a drift from zero within one view, px of its own drawing."""
    percent = 100.0 / (measured.figure_height * measured.size(v))
    view = measured.views[v]
    finding = Finding(
        check,
        view,
        subject,
        expected=0.0,
        measured=drift,
        drift_px=drift,
        drift_pct=drift * percent,
        uncertainty_pct=uncertainty * percent,
        tolerance_pct=tolerance,
        landmarks=" ".join(landmarks),
    ).judged()
    if finding.verdict == Verdict.OFF_MODEL.value:
        return replace(finding, odd_view=view, odd_pct=finding.drift_pct)
    return finding


def _missing(measured: Measurement, v: int, landmarks: list[str], named: str) -> str:
    """Return why a view can't be compared, or ''."""
    for row in (v, measured.reference):
        if row is not None and _unplaced(measured, row, landmarks, every=False):
            return f"{named} is not placed on {measured.views[row]}"
    reference = measured.reference
    if reference is not None:
        columns = measured.columns(*landmarks)
        if not np.isfinite(measured.y[[v, reference]][:, columns]).all(axis=0).any():
            other = measured.views[reference]
            return f"{measured.views[v]} and {other} have none of {named} in common"
    return ""


def _unplaced(measured: Measurement, v: int, landmarks: list[str], every: bool = True) -> str:
    missing = [
        name
        for name in landmarks
        if not any(np.isfinite(measured.y[v, c]) for c in measured.columns(name))
    ]
    if every:
        return missing[0] if missing else ""
    return missing[0] if len(missing) == len(landmarks) else ""

"""The one way in which checks compare a value across views, or within one."""

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from turncheck.checks.finding import (
    Blame,
    Blamed,
    Cause,
    Finding,
    Kind,
    Subject,
    blame_on,
    not_measured,
)
from turncheck.checks.note import LandmarkName, Note, ViewName, joined, noted
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.majority import Majority, find_majority
from turncheck.geometry.measurement import Measurement
from turncheck.numerics.arrays import Floats


def compare_heights(
    measured: Measurement, check: str, subject: Subject, tolerance: float
) -> Iterator[Finding]:
    """Compare the height of a landmark, or of a line through several, across views.

    Parameters
    ----------
    subject
        Its landmarks are one, or several whose mean height is the line's; with a fixed
        reference only those that both drawings have are used.
    tolerance
        % of the figure height.

    Yields
    ------
    Finding
        For every view but the reference; for every view against the consensus.
    """
    columns = measured.columns(*subject.landmarks)
    subject = replace(subject, landmarks=tuple(measured.landmarks[c] for c in columns))
    height = measured.figure_height
    allowed = tolerance / 100.0 * height
    own = find_majority(*measured.line(measured.trusted_scales, columns), allowed)
    consensus = find_majority(*measured.line(measured.height_scales, columns), allowed)
    reference = measured.reference
    for v, view in enumerate(measured.views):
        if v == reference:
            continue
        reason = _missing(measured, v, subject)
        if reason:
            yield not_measured(check, view, subject, reason)
            continue
        both = columns
        if reference is not None:
            both = [c for c in columns if np.isfinite(measured.y[[v, reference], c]).all()]
        mine, mine_sd = measured.line(measured.height_scales, both)
        expected, drift, uncertainty = _held(mine, mine_sd, v, reference, consensus)
        ruler, fitted = measured.height_scales[v], measured.fitted[v]
        whole = 0.0
        if fitted.trusted:
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
            dof=measured.dof(*subject.landmarks),
        ).judged()
        if measured.sheet.placing == "fit" and not ruler.trusted:
            yield replace(finding, verdict=Verdict.UNDECIDED, note=noted("{}", ruler.distrust))
        else:
            yield attributed(finding, measured, own, 100.0 / height, reference)


def compare_values(
    measured: Measurement,
    finding: Finding,
    values: Floats,
    sd: Floats,
    reasons: list[Note],
    reference: int | None,
    percent: float | None = None,
) -> Iterator[Finding]:
    """Compare a value of each view with the reference's, or with the consensus.

    Parameters
    ----------
    finding
        What all rows share: check, subject, tolerance, unit.
    values, sd
        (V,) one value a view and its standard uncertainty; NaN where not measured.
    reasons
        (V,) why a view has no value.
    reference
        The view that the others are held against, None for the consensus.
    percent
        What turns a difference of values into the unit; None for % of the expected value.
    """
    there = values[np.isfinite(values)]
    typical = float(np.median(there)) if len(there) else math.nan
    factor = percent if percent is not None else 100.0 / abs(typical)
    found = find_majority(values, sd, finding.tolerance_pct / factor)
    finding = replace(finding, dof=measured.dof(*finding.subject.landmarks))
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
        expected, drift, uncertainty = _held(values, sd, v, reference, found)
        to_unit = percent if percent is not None else 100.0 / abs(expected)
        row = replace(
            row,
            expected=expected,
            measured=expected + drift,
            drift_pct=drift * to_unit,
            uncertainty_pct=uncertainty * to_unit,
        ).judged()
        yield attributed(row, measured, found, to_unit, reference)


def _held(
    values: Floats, sd: Floats, v: int, reference: int | None, consensus: Majority
) -> tuple[float, float, float]:
    """Return what a view's value is expected to be, its drift, and the drift's uncertainty."""
    if reference is None:
        return consensus.centre, float(consensus.drift[v]), float(consensus.drift_sd[v])
    expected = float(values[reference])
    return expected, float(values[v]) - expected, float(np.hypot(sd[v], sd[reference]))


def attributed(
    finding: Finding, measured: Measurement, found: Majority, percent: float, reference: int | None
) -> Finding:
    """Return an off-model finding with the view that the majority outvotes, and its drift.

    Parameters
    ----------
    percent
        What turns a drift of the majority's into the finding's unit.
    reference
        The view that the finding's own is held against, None for the consensus.
    """
    if not finding.is_off_model:
        return finding
    v = measured.views.index(finding.view)
    odd = v if found.odd[v] else reference
    if odd is not None and found.odd[odd]:
        view = measured.views[odd]
        note = Note()
        if odd != v:
            note = noted("{} is the odd one out: the other drawings agree", ViewName(view))
        blame = blame_on(view, float(found.drift[odd]) * percent, finding.view)
        return replace(finding, blame=blame, note=note)
    if not found.settled:
        note = noted("the views disagree and no majority says which one is wrong")
        return replace(finding, blame=Blame(Blamed.NOBODY), note=note)
    explained = math.isfinite(finding.whole_pct) and abs(finding.whole_pct) > abs(finding.own_pct)
    if not explained:
        return finding
    note = noted("explained by the size or position of the whole drawing")
    return replace(finding, cause=Cause.WHOLE, note=note)


def compare_levels(
    measured: Measurement, check: str, v: int, left: str, right: str, tolerance: float
) -> Finding:
    """Compare the heights of a left and a right landmark within one view.

    The drift is the left's height above the right's.
    """
    view = measured.views[v]
    subject = Subject(Kind.LEVEL, f"{left}/{right} level", (left, right))
    missing = unplaced(measured, v, (left, right))
    if missing:
        return not_measured(check, view, subject, missing)
    left_at, right_at = measured.columns(left, right)
    drift = float(measured.y[v, right_at] - measured.y[v, left_at])
    uncertainty = math.hypot(measured.sd[v, left_at], measured.sd[v, right_at])
    return within_view(measured, check, v, subject, drift, uncertainty, tolerance)


def within_view(
    measured: Measurement,
    check: str,
    v: int,
    subject: Subject,
    drift: float,
    uncertainty: float,
    tolerance: float,
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
        dof=measured.dof(*subject.landmarks),
    ).judged()
    if finding.is_off_model:
        return replace(finding, blame=blame_on(view, finding.drift_pct, view))
    return finding


def unplaced(measured: Measurement, v: int, landmarks: tuple[str, ...]) -> Note:
    """Return that one of some landmarks is not placed on a view, an empty note where all are."""
    for name in landmarks:
        if not np.isfinite(measured.y[v, measured.columns(name)]).any():
            return noted("{} is not placed on {}", LandmarkName(name), ViewName(measured.views[v]))
    return Note()


def _missing(measured: Measurement, v: int, subject: Subject) -> Note:
    """Return why a view can't be compared, or an empty note."""
    columns = measured.columns(*subject.landmarks)
    reference = measured.reference
    named = joined(map(LandmarkName, subject.landmarks), " or ")
    for row in (v, reference):
        if row is not None and not np.isfinite(measured.y[row, columns]).any():
            return noted("{} is not placed on {}", named, ViewName(measured.views[row]))
    if reference is None or np.isfinite(measured.y[[v, reference]][:, columns]).all(axis=0).any():
        return Note()
    mine, other = ViewName(measured.views[v]), ViewName(measured.views[reference])
    return noted("{} and {} have none of {} in common", mine, other, named)

"""The one way in which checks compare a value across views, or within one."""

import math
from collections.abc import Callable, Iterator
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
from turncheck.geometry.guard_bands import (
    Verdict,
    certain,
    largest_decidable,
    undecidable,
)
from turncheck.geometry.majority import Majority, find_majority
from turncheck.geometry.measurement import Measurement
from turncheck.numerics.arrays import Floats


def compare_heights(
    measured: Measurement, check: str, subject: Subject, tolerance: float
) -> Iterator[Finding]:
    """Compare the height of a landmark, or of a line through several, across views.

    Each drawing is held against the joint estimate of those that agree, itself left out; where
    none do, against the reference.

    Parameters
    ----------
    subject
        Its landmarks are one, or several whose mean height is the line's; of a line each is held
        against itself.
    tolerance
        % of the figure height.

    Yields
    ------
    Finding
        For every view; for the reference only where others agree without it.
    """
    columns = measured.columns(*subject.landmarks)
    subject = replace(subject, landmarks=tuple(measured.landmarks[c] for c in columns))
    heights, errors = measured.table.means(columns)
    allowed = tolerance / 100.0 * measured.figure_height
    found = find_majority(heights, errors @ errors.T, allowed)
    dof = measured.dof(*subject.landmarks)
    told = _told(found, measured.reference)
    pairs = [found.sides(v, measured.reference) for v in told]
    mine, others = np.array(pairs, dtype=bool).reshape(-1, 2, len(heights)).swapaxes(0, 1)
    drifts, uncertainties = measured.table.apart(mine, others, columns)
    for n, (v, own) in enumerate(zip(told, drifts.tolist(), strict=True)):
        view, ruler, stands = measured.views[v], measured.height_scales[v], measured.tables[v]
        if math.isnan(own):
            yield not_measured(check, view, subject, _missing(measured, v, subject))
            continue
        whole, uncertainty = 0.0, float(uncertainties[n])
        if stands is not measured.table:
            whole = float(stands.means(columns)[0][v] - heights[v])
            uncertainty = float(stands.apart(mine[[n]], others[[n]], columns)[1][0])
        drift = own + whole
        expected = float(heights[v]) - own
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
            own_pct=measured.percent(own),
            dof=dof,
        )
        if measured.sheet.placing == "fit" and not ruler.trusted:
            yield replace(finding, verdict=Verdict.UNDECIDED, note=noted("{}", ruler.distrust))
        else:
            yield attributed(judged_as_placed(measured, finding), measured, found)


def compare_values(
    measured: Measurement,
    finding: Finding,
    values: Floats,
    covariance: Floats,
    reasons: list[Note],
    reference: int | None,
    percent: float | None = None,
    held_to: int | None = None,
    judged: Callable[[Finding], Finding] = Finding.judged,
) -> Iterator[Finding]:
    """Compare a value of each view with those that agree, or else with the reference's.

    Parameters
    ----------
    finding
        What all rows share: check, subject, tolerance, unit.
    values, covariance
        (V,) one value a view, NaN where not measured; (V, V).
    reasons
        (V,) why a view has no value.
    reference
        None for the consensus.
    percent
        What turns a difference of values into the unit; None for % of the expected value.
    held_to
        A view that all others are held against, whatever they say of it.
    judged
        What gives a row its verdict.
    """
    there = values[np.isfinite(values)]
    typical = float(np.median(there)) if len(there) else math.nan
    factor = percent if percent is not None else 100.0 / abs(typical)
    finding = replace(finding, dof=measured.dof(*finding.subject.landmarks))
    found = find_majority(values, covariance, finding.tolerance_pct / factor)
    every = np.arange(len(values))
    for v in _told(found, reference) if held_to is None else every[every != held_to]:
        view = measured.views[v]
        sides = found.sides(v, reference) if held_to is None else (every == v, every == held_to)
        mine, others = sides
        if reasons[v] or not others.any():
            reason = reasons[v] or next(filter(None, reasons), Note())
            yield not_measured(finding.check, view, finding.subject, reason, finding.unit)
            continue
        weights = mine / mine.sum() - others / others.sum()
        drift = float(weights @ np.where(found.placed, values, 0.0))
        uncertainty = math.sqrt(max(float(weights @ np.nan_to_num(covariance) @ weights), 0.0))
        expected = float(values[v]) - drift
        to_unit = percent if percent is not None else 100.0 / abs(expected)
        row = replace(
            finding,
            view=view,
            expected=expected,
            measured=expected + drift,
            drift_pct=drift * to_unit,
            uncertainty_pct=uncertainty * to_unit,
        )
        yield attributed(judged(row), measured, found, held_to)


def _told(found: Majority, reference: int | None) -> list[int]:
    """Return the views that have a row: the reference only where more than one may outvote it."""
    all_views = range(len(found.placed))
    outvoted = found.halves is not None or (found.settled and found.placed.sum() > 2)
    return [v for v in all_views if v != reference or (outvoted and found.placed[v])]


def judged_as_placed(measured: Measurement, finding: Finding) -> Finding:
    """Return a finding with its verdict; not measured where no placing so uncertain could tell.

    That is where a perfect drawing would be undecided too often; only what is off for certain is
    then said to be off.
    """
    row = finding.judged(certain(measured.scatter.slips))
    if row.is_off_model or not undecidable(row.uncertainty_pct, row.tolerance_pct):
        return row
    enough = measured.placing.pct * largest_decidable(row.tolerance_pct) / row.uncertainty_pct
    note = noted(f"too uncertain to tell: place to {enough:.2f} %")
    return replace(row, verdict=Verdict.NOT_MEASURED, cause=Cause.UNSURE, note=note)


def attributed(
    finding: Finding, measured: Measurement, found: Majority, held_to: int | None = None
) -> Finding:
    """Return an off-model finding with whom it speaks against.

    That is its own drawing where those that agree outvote it, or the one it is held to; one half
    of them against the other; or nobody. Where the whole drawing explains most of it, that is said.
    """
    if not finding.is_off_model:
        return finding
    v = measured.views.index(finding.view)
    if found.halves is not None:
        halves = tuple(tuple(np.array(measured.views)[half].tolist()) for half in found.halves)
        return replace(finding, blame=Blame(Blamed.SET, sum(halves, ()), sides=halves))
    if not found.settled:
        note = noted("the views disagree and no majority says which one is wrong")
        return replace(finding, blame=Blame(Blamed.NOBODY), note=note)
    if abs(finding.whole_pct) > abs(finding.own_pct):
        note = noted("explained by the size or position of the whole drawing")
        return replace(finding, cause=Cause.WHOLE, note=note)
    if found.odd[v]:
        own = finding.drift_pct if math.isnan(finding.own_pct) else finding.own_pct
        return replace(finding, blame=blame_on(finding.view, own, finding.view))
    if held_to is not None and found.odd[held_to]:
        view = measured.views[held_to]
        note = noted("{} is the odd one out: the other drawings agree", ViewName(view))
        return replace(finding, blame=blame_on(view, -finding.drift_pct, finding.view), note=note)
    return finding


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
    )
    finding = judged_as_placed(measured, finding)
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
    """Return why a view can't be compared."""
    columns = measured.columns(*subject.landmarks)
    named = joined(map(LandmarkName, subject.landmarks), " or ")
    view = ViewName(measured.views[v])
    if not np.isfinite(measured.y[v, columns]).any():
        return noted("{} is not placed on {}", named, view)
    others = np.isfinite(np.delete(measured.y[:, columns], v, axis=0))
    if not others.any():
        return noted("{} is placed on {} alone", named, view)
    return noted("{} and the others have none of {} in common", view, named)

"""Holds a sheet to an approved one: where the points of a drawing lie otherwise than approved.

The drawings of a sheet may agree with each other and yet all be wrong, as the views of a rig are
of which an arm hangs too low.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from turncheck.checks.finding import Finding, Kind, Subject, blame_on
from turncheck.checks.register import tolerance_of
from turncheck.checks.verdicts import BESIDE_APPROVED, waive
from turncheck.geometry.guard_bands import certain
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import Instruction
from turncheck.instructions.moves import as_instructions, find_moves
from turncheck.instructions.result import Result
from turncheck.wording.instructions import against_approved

UP, ACROSS = BESIDE_APPROVED
#: By landmark, where it lies and the standard uncertainty of that, % of the figure height.
Places = Mapping[str, tuple[float, float]]


def held_to_approved(approved: Result, new: Result) -> list[Finding]:
    """Return how far each point lies from where the approved drawing of the same name has it.

    In shares of each sheet's own figure height, up from the ground, and across where both drawings
    are meant to be turned alike, the middle of all that both have laid on each other. None where
    the sheet is not approved as it is, and none of drawings that are the same file. The new sheet's
    waivers hold for them.
    """
    if approved.approval.state != "valid":
        return []
    slips = certain(max(approved.measured.scatter.slips, new.measured.scatter.slips))
    both = [view for view in new.sheet.views if view in approved.sheet.views]
    anew = [v for v in both if new.drawings[v].sha256 != approved.drawings[v].sha256]
    rows = (row.judged(slips) for view in anew for row in _of_view(approved, new, view))
    return waive(rows, new.sheet.waivers_in_force)


def tasks_of(new: Result, findings: list[Finding]) -> list[Instruction]:
    """Return what to put right where points are off, part by part, but for what is told anyway."""
    told = {
        (task.view, name, task.sideways)
        for task in new.instructions
        if task.settled
        for name in task.landmarks
    }
    off = [
        (number, one)
        for number, one in enumerate(findings)
        if one.is_off_model and (one.view, one.subject.name, one.subject.sideways) not in told
    ]
    found = as_instructions(new.measured, find_moves(new.measured, off, findings, ()))
    return [replace(task, headline=against_approved(task.headline)) for task in found]


def _of_view(approved: Result, new: Result, view: str) -> Iterator[Finding]:
    old, now = approved.measured, new.measured
    yield from _rows(UP, now, view, _heights(old, view), _heights(now, view))
    if approved.sheet.views[view].yaw == new.sheet.views[view].yaw:
        before, after = _sideways(old, view), _sideways(now, view)
        aside = [at - before[name][0] for name, (at, _) in after.items() if name in before]
        if aside:
            yield from _rows(ACROSS, now, view, before, after, float(np.median(aside)))


def _heights(measured: Measurement, view: str) -> Places:
    """Return the heights of points in a view."""
    v = measured.views.index(view)
    found = {}
    crown = measured.placing.pct  # of the figure height itself, which one placing tells
    for column in np.flatnonzero(measured.tall).tolist():
        heights, errors = measured.table.means([column])
        name, height = measured.landmarks[column], measured.percent(float(heights[v]))
        if np.isfinite(height) and name != "ground":
            sd = measured.percent(float(np.sqrt(errors[v] @ errors[v])))
            found[name] = height, float(np.hypot(sd, crown * height / 100.0))
    return found


def _sideways(measured: Measurement, view: str) -> Places:
    """Return the places of points across a view, from the drawing's left edge."""
    v = measured.views.index(view)
    marks = measured.sheet.vocabulary.landmarks
    px = 100.0 / (measured.figure_height * measured.size(v))
    return {
        name: (float(measured.x[v, n]) * px, float(measured.sd[v, n]) * px)
        for n, name in enumerate(measured.landmarks)
        if np.isfinite(measured.x[v, n]) and not marks[name].slides
    }


def _rows(
    check: str, new: Measurement, view: str, before: Places, after: Places, shift: float = 0.0
) -> Iterator[Finding]:
    """Yield a row for each point that both have; `shift` lays the earlier places on the later."""
    px = new.figure_height * new.size(new.views.index(view)) / 100.0
    for name, (at, u_after) in after.items():
        if name not in before:
            continue
        was, u_before = before[name]
        expected = was + shift
        yield Finding(
            check,
            view,
            Subject(Kind.POINT, name, (name,), sideways=check == ACROSS),
            expected=expected * px,
            measured=at * px,
            drift_px=(at - expected) * px,
            drift_pct=at - expected,
            uncertainty_pct=float(np.hypot(u_before, u_after)),
            tolerance_pct=tolerance_of(name, new.sheet),
            blame=blame_on(view, at - expected, view),
        )

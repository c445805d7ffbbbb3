"""Holds a sheet to an approved one: where the points of a drawing lie otherwise than approved.

The drawings of a sheet may agree with each other and yet all be wrong, as the views of a rig are
of which an arm hangs too low.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from turncheck.checks.finding import Finding, Kind, Subject, blame_on
from turncheck.checks.register import tolerance_of
from turncheck.geometry.guard_bands import certain
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.instruction import Instruction
from turncheck.instructions.moves import as_instructions, find_moves
from turncheck.instructions.result import Result
from turncheck.wording.instructions import beside_approved

#: What the rows are called in the table of differences, up and across the picture.
UP, ACROSS = "approved", "approved_across"


def held_to_approved(approved: Result, new: Result) -> list[Finding]:
    """Return how far each point lies from where the approved drawing of the same name has it.

    In shares of each sheet's own figure height, up from the ground, and across where both drawings
    are meant to be turned alike, the middle of all that both have laid on each other. None where
    the sheet is not approved as it is, and none of drawings that are the same file.
    """
    if approved.approval.state != "valid":
        return []
    slips = certain(max(approved.measured.scatter.slips, new.measured.scatter.slips))
    both = [view for view in new.sheet.views if view in approved.sheet.views]
    anew = [v for v in both if new.drawings[v].sha256 != approved.drawings[v].sha256]
    return [
        row.judged(slips)
        for view in anew
        for rows in (_up(approved.measured, new.measured, view), _across(approved, new, view))
        for row in rows
    ]


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
    return [replace(task, told=beside_approved(task.told)) for task in found]


def _up(old: Measurement, new: Measurement, view: str) -> Iterator[Finding]:
    (before, u_before), (after, u_after) = (_heights(of, view) for of in (old, new))
    for name in after:
        if name in before and name != "ground":
            u = float(np.hypot(u_before[name], u_after[name]))
            yield _row(UP, new, view, name, before[name], after[name], u)


def _heights(measured: Measurement, view: str) -> tuple[dict[str, float], dict[str, float]]:
    """Return by landmark its height in a view and the uncertainty of that, % of the figure."""
    v = measured.views.index(view)
    heights, sds = {}, {}
    crown = measured.placing.pct  # of the figure height itself, which one placing tells
    for column in np.flatnonzero(measured.tall).tolist():
        found, errors = measured.table.means([column])
        if np.isfinite(found[v]):
            height = measured.percent(float(found[v]))
            sd = measured.percent(float(np.sqrt(errors[v] @ errors[v])))
            heights[measured.landmarks[column]] = height
            sds[measured.landmarks[column]] = float(np.hypot(sd, crown * height / 100.0))
    return heights, sds


def _across(approved: Result, new: Result, view: str) -> Iterator[Finding]:
    if approved.sheet.views[view].yaw != new.sheet.views[view].yaw:
        return
    (before, u_before), (after, u_after) = (_sideways(of.measured, view) for of in (approved, new))
    names = [name for name in after if name in before]
    if not names:
        return
    shift = float(np.median([after[name] - before[name] for name in names]))
    for name in names:
        u = float(np.hypot(u_before[name], u_after[name]))
        yield _row(ACROSS, new.measured, view, name, before[name] + shift, after[name], u)


def _sideways(measured: Measurement, view: str) -> tuple[dict[str, float], dict[str, float]]:
    """Return by landmark its place across a view and the uncertainty of that, % of the figure."""
    v = measured.views.index(view)
    marks = measured.sheet.vocabulary.landmarks
    px = 100.0 / (measured.figure_height * measured.size(v))
    there = {
        name: n
        for n, name in enumerate(measured.landmarks)
        if np.isfinite(measured.x[v, n]) and not marks[name].slides
    }
    return (
        {name: float(measured.x[v, n]) * px for name, n in there.items()},
        {name: float(measured.sd[v, n]) * px for name, n in there.items()},
    )


def _row(
    check: str, new: Measurement, view: str, name: str, expected: float, measured: float, u: float
) -> Finding:
    """Return the row of a point, in % of the figure height."""
    px = new.figure_height * new.size(new.views.index(view)) / 100.0
    return Finding(
        check,
        view,
        Subject(Kind.POINT, name, (name,), sideways=check == ACROSS),
        expected=expected * px,
        measured=measured * px,
        drift_px=(measured - expected) * px,
        drift_pct=measured - expected,
        uncertainty_pct=u,
        tolerance_pct=tolerance_of(name, new.sheet),
        blame=blame_on(view, measured - expected, view),
    )

"""What a survey keeps of a sheet that was checked: its record, and what the statistics need."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from turncheck.checks.eye_line import LINE
from turncheck.checks.finding import Finding, Kind
from turncheck.geometry.measurement import Measurement
from turncheck.instructions.result import Result
from turncheck.plain import capital, spoken
from turncheck.show.record import Record


def record_of(path: str, checked: Result) -> Record:
    """Return the record of a checked sheet, without what lies beside the index page."""
    sheet = checked.sheet
    off = [  # how far something lies from where it belongs
        one
        for one in checked.rows
        if one.is_off_model and one.unit == "pct_height" and one.subject.kind is not Kind.OUTLINE
    ]
    furthest = max(off, key=lambda one: abs(one.drift_pct), default=None)
    return Record(
        path=path,
        character=sheet.character,
        revision=sheet.revision,
        verdict=checked.verdict.value,
        to_redraw=sum(task.settled for task in checked.instructions),
        to_decide=sum(not task.settled for task in checked.instructions),
        worst=_worst(checked, furthest),
        worst_pct=round(furthest.drift_pct, 4) if furthest else None,
        approval=checked.approval.state,
        changed=checked.approval.changed,
        height_cm=float(sheet.height_cm),
        heads=_heads(checked),
        drawn_by={name: view.drawn_by for name, view in sheet.views.items()},
    )


def _worst(checked: Result, furthest: Finding | None) -> str:
    """Return what is told of the row that is furthest off, or first of all where none is.

    Where nothing is to be redrawn, the first warning.
    """
    rows = [n for n, one in enumerate(checked.rows) if one is furthest]
    tasks = checked.instructions
    answers = (task for task in tasks if {*rows} & {*task.findings, *task.follows})
    worst = next(answers, tasks[0] if tasks else None)
    if worst is None:
        return f"First: {checked.warnings[0].says}" if checked.warnings else ""
    return f"{capital(spoken(worst.view))}: {worst.headline}" if worst.view else worst.headline


def _heads(checked: Result) -> float | None:
    """Return how many heads tall the figure is, None where crown or chin is not placed."""
    measured = checked.measured
    columns = measured.columns("crown", "chin")
    if len(columns) < 2:
        return None
    crown, chin = measured.y[measured.base, columns].tolist()
    head = (chin - crown) / measured.size(measured.base)
    return round(measured.figure_height / head, 4) if math.isfinite(head) and head > 0 else None


class Drift(NamedTuple):
    """How far a point of one drawing lies above the same one in the sheet's other drawings.

    Attributes
    ----------
    landmark
        `eye_line` for the line through the eyes that are placed.
    drift_pct, sd_pct
        % of the figure height, upwards, with the drawing's own size and position taken out; and
        the standard uncertainty of that, as the placings have it.
    """

    view: str
    landmark: str
    drift_pct: float
    sd_pct: float


def drifts_of(checked: Result) -> list[Drift]:
    """Return every height of every drawing against the mean of all others of the sheet.

    All others, also where a majority of them would outvote one: so what one drawing has too low
    shows as all others a little too high, in a known proportion, and nothing jumps with a vote.
    A drawing has no part in it where a warning is about it, or where its size and position can't
    be told.

    Examples
    --------
    >>> import turncheck
    >>> drifts = drifts_of(turncheck.check("sample_views/odo"))
    >>> max(abs(one.drift_pct) for one in drifts) < 1.0
    True
    """
    measured = checked.measured
    used = np.array(
        [
            fit.trusted and not checked.is_warned_of(view)
            for view, fit in zip(measured.views, measured.fitted, strict=True)
        ]
    )
    alone = np.eye(len(used), dtype=bool)[used]
    found = []
    for landmark, columns in _heights(measured):
        each = map(np.ndarray.tolist, measured.table.apart(alone, used & ~alone, columns))
        for v, apart, sd in zip(np.flatnonzero(used).tolist(), *each, strict=True):
            if not math.isnan(apart):
                drift, within = measured.percent(apart), measured.percent(sd)
                found.append(Drift(measured.views[v], landmark, drift, within))
    return found


def drifts_by_view(checked: Result) -> dict[str, dict[str, float]]:
    """Return what a sheet gives to the show's statistics: `drift_pct` by view and landmark."""
    found: dict[str, dict[str, float]] = {}
    for one in drifts_of(checked):
        found.setdefault(one.view, {})[one.landmark] = round(one.drift_pct, 6)
    return found


def _heights(measured: Measurement) -> list[tuple[str, list[int]]]:
    """Return the eye line and each point but the ground that lie at one height from every side."""
    eyes = measured.columns(*measured.sheet.vocabulary.eyes)
    lines = [(LINE.name, eyes)] if eyes else []
    names = zip(measured.landmarks, measured.firm, strict=True)
    points = [
        (name, [column])
        for column, (name, firm) in enumerate(names)
        if firm and column not in eyes and name != "ground"
    ]
    return lines + points

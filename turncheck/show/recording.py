"""What a survey keeps of a sheet that was checked."""

from __future__ import annotations

import math

from turncheck.checks.finding import Finding, Kind
from turncheck.instructions.result import Result
from turncheck.plain import capital, spoken
from turncheck.show.drifts import drifts_of
from turncheck.show.record import Record


def record_of(path: str, checked: Result) -> Record:
    """Return the record of a checked sheet, without what lies beside the index page."""
    sheet = checked.sheet
    off = [one for one in checked.rows if one.is_off_model and _is_of_places(one)]
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


def _is_of_places(finding: Finding) -> bool:
    """Return whether a row says how far something lies from where it belongs."""
    return finding.unit == "pct_height" and finding.subject.kind is not Kind.OUTLINE


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


def drift_columns(checked: Result) -> dict[str, list[str | float]]:
    """Return what a sheet gives to the show's statistics, by column."""
    drifts = drifts_of(checked)
    return {
        "view": [one.view for one in drifts],
        "landmark": [one.landmark for one in drifts],
        "drift_pct": [round(one.drift_pct, 6) for one in drifts],
        "sd_pct": [round(one.sd_pct, 6) for one in drifts],
    }

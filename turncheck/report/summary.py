"""`summary.json`: the verdict and what it rests on, for other programs."""

from __future__ import annotations

from typing import Any

from turncheck.checks.register import all_checks
from turncheck.checks.verdicts import counts, of_group
from turncheck.files.version import VERSION
from turncheck.geometry.guard_bands import Verdict
from turncheck.instructions import Instruction
from turncheck.instructions.result import Result
from turncheck.wording.placing import placing_remarks

SCHEMA_VERSION = 1


def summary_of(checked: Result) -> dict[str, Any]:
    """Return what `summary.json` holds."""
    measured, sheet = checked.measured, checked.sheet
    return {
        "schema_version": SCHEMA_VERSION,
        "character": sheet.character,
        "revision": sheet.revision,
        "verdict": checked.verdict.value,
        "warnings": [
            {"code": slip.code, "says": slip.says, "views": list(slip.views)}
            for slip in checked.warnings
        ],
        "how_much": checked.how_much,
        "counts": counts(checked.rows),
        "reference": sheet.reference,
        "placing": sheet.placing,
        "figure_height_px": round(measured.figure_height, 4),
        "placing_sd_pct": round(measured.placing.pct, 4),
        "placing_sd_from": "repeats" if measured.placing.learned else "stated",
        "placing_remarks": placing_remarks(measured),
        "verdicts": {
            "views": {name: _verdict_of(checked, name).value for name in measured.views},
            "checks": {
                check.name: of_group(row for row in checked.rows if row.check == check.name).value
                for check in all_checks()
            },
        },
        "instructions": [_instruction(*one) for one in enumerate(checked.instructions, start=1)],
        "views": {name: _view(checked, v) for v, name in enumerate(measured.views)},
        "drawings": {name: shown.sha256 for name, shown in checked.drawings.items()},
        "landmarks_sha256": checked.landmarks_sha256,
        "approval": {"state": checked.approval.state, "changed": list(checked.approval.changed)},
        "turncheck_version": VERSION,
    }


def _verdict_of(checked: Result, view: str) -> Verdict:
    """Return what speaks against a drawing: the rows that blame it, not only those it is in."""
    tasks = [task for task in checked.instructions if view in task.views]
    if tasks:
        settled = any(task.settled for task in tasks)
        return Verdict.OFF_MODEL if settled else Verdict.UNDECIDED
    if checked.is_warned_of(view):
        return Verdict.UNDECIDED
    own = [row for row in checked.rows if row.view == view and not row.is_off_model]
    if not own and view == checked.sheet.reference:
        return Verdict.ON_MODEL
    return of_group(own)


def _instruction(number: int, task: Instruction) -> dict[str, Any]:
    return {
        "number": number,
        "cause": task.work.name.lower(),
        "views": list(task.views),
        "headline": task.headline,
        "mend": task.mend,
        "says": task.says,
        "landmarks": list(task.landmarks),
        "move_px": {view: [round(px, 3) for px in way] for view, way in task.move_px.items()},
        "settled": task.settled,
        "findings": list(task.findings),
        "follows": list(task.follows),
    }


def _view(checked: Result, v: int) -> dict[str, Any]:
    measured = checked.measured
    scale, turn = measured.trusted_scales[v], measured.turn
    solved = bool(turn.yaw_solved[v])
    return {
        "yaw_nominal": checked.sheet.views[measured.views[v]].yaw,
        "yaw_estimated": round(float(turn.yaw[v]), 3) if solved else None,
        "yaw_sd": round(float(turn.yaw_sd[v]), 3) if solved else None,
        "scale": round(scale.scale, 6),
        "ground_px": round(scale.ground, 4),
        "axis_px": round(float(turn.axis[v]), 3) if turn else None,
    }

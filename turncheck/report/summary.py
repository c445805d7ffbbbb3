"""`summary.json`: the verdict and what it rests on, for other programs."""

from __future__ import annotations

from typing import Any

from turncheck.checks.verdicts import counts
from turncheck.files.version import VERSION
from turncheck.instructions.result import Result

SCHEMA_VERSION = 1


def summary_of(checked: Result) -> dict[str, Any]:
    """Return what `summary.json` holds."""
    measured, sheet = checked.measured, checked.sheet
    return {
        "schema_version": SCHEMA_VERSION,
        "character": sheet.character,
        "revision": sheet.revision,
        "verdict": checked.verdict.value,
        "counts": counts(checked.rows),
        "reference": sheet.reference,
        "placing": sheet.placing,
        "figure_height_px": round(measured.figure_height, 4),
        "placing_sd_pct": round(measured.placing.pct, 4),
        "placing_sd_from": "repeats" if measured.placing.learned else "stated",
        "views": {name: _view(checked, v) for v, name in enumerate(measured.views)},
        "drawings": {name: shown.sha256 for name, shown in checked.drawings.items()},
        "landmarks_sha256": checked.landmarks_sha256,
        "turncheck_version": VERSION,
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

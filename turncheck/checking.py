"""The main job: a sheet in, findings, instructions and a report out."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from turncheck import __version__
from turncheck.checks.finding import COLUMNS, as_csv, counts, overall, waive
from turncheck.checks.register import open_sheet, run_checks
from turncheck.errors import TurncheckError
from turncheck.files.atomic import save_together
from turncheck.files.user_files import is_file
from turncheck.geometry.assignment import cheapest_pairs
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement, measure
from turncheck.images.colour import differences
from turncheck.images.describing import Progress, describe_drawings
from turncheck.images.paper.paper import to_lab
from turncheck.images.picture_file import fingerprint
from turncheck.images.thumbnail import Thumbnail
from turncheck.instructions import Instruction, what_to_redraw
from turncheck.mistakes.misplaced_points import refuse_misplaced_points
from turncheck.sheet.landmark_table import landmarks_path, read_landmarks
from turncheck.sheet.model import Sheet

SCHEMA_VERSION = 1
#: The files of a report, and what each of them has held since the first version.
_OWN = {
    "report.html": b'<meta name="generator" content="turncheck ',
    "findings.csv": ",".join(COLUMNS[:5]).encode(),
    "summary.json": b'"turncheck_version": ',
}


@dataclass(frozen=True)
class Checked:
    """A checked sheet.

    Attributes
    ----------
    placings
        As `read_landmarks` gives them.
    findings
        The findings table, `turncheck.checks.finding.COLUMNS`.
    instructions
        What to redraw, in the order of work.
    drawings
        By view, as the report embeds them.
    """

    sheet: Sheet
    placings: pd.DataFrame
    landmarks_sha256: str
    measured: Measurement
    findings: pd.DataFrame
    instructions: list[Instruction]
    drawings: Mapping[str, Thumbnail]

    @property
    def verdict(self) -> Verdict:
        """The sheet's verdict."""
        return overall(self.findings)

    def save(self, folder: Path) -> dict[str, Any]:
        """Write `report.html`, `findings.csv` and `summary.json`; return the summary.

        An earlier report is overwritten, a file of these names that is not turncheck's never.

        Raises
        ------
        TurncheckError
            If the folder can't be written, or a file in it is not turncheck's.
        """
        from turncheck.report import build_report

        _refuse_foreign(folder)
        summary = self.summary()
        contents = (
            build_report(self, summary, self.drawings),
            as_csv(self.findings),
            json.dumps(summary, indent=2, ensure_ascii=False) + "\n",
        )
        save_together(folder, dict(zip(_OWN, contents, strict=True)))
        return summary

    def summary(self) -> dict[str, Any]:
        """Return what `summary.json` holds."""
        measured = self.measured
        return {
            "schema_version": SCHEMA_VERSION,
            "character": self.sheet.character,
            "revision": self.sheet.revision,
            "verdict": self.verdict.value,
            "counts": counts(self.findings),
            "reference": self.sheet.reference,
            "placing": self.sheet.placing,
            "figure_height_px": round(measured.figure_height, 4),
            "views": {name: self._view_summary(v) for v, name in enumerate(measured.views)},
            "drawings": {name: shown.sha256 for name, shown in self.drawings.items()},
            "landmarks_sha256": self.landmarks_sha256,
            "turncheck_version": __version__,
        }

    def _view_summary(self, v: int) -> dict[str, Any]:
        ruler, turn = self.measured.trusted_scales[v], self.measured.turn
        solved = bool(turn) and not turn.yaw_unsolved_because[v]
        return {
            "yaw_nominal": self.sheet.views[self.measured.views[v]].yaw,
            "yaw_estimated": round(float(turn.yaw[v]), 3) if solved else None,
            "yaw_sd": round(float(turn.yaw_sd[v]), 3) if solved else None,
            "scale": round(ruler.scale, 6),
            "ground_px": round(ruler.ground, 4),
            "axis_px": round(float(turn.axis[v]), 3) if turn else None,
        }


def check(path: str | Path, progress: Progress | None = None) -> Checked:
    """Measure the drawings of a sheet against each other.

    Parameters
    ----------
    path
        A sheet's folder, or its `sheet.toml`.
    progress
        Called before each drawing is decoded.

    Raises
    ------
    TurncheckError
        If the sheet can't be used, naming every fault and its mend.

    Examples
    --------
    >>> import turncheck
    >>> turncheck.check("sample_views/odo").verdict.value
    'on_model'
    """
    sheet = open_sheet(path)
    table = landmarks_path(sheet)
    placings = read_landmarks(table, sheet)
    measured = measure(sheet, placings)
    described = describe_drawings(sheet.views, progress, meanwhile=_warm_up)
    features = tuple(described.features[name] for name in measured.views)
    refuse_misplaced_points(measured, features)
    measured = replace(measured, features=features)
    findings = waive(run_checks(measured), sheet.waivers)
    return Checked(
        sheet=sheet,
        placings=placings,
        landmarks_sha256=fingerprint(table.read_bytes()),
        measured=measured,
        findings=findings,
        instructions=what_to_redraw(measured, findings),
        drawings=described.thumbnails,
    )


def _refuse_foreign(folder: Path) -> None:
    """Refuse to go on where a file of a report's name was not written by turncheck."""
    faults = [
        f"{folder / name}: is not of a turncheck report, so it is not overwritten; "
        "move it, or name another folder with --out"
        for name, mark in _OWN.items()
        if is_file(folder / name) and not _holds(folder / name, mark)
    ]
    if faults:
        raise TurncheckError(*faults)


def _holds(path: Path, mark: bytes) -> bool:
    try:
        return mark in path.read_bytes()
    except OSError:  # what can't be read can't be known as turncheck's own
        return False


def _warm_up() -> None:
    """Do what is slow only the first time, while the first drawing is decoded."""
    to_lab(np.zeros((1, 1, 3), dtype=np.uint8))
    differences(np.zeros((1, 3)), np.zeros((1, 3)))
    cheapest_pairs(np.zeros((1, 1)))

    from turncheck.report.page import load

    load()

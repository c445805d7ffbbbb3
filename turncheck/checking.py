"""The main job: a sheet in, findings, instructions and a report out."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from turncheck import __version__
from turncheck.checks import check_names, further_tolerances, run_checks
from turncheck.findings import as_csv, counts, overall, waive
from turncheck.landmarks import landmarks_path, read_landmarks
from turncheck.measuring import Measured, measure
from turncheck.pictures.reading import fingerprint
from turncheck.pictures.screen import ScreenPicture, for_screen
from turncheck.redraw import Instruction, what_to_redraw
from turncheck.saving import save_together
from turncheck.sheet import Sheet, read_sheet
from turncheck.uncertainty import Verdict

SCHEMA_VERSION = 1
#: Called with a drawing's name, its number and how many there are.
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Checked:
    """A checked sheet.

    Attributes
    ----------
    placings
        As `read_landmarks` gives them.
    findings
        The findings table, `turncheck.findings.COLUMNS`.
    instructions
        What to redraw, in the order of work.
    """

    sheet: Sheet
    placings: pd.DataFrame
    landmarks_sha256: str
    measured: Measured
    findings: pd.DataFrame
    instructions: list[Instruction]

    @property
    def verdict(self) -> Verdict:
        """The sheet's verdict."""
        return overall(self.findings)

    def save(self, folder: Path, progress: Progress | None = None) -> dict[str, Any]:
        """Write `report.html`, `findings.csv` and `summary.json`; return the summary.

        Every drawing is decoded before anything is written.

        Raises
        ------
        TurncheckError
            If a drawing is broken or the folder can't be written.
        """
        from turncheck.report import build_report

        drawings: dict[str, ScreenPicture] = {}
        for number, view in enumerate(self.sheet.views.values(), start=1):
            if progress is not None:
                progress(view.picture.file, number, len(self.sheet.views))
            drawings[view.name] = for_screen(view.picture)
        summary = self.summary({name: drawing.sha256 for name, drawing in drawings.items()})
        save_together(
            folder,
            {
                "report.html": build_report(self, summary, drawings),
                "findings.csv": as_csv(self.findings),
                "summary.json": json.dumps(summary, indent=2, ensure_ascii=False) + "\n",
            },
        )
        return summary

    def summary(self, drawings: Mapping[str, str]) -> dict[str, Any]:
        """Return what `summary.json` holds; `drawings` are the SHA-256 sums by view."""
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
            "drawings": dict(drawings),
            "landmarks_sha256": self.landmarks_sha256,
            "turncheck_version": __version__,
        }

    def _view_summary(self, v: int) -> dict[str, Any]:
        ruler, turn = self.measured.best_rulers[v], self.measured.turn
        solved = bool(turn) and not turn.yaw_known[v]
        return {
            "yaw_nominal": self.sheet.views[self.measured.views[v]].yaw,
            "yaw_estimated": round(float(turn.yaw[v]), 3) if solved else None,
            "yaw_sd": round(float(turn.yaw_sd[v]), 3) if solved else None,
            "scale": round(ruler.scale, 6),
            "ground_px": round(ruler.ground, 4),
            "axis_px": round(float(turn.axis[v]), 3) if turn else None,
        }


def check(path: str | Path) -> Checked:
    """Measure the drawings of a sheet against each other.

    Parameters
    ----------
    path
        A sheet's folder, or its `sheet.toml`.

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
    sheet = read_sheet(Path(path), check_names(), further_tolerances())
    table = landmarks_path(sheet)
    placings = read_landmarks(table, sheet)
    measured = measure(sheet, placings)
    findings = waive(run_checks(measured), sheet.waivers)
    return Checked(
        sheet=sheet,
        placings=placings,
        landmarks_sha256=fingerprint(table.read_bytes()),
        measured=measured,
        findings=findings,
        instructions=what_to_redraw(measured, findings),
    )

"""The main job: a sheet in, findings, instructions and a report out; and what is built on them."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from turncheck.checks.register import open_sheet, run_checks
from turncheck.checks.verdicts import put_off, told_first, waive
from turncheck.geometry.measurement import measure
from turncheck.images.describing import Progress, describe_drawings
from turncheck.instructions import waive_what_follows, what_to_redraw
from turncheck.instructions.result import Result
from turncheck.mistakes.impossible import refuse_impossible
from turncheck.mistakes.misplaced_points import refuse_misplaced_points
from turncheck.mistakes.register import find_slips
from turncheck.report.summary import summary_of
from turncheck.sheet.approval import approval_state, sums_of
from turncheck.sheet.landmark_table import (
    Placing,
    landmarks_path,
    read_complete,
    read_table,
    refuse_incomplete,
)
from turncheck.sheet.merging_placings import merge_placings
from turncheck.sheet.model import LANDMARKS_FILE, Sheet

if TYPE_CHECKING:
    from turncheck.handover.guides import Guides
    from turncheck.handover.pivots import Pivots
    from turncheck.revisions.comparing import Comparison


class Checked(Result):
    """A checked sheet that can be saved."""

    def save(self, folder: Path) -> dict[str, Any]:
        """Write `report.html`, `findings.csv` and `summary.json`; return the summary.

        An earlier report is overwritten, a file of these names that is not turncheck's never.

        Raises
        ------
        TurncheckError
            If the folder can't be written, or a file in it is not turncheck's.
        """
        from turncheck.report import save_report

        return save_report(self, folder)

    def summary(self) -> dict[str, Any]:
        """Return what `summary.json` holds."""
        return summary_of(self)


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
    table = read_complete(landmarks_path(sheet), sheet)
    return _checked(sheet, tuple(table.placings.values()), table.hash, progress)


def _checked(
    sheet: Sheet, placings: tuple[Placing, ...], landmarks_sha256: str, progress: Progress | None
) -> Checked:
    refuse_impossible(sheet, placings)
    seen = describe_drawings(sheet.views, progress)
    measured = measure(sheet, placings, seen.features)
    refuse_misplaced_points(measured)
    drawn = {name: one.sha256 for name, one in seen.thumbnails.items()}
    slips = find_slips(measured, drawn)
    accepted = waive(put_off(run_checks(measured), slips), sheet.waivers_in_force)
    findings = waive_what_follows(measured, accepted)
    sums = sums_of(sheet, drawn, landmarks_sha256)
    return Checked(
        sheet=sheet,
        placings=placings,
        landmarks_sha256=landmarks_sha256,
        measured=measured,
        rows=tuple(findings),
        instructions=tuple(
            what_to_redraw(measured, findings, told_first=told_first(findings, slips))
        ),
        drawings=seen.thumbnails,
        warnings=slips,
        approval=approval_state(sheet, sums),
        sums=sums,
    )


def pivots(path: str | Path, progress: Progress | None = None) -> Pivots:
    """Return where each pivot of a sheet goes, as all its drawings agree on it.

    Parameters
    ----------
    path, progress
        As of `check`.

    Raises
    ------
    TurncheckError
        If the sheet can't be used, naming every fault and its mend.

    Examples
    --------
    >>> import turncheck
    >>> found = turncheck.pivots("sample_views/odo")
    >>> sorted({place.parent for place in found.places if place.pivot == "elbow_l"})
    ['shoulder_l']
    """
    from turncheck.handover.pivots import pivots_of

    return pivots_of(check(path, progress))


def guides(
    path: str | Path, yaws: Iterable[float] = (), progress: Progress | None = None
) -> Guides:
    """Return the guides of a sheet: of its drawings with work to do, and at further yaws, degrees.

    Parameters
    ----------
    path, progress
        As of `check`.

    Raises
    ------
    TurncheckError
        If the sheet can't be used, or yaws are asked for and it does not say how deep the body
        is, naming the mend.

    Examples
    --------
    >>> import turncheck
    >>> [guide.view for guide in turncheck.guides("sample_views/pim").drawings]
    ['three_quarter', 'side', 'back']
    >>> (angle,) = turncheck.guides("sample_views/odo", [60.0]).angles
    >>> angle.sides[angle.landmarks.index("knee_l")]
    'far'
    """
    from turncheck.handover.guides import guides_of

    return guides_of(check(path, progress), yaws)


def compare(
    old: str | Path, new: str | Path, *, carry: bool = False, progress: Progress | None = None
) -> Comparison:
    """Compare two revisions of a sheet: what was mended, what became worse, what is new.

    Where the new one has no placing of a point, that of the old one counts if the drawing is
    unchanged around it.

    Parameters
    ----------
    old, new, progress
        As of `check`; the new sheet's `landmarks.csv` may be incomplete, or not be there.
    carry
        Whether to write what is carried into the new sheet's `landmarks.csv`.

    Raises
    ------
    TurncheckError
        If one of the sheets can't be used, naming every fault and its mend; nothing is written
        then.

    Examples
    --------
    >>> import turncheck
    >>> turncheck.compare("sample_views/odo", "sample_views/odo").is_worse
    False
    """
    from turncheck.revisions.carrying import carry as carried_from
    from turncheck.revisions.comparing import Comparison, refuse_incomparable

    before = check(old, progress)
    sheet = open_sheet(new)
    refuse_incomparable(before.sheet, sheet)
    path = sheet.folder / LANDMARKS_FILE
    table = read_table(path, sheet)
    carried = carried_from(before, sheet, table.placings.values())
    every = (*table.placings.values(), *carried.placings)
    refuse_incomplete(path, every, sheet)
    after = _checked(sheet, every, table.hash, progress)
    written = merge_placings(sheet, carried.placings, replace=False).written if carry else ()
    return Comparison(before, after, carried, bool(written))

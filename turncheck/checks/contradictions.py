"""What `outline` and `mirror` share: rows of the outline that no solid body could have drawn."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator

from turncheck.checks.comparing import ONE_OF_SEVERAL
from turncheck.checks.finding import Finding, not_measured
from turncheck.checks.looking import not_looked_at
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement
from turncheck.geometry.outlines import Contradiction, OutlineComparison, Remedy
from turncheck.geometry.outlines.result import FITS

SUBJECT = "outline"


def find_contradictions(
    measured: Measurement, check: str, kind: str, tolerance: float, views: Collection[int]
) -> Iterator[Finding]:
    """Yield a row for each contradiction of a kind, and one a view for what shows none.

    A contradiction is proof that the drawings are not of one body. That there is none proves
    nothing, so a drawing without one is not measured, with what it could have shown.

    Parameters
    ----------
    kind
        'mirror' or 'outline'.
    tolerance
        % of the figure height by which some outline must move for the row to be off model.
    views
        Those that the check can speak of.
    """
    reading = measured.outlines
    if reading is None:
        yield from not_looked_at(measured, check, SUBJECT, "pct_height")
        return
    if not reading:
        yield not_measured(check, "", SUBJECT, reading.refusal)
        return
    found = [c for c in reading.contradictions if c.kind == kind]
    for contradiction in found:
        yield _row(measured, check, contradiction, tolerance)
    for v, view in enumerate(measured.views):
        if v not in views or any(v in contradiction.views for contradiction in found):
            continue
        reason = reading.left_out[v] or _quiet(measured, reading, v, tolerance)
        yield not_measured(check, view, SUBJECT, reason)


def _row(measured: Measurement, check: str, found: Contradiction, tolerance: float) -> Finding:
    v = shown_on(measured, found)
    view = measured.views[v]
    drift = measured.percent(found.amount)
    return Finding(
        check,
        view,
        subject_of(measured, found),
        expected=0.0,
        measured=found.amount * measured.size(v),
        drift_px=found.amount * measured.size(v),
        drift_pct=drift,
        uncertainty_pct=0.0,  # what can't be known is taken off before a contradiction is found
        tolerance_pct=tolerance,
        verdict=(Verdict.OFF_MODEL if drift > tolerance else Verdict.UNDECIDED).value,
        note=_note(measured, found),
        odd_view=view if found.blamed is not None else "",
        odd_pct=drift if found.blamed is not None else math.nan,
    )


def suspects(found: Contradiction) -> list[int]:
    """Return the views of which one must be wrong, in order."""
    return sorted({remedy.view for remedy in found.remedies} or set(found.views))


def shown_on(measured: Measurement, found: Contradiction) -> int:
    """Return the view to show a contradiction on: a suspect that is not the reference."""
    return next((v for v in suspects(found) if v != measured.reference), suspects(found)[0])


def subject_of(measured: Measurement, found: Contradiction) -> str:
    """Return a contradiction's subject: its rows and side in the view that it is shown on."""
    v = shown_on(measured, found)
    first, last = found.rows[v]
    side = next((f", {remedy.side}" for remedy in found.remedies if remedy.view == v), "")
    return f"rows {first:.0f} to {last:.0f}{side}"


def _note(measured: Measurement, found: Contradiction) -> str:
    mends = [remedy_words(measured, remedy) for remedy in found.remedies]
    if not mends:
        mends = ["no single change would mend it"]
    words = "; or ".join(mends)
    if found.blamed is None:
        among = " or ".join(measured.views[v] for v in suspects(found))
        words = f"{ONE_OF_SEVERAL} {among}; {words}"
    return words + (", if the body is symmetric" if found.symmetry else "")


def remedy_words(measured: Measurement, remedy: Remedy) -> str:
    """Return one change that would make a body fit, as a person would say it."""
    view = measured.views[remedy.view].replace("_", " ")
    px = f"{abs(remedy.px):.0f} px"
    if remedy.side == "height":
        return f"{view}: {'add' if remedy.px > 0 else 'take away'} {px} of height there"
    where = "both sides" if remedy.side == "both" else f"the {remedy.side} side"
    return f"{view}: move {where} {px} {'outward' if remedy.px > 0 else 'inward'}"


def _quiet(measured: Measurement, reading: OutlineComparison, v: int, tolerance: float) -> str:
    allowed = tolerance / 100.0 * measured.figure_height * measured.size(v)
    told = float((reading.states(v, allowed + reading.tolerance) == FITS).mean())
    return f"nothing contradicts it; an error would have shown on {told:.0%} of its outline"

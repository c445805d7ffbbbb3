"""`outline`: whether any solid body could have the outlines of all drawings."""

from collections.abc import Collection, Iterator

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.finding import Blame, Blamed, Finding, Kind, Subject, blame_on, not_measured
from turncheck.checks.note import Note, ViewName, joined, noted
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement
from turncheck.geometry.outlines import Contradiction, Remedy
from turncheck.geometry.outlines.result import FITS

OUTLINE = Subject(Kind.OUTLINE, "outline")


def find_outline_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield the rows where the outlines of several directions contradict each other."""
    views = range(len(measured.views))
    yield from find_contradictions(measured, CHECK.name, tolerances.general, views)


def find_contradictions(
    measured: Measurement, check: str, tolerance: float, views: Collection[int]
) -> Iterator[Finding]:
    """Yield a row for each contradiction of a check, and one a view for what shows none.

    A contradiction is proof that the drawings are not of one body. That there is none proves
    nothing, so a drawing without one is not measured, with what it could have shown.

    Parameters
    ----------
    check
        'mirror' or 'outline', which is the kind of contradiction as well.
    tolerance
        % of the figure height by which some outline must move for the row to be off model.
    views
        Those that the check can speak of.
    """
    result = measured.outlines
    if not result:
        yield not_measured(check, "", OUTLINE, result.refusal)
        return
    found = [c for c in result.contradictions if c.kind == check]
    for contradiction in found:
        yield _row(measured, check, contradiction, tolerance)
    for v, view in enumerate(measured.views):
        if v not in views or any(v in contradiction.views for contradiction in found):
            continue
        reason = result.left_out[v] or _quiet(measured, v, tolerance)
        yield not_measured(check, view, OUTLINE, reason)


def _row(measured: Measurement, check: str, found: Contradiction, tolerance: float) -> Finding:
    suspects = sorted({remedy.view for remedy in found.remedies} or set(found.views))
    v = next((w for w in suspects if w != measured.reference), suspects[0])
    view = measured.views[v]
    drift = measured.percent(found.amount)
    if found.blamed is None:
        blame = Blame(Blamed.SET, tuple(measured.views[w] for w in suspects))
    else:
        blame = blame_on(view, drift, view)
    first, last = (float(row) for row in found.rows[v])
    side = next((remedy.side for remedy in found.remedies if remedy.view == v), "")
    name = f"rows {first:.0f} to {last:.0f}" + (f", {side}" if side else "")
    return Finding(
        check,
        view,
        Subject(Kind.OUTLINE, name, rows=(first, last), side=side, contradiction=found),
        expected=0.0,
        measured=found.amount * measured.size(v),
        drift_px=found.amount * measured.size(v),
        drift_pct=drift,
        uncertainty_pct=0.0,  # what can't be known is taken off before a contradiction is found
        tolerance_pct=tolerance,
        verdict=Verdict.OFF_MODEL if drift > tolerance else Verdict.UNDECIDED,
        note=_note(measured, found, blame),
        blame=blame,
    )


def _note(measured: Measurement, found: Contradiction, blame: Blame) -> Note:
    mends = joined((_mend(measured, remedy) for remedy in found.remedies), "; or ")
    words = mends or noted("no single change would mend it")
    if not blame.settled:
        among = joined((ViewName(view) for view in blame.views), " or ")
        words = noted("the wrong one is {}; {}", among, words)
    return noted("{}, if the body is symmetric", words) if found.symmetry else words


def _mend(measured: Measurement, remedy: Remedy) -> Note:
    """Return one change that would make a body fit."""
    view, px = ViewName(measured.views[remedy.view]), f"{abs(remedy.px):.0f} px"
    if remedy.side == "height":
        do = f"{'add' if remedy.px > 0 else 'take away'} {px} of height there"
    else:
        where = (
            "both edges" if remedy.side == "both" else f"the edge at the picture's {remedy.side}"
        )
        do = f"move {where} {px} {'outward' if remedy.px > 0 else 'inward'}"
    return noted("{}: {}", view, do)


def _quiet(measured: Measurement, v: int, tolerance: float) -> str:
    allowed = tolerance / 100.0 * measured.figure_height * measured.size(v)
    states = measured.outlines.states(v, allowed + measured.outlines.tolerance)
    told = float((states == FITS).mean())
    return f"nothing contradicts it; an error would have shown on {told:.0%} of its outline"


CHECK = Check(
    name="outline",
    title="Outline",
    order=76,
    unit="pct_height",
    tolerance=0.5,
    measures="rows where no solid body could have the outlines of all drawings, and the least "
    "that must move",
    why="an outline that no body can have comes apart when the figure turns",
    mend="redraw the outline along these rows in one of the drawings named",
    run=find_outline_drift,
)

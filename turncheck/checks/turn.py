"""`turn`: whether one body explains where every point falls sideways, and each view's real yaw."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from turncheck.checks.check import Check, FurtherTolerance, Tolerances
from turncheck.checks.finding import (
    Blame,
    Blamed,
    Cause,
    Finding,
    Kind,
    Subject,
    blame_on,
    not_measured,
)
from turncheck.checks.note import Note, ViewName, joined, noted
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement
from turncheck.geometry.turn import ONE_AMONG, Turn
from turncheck.numerics.angles import wrapped

#: Degrees that a drawing's turn may lie from its nominal one; common practice, no source.
YAW_TOLERANCE = FurtherTolerance("yaw", "which way it faces, degrees", 5.0)
YAW = Subject(Kind.YAW, "yaw")
_LOOKS = {
    Cause.MIRRORED: "it looks like its own mirror image: flip the drawing, or change its yaw's "
    "sign",
    Cause.SWAPPED: "its left and right names look exchanged: check which is the character's own "
    "left",
}


def find_turn_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield each view's yaw, then each landmark's drift sideways, from the solved turn."""
    turn = measured.turn
    for v in range(len(measured.views)):
        yield _yaw(measured, turn, v, tolerances)
    if not turn:
        return
    for i, name in enumerate(measured.landmarks):
        if not measured.sheet.vocabulary.landmarks[name].slides:
            yield from _landmark(measured, turn, i, tolerances.of(name))


def _yaw(measured: Measurement, turn: Turn, v: int, tolerances: Tolerances) -> Finding:
    view = measured.views[v]
    nominal = measured.sheet.views[view].yaw
    why_not = turn.yaw_unsolved_because[v]
    if v == measured.base:
        why_not = why_not or turn.yaw_held_because
    if why_not and not turn.misreading[v]:
        return not_measured(CHECK.name, view, YAW, why_not, "deg")
    drift = wrapped(float(turn.yaw[v]) - nominal)
    row = Finding(
        CHECK.name,
        view,
        YAW,
        expected=nominal,
        measured=nominal + drift,
        drift_pct=drift,
        uncertainty_pct=float(turn.yaw_sd[v]),
        tolerance_pct=tolerances.named[YAW_TOLERANCE.name],
        unit="deg",
    )
    if turn.misreading[v]:
        cause, rival = Cause(turn.misreading[v]), turn.misreading_rival[v]
        note = noted(_LOOKS[cause] + (f" (or the same for {rival})" if rival else ""))
        blame = Blame(Blamed.THIS, (view,))
        return replace(row, verdict=Verdict.OFF_MODEL, blame=blame, cause=cause, note=note)
    row = row.judged()
    return replace(row, blame=blame_on(view, drift, view)) if row.is_off_model else row


def _landmark(measured: Measurement, turn: Turn, i: int, tolerance: float) -> Iterator[Finding]:
    """Yield a landmark's rows; where several views may be wrong, one row says so, not several."""
    name = measured.landmarks[i]
    subject = Subject(Kind.POINT, name, (name,), sideways=True)
    rows: list[tuple[int, Finding]] = []
    for v, view in enumerate(measured.views):
        if not np.isfinite(measured.x[v, i]):
            continue
        if not turn.measurable[v, i]:
            rows.append((v, not_measured(CHECK.name, view, subject, str(turn.why_not[v, i]))))
            continue
        drift = float(turn.drift[v, i])
        row = Finding(
            CHECK.name,
            view,
            subject,
            expected=float(measured.x[v, i]) - drift,
            measured=float(measured.x[v, i]),
            drift_px=drift,
            drift_pct=_percent(measured, v, drift),
            uncertainty_pct=_percent(measured, v, float(turn.drift_u[v, i])),
            tolerance_pct=tolerance,
        ).judged()
        rows.append((v, row))
    off = [(v, row) for v, row in rows if row.is_off_model]
    named = int(turn.named[i])
    worst = max(off, key=lambda pair: abs(pair[1].drift_pct), default=None)
    suspects = tuple(measured.views[w] for w in np.flatnonzero(turn.suspects[:, i]))
    for v, row in rows:
        if not row.is_off_model:
            yield row
        elif named == ONE_AMONG and turn.suspects[v, i]:
            verdict = row.verdict if worst == (v, row) else Verdict.UNDECIDED
            blame, note = Blame(Blamed.SET, suspects), _among(suspects)
            yield replace(row, verdict=verdict, blame=blame, note=note)
        else:
            view = measured.views[named] if named >= 0 else row.view
            blamed = measured.views.index(view)
            pct = _percent(measured, blamed, float(turn.drift[blamed, i]))
            yield replace(row, blame=blame_on(view, pct, row.view))


def _among(suspects: tuple[str, ...]) -> Note:
    """Return that one of some views is wrong."""
    *names, last = (ViewName(view) for view in suspects)
    if not names:
        return noted("the wrong one is {}", last)
    return noted("the wrong one is a view among {} and {}", joined(names, ", "), last)


def _percent(measured: Measurement, v: int, px: float) -> float:
    return measured.percent(px / measured.size(v))


CHECK = Check(
    name="turn",
    title="Turn",
    order=70,
    unit="pct_height",
    tolerance=1.5,
    further=(YAW_TOLERANCE,),
    measures="how far each drawing is really turned, in degrees, and where each point should "
    "fall sideways if one body is to explain all drawings",
    why="a three-quarter that was drawn at another angle makes nothing line up",
    mend="redraw at the angle that was asked for, or say in the sheet what angle it is; move "
    "single points sideways",
    run=find_turn_drift,
)

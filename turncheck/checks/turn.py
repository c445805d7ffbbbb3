"""`turn`: whether one body explains where every point falls sideways, and each view's real yaw."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import ONE_OF_SEVERAL
from turncheck.checks.finding import Finding, not_measured
from turncheck.geometry.guard_bands import Verdict
from turncheck.geometry.measurement import Measurement
from turncheck.geometry.turn import ONE_AMONG, Turn

#: Degrees that a drawing's turn may lie from its nominal one; common practice, no source.
YAW_TOLERANCE = 5.0
_LOOKS = {
    "mirrored": "it looks like its own mirror image: flip the drawing, or change its yaw's sign",
    "swapped": "its left and right names look exchanged: check which is the character's own left",
}


def find_turn_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield each view's yaw, then each landmark's drift sideways, from the solved turn."""
    turn = measured.turn
    if not turn:
        yield not_measured(CHECK.name, "", "yaw", turn.refusal, "deg")
        return
    for v in range(len(measured.views)):
        if measured.views[v] != measured.sheet.base or turn.misreading[v]:
            yield _yaw(measured, turn, v, tolerances)
    for i, name in enumerate(measured.landmarks):
        if not measured.sheet.vocabulary.landmarks[name].slides:
            yield from _landmark(measured, turn, i, tolerances.of(name))


def _yaw(measured: Measurement, turn: Turn, v: int, tolerances: Tolerances) -> Finding:
    view = measured.views[v]
    nominal = measured.sheet.views[view].yaw
    if turn.yaw_unsolved_because[v] and not turn.misreading[v]:
        return not_measured(CHECK.name, view, "yaw", turn.yaw_unsolved_because[v], "deg")
    drift = 180.0 - (180.0 - (float(turn.yaw[v]) - nominal)) % 360.0
    row = Finding(
        CHECK.name,
        view,
        "yaw",
        expected=nominal,
        measured=nominal + drift,
        drift_pct=drift,
        uncertainty_pct=float(turn.yaw_sd[v]),
        tolerance_pct=tolerances.named.get("yaw", YAW_TOLERANCE),
        unit="deg",
    )
    looks = turn.misreading[v]
    if looks:
        rival = turn.misreading_rival[v]
        note = _LOOKS[looks] + (f" (or the same for {rival})" if rival else "")
        return replace(row, verdict=Verdict.OFF_MODEL.value, note=note, odd_view=view)
    row = row.judged()
    if row.verdict == Verdict.OFF_MODEL.value:
        return replace(row, odd_view=view, odd_pct=drift)
    return row


def _landmark(measured: Measurement, turn: Turn, i: int, tolerance: float) -> Iterator[Finding]:
    """Yield a landmark's rows; where several views may be wrong, one row says so, not several."""
    name = measured.landmarks[i]
    rows: list[tuple[int, Finding]] = []
    for v, view in enumerate(measured.views):
        if not np.isfinite(measured.x[v, i]):
            continue
        if turn.why_not[v, i]:
            rows.append((v, not_measured(CHECK.name, view, name, str(turn.why_not[v, i]))))
            continue
        drift = float(turn.drift[v, i])
        row = Finding(
            CHECK.name,
            view,
            name,
            expected=float(measured.x[v, i]) - drift,
            measured=float(measured.x[v, i]),
            drift_px=drift,
            drift_pct=_percent(measured, v, drift),
            uncertainty_pct=_percent(measured, v, float(turn.drift_u[v, i])),
            tolerance_pct=tolerance,
            landmarks=name,
        ).judged()
        rows.append((v, row))
    off = [(v, row) for v, row in rows if row.verdict == Verdict.OFF_MODEL.value]
    named = int(turn.named[i])
    worst = max(off, key=lambda pair: abs(pair[1].drift_pct), default=None)
    for v, row in rows:
        if row.verdict != Verdict.OFF_MODEL.value:
            yield row
        elif named == ONE_AMONG and turn.suspects[v, i]:
            note = f"{ONE_OF_SEVERAL} {turn.blame(i, measured.views)}"
            verdict = row.verdict if worst == (v, row) else Verdict.UNDECIDED.value
            yield replace(row, verdict=verdict, note=note)
        else:
            view = measured.views[named] if named >= 0 else row.view
            blamed = measured.views.index(view)
            pct = _percent(measured, blamed, float(turn.drift[blamed, i]))
            yield replace(row, odd_view=view, odd_pct=pct)


def _percent(measured: Measurement, v: int, px: float) -> float:
    return measured.percent(px / measured.size(v))


CHECK = Check(
    name="turn",
    title="Turn",
    order=70,
    unit="pct_height",
    tolerance=1.5,
    named={"yaw": YAW_TOLERANCE},
    measures="how far each drawing is really turned, in degrees, and where each point should "
    "fall sideways if one body is to explain all drawings",
    why="a three-quarter that was drawn at another angle makes nothing line up",
    mend="redraw at the angle that was asked for, or say in the sheet what angle it is; move "
    "single points sideways",
    run=find_turn_drift,
)

"""`turn`: whether one body explains where every point falls sideways, and each view's real yaw."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from turncheck.checks.check import Check, FurtherTolerance, Tolerances
from turncheck.checks.comparing import judged_as_placed
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
from turncheck.geometry.turn import ONE_AMONG, Misreading, Reading, Turn, deciding_yaw
from turncheck.numerics.angles import wrapped

#: Degrees that a drawing's turn may lie from its nominal one; common practice, no source.
YAW_TOLERANCE = FurtherTolerance("yaw", "which way it faces, degrees", 5.0)
YAW = Subject(Kind.YAW, "yaw")
_LOOKS = {
    Cause.MIRRORED: "it looks like its own mirror image: flip the drawing, or change its yaw's "
    "sign",
    Cause.SWAPPED: "its left and right names look exchanged: check which is the character's own "
    "left",
    Cause.BOTH: "it looks like its own mirror image, its points and names with it: flip it back "
    "together with them",
}
_IS = {
    Misreading.NONE: "is as it says",
    Misreading.MIRRORED: "is its own mirror image",
    Misreading.SWAPPED: "has left and right names exchanged",
    Misreading.BOTH: "was flipped, its points with it",
}


def find_turn_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield each view's yaw, then each landmark's drift sideways, from the solved turn."""
    turn = measured.turn
    for v in range(len(measured.views)):
        yield _yaw(measured, turn, v, tolerances.named[YAW_TOLERANCE.name])
    if not turn:
        return
    for i, name in enumerate(measured.landmarks):
        if not measured.sheet.vocabulary.landmarks[name].slides:
            yield from _landmark(measured, turn, i, tolerances.of(name))


def _yaw(measured: Measurement, turn: Turn, v: int, tolerance: float) -> Finding:
    view = measured.views[v]
    own, *others = _ways(turn, v)
    why_not = turn.yaw_unsolved_because[v]
    if v == measured.base:
        why_not = why_not or turn.yaw_held_because
    if why_not and not own.how:
        return not_measured(CHECK.name, view, YAW, why_not, "deg")
    nominal = measured.sheet.views[view].yaw
    drift = wrapped(own.fits - nominal)
    row = Finding(
        CHECK.name,
        view,
        YAW,
        expected=nominal,
        measured=nominal + drift,
        drift_pct=drift,
        uncertainty_pct=float(turn.yaw_sd[v]),
        tolerance_pct=tolerance,
        unit="deg",
    )
    row = replace(row, verdict=Verdict.OFF_MODEL) if own.how else row.judged()
    if row.verdict is Verdict.ON_MODEL:
        return row
    note = joined((_or_else(measured, v, own, one) for one in others), ", ")
    if own.how:
        cause = Cause(own.how)
        row = replace(row, cause=cause)
        note = noted(_LOOKS[cause] + (" ({})" if note else "{}"), note)
    row = replace(row, note=note)
    if not row.is_off_model:
        return row
    suspects = sorted(
        {measured.views[one.view] for one in (own, *others)}, key=measured.views.index
    )
    if len(suspects) > 1:
        sides = tuple((one,) for one in suspects)
        return replace(row, blame=Blame(Blamed.SET, tuple(suspects), sides=sides))
    return replace(row, blame=blame_on(view, drift, view))


def _ways(turn: Turn, v: int) -> list[Reading]:
    """Return the readings of which one is right of a view, or of another instead; its own first."""
    groups = [ways for ways in turn.readings if ways[0].how and any(w.view == v for w in ways)]
    ways = [*groups, turn.readings[v]][0]
    return sorted(ways, key=lambda way: way.view != v)


def _or_else(measured: Measurement, v: int, own: Reading, rival: Reading) -> Note:
    """Return that another reading explains the drawings as well."""
    if rival.view != v:
        return noted(f"or {{}} {_IS[rival.how]}", ViewName(measured.views[rival.view]))
    drawn = "" if own.how else f"at {rival.yaw:.1f}° "
    return noted(f"or {drawn}it {_IS[rival.how]}")


def _landmark(measured: Measurement, turn: Turn, i: int, tolerance: float) -> Iterator[Finding]:
    """Yield a landmark's rows; those of which one is wrong have one verdict, and say so."""
    name = measured.landmarks[i]
    subject = Subject(Kind.POINT, name, (name,), sideways=True)
    rows: dict[int, Finding] = {}
    for v, view in enumerate(measured.views):
        if not np.isfinite(measured.x[v, i]):
            continue
        if not turn.measurable[v, i]:
            rows[v] = not_measured(CHECK.name, view, subject, str(turn.why_not[v, i]))
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
            dof=measured.dof(name),
        )
        rows[v] = judged_as_placed(measured, row)
    named = int(turn.named[i])
    among = [v for v in rows if turn.suspects[v, i] and rows[v].is_measured]
    if named == ONE_AMONG and among:
        rows |= _as_a_set(measured, turn, i, {v: rows[v] for v in among})
    for row in rows.values():
        if row.is_off_model and row.blame.kind is Blamed.UNSAID:
            view = measured.views[named] if named >= 0 else row.view
            blamed = measured.views.index(view)
            pct = _percent(measured, blamed, float(turn.drift[blamed, i]))
            row = replace(row, blame=blame_on(view, pct, row.view))
        yield row


def _as_a_set(
    measured: Measurement, turn: Turn, i: int, rows: Mapping[int, Finding]
) -> dict[int, Finding]:
    """Return the rows of which one is wrong, judged alike: as the best determined of them is."""
    verdict = min(rows.values(), key=lambda row: row.uncertainty_pct).verdict
    alike = {v: replace(row, verdict=verdict) for v, row in rows.items()}
    if verdict is not Verdict.OFF_MODEL:
        return alike
    either = [i, *_twin(measured, turn, i)]
    views = tuple(measured.views[v] for v in np.flatnonzero(turn.suspects[:, either].any(axis=1)))
    if len(views) < 2:
        return alike
    blame = Blame(Blamed.SET, views, sides=tuple((view,) for view in views))
    *first, last = (ViewName(view) for view in views)
    decides = noted(_deciding(measured, turn, either))
    note = noted("{} and {} contradict each other{}", joined(first, ", "), last, decides)
    return {v: replace(row, blame=blame, note=note) for v, row in alike.items()}


def _twin(measured: Measurement, turn: Turn, i: int) -> list[int]:
    """Return the column of the landmark that should mirror this one, if there is any."""
    mark = measured.sheet.vocabulary.landmarks[measured.landmarks[i]]
    mirrors = measured.sheet.symmetric and mark.symmetric and not turn.asymmetric[i]
    return measured.columns(mark.twin) if mirrors and mark.twin else []


def _deciding(measured: Measurement, turn: Turn, columns: list[int]) -> str:
    """Say which further drawing would tell which of some placings is wrong, if one would."""
    sheet = measured.sheet
    mark = sheet.vocabulary.landmarks[measured.landmarks[columns[0]]]
    unit = measured.figure_height * measured.sizes
    yaw = deciding_yaw(
        turn.yaw,
        (measured.sd / unit[:, None]).T[columns],
        (turn.drift / unit[:, None]).T[columns],
        (turn.suspects & turn.measurable).T[columns],
        len(columns) == 2 or (sheet.symmetric and mark.midline and mark.symmetric),
        _drawings(turn),
    )
    return "" if yaw is None else f"; {_drawings(turn)[yaw]} would decide"


def _drawings(turn: Turn) -> dict[float, str]:
    """Return what drawings might be made, by yaw, those from the side that is drawn first."""
    way = -1.0 if np.sin(np.radians(turn.yaw)).sum() < 0.0 else 1.0
    names = {45.0: "three-quarter", 135.0: "back three-quarter", 90.0: "side"}
    there = {way * yaw: f"a {name} drawing" for yaw, name in names.items()}
    return there | {-yaw: f"{name} from the other side" for yaw, name in there.items()}


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

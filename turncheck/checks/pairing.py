"""`pairing`: whether left and right mirror each other in the front and back drawings."""

import math
from collections.abc import Iterator
from itertools import chain

import numpy as np

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import compare_levels, within_view
from turncheck.checks.finding import NOTHING, Finding, Kind, Subject, not_measured
from turncheck.checks.note import ViewName, noted
from turncheck.checks.posing import without_posed
from turncheck.geometry.measurement import Measurement
from turncheck.numerics.robust import TUKEY_C, biweights, robust_centre
from turncheck.sheet.vocabulary import Landmark


def find_pairing_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield, in front and back, how far pairs and midline landmarks lie from the midline."""
    if not measured.sheet.symmetric:
        yield not_measured(CHECK.name, "", NOTHING, "the sheet says that the body is not symmetric")
        return
    views = measured.straight_on
    if not views:
        yield not_measured(CHECK.name, "", NOTHING, "there is no front or back drawing")
    rows = chain.from_iterable(_one_view(measured, v, tolerances) for v in views)
    yield from without_posed(measured, CHECK.name, rows)


def _one_view(measured: Measurement, v: int, tolerances: Tolerances) -> Iterator[Finding]:
    view, vocabulary = measured.views[v], measured.sheet.vocabulary
    midline_marks = [(mark,) for mark in vocabulary.landmarks.values() if mark.midline]
    groups = [
        marks
        for marks in (*vocabulary.pairs(), *midline_marks)
        if all(mark.symmetric for mark in marks) and _placed(measured, v, marks)
    ]
    if len(groups) < 2:
        reason = noted("too few pairs are placed on {}", ViewName(view))
        yield not_measured(CHECK.name, view, NOTHING, reason)
        return
    columns = [measured.columns(*(mark.name for mark in group)) for group in groups]
    leans, leans_sd = np.array([_lean(measured, v, c) for c in columns]).T
    middles = np.array([measured.x[v, c].mean() for c in columns]) - leans
    sds = np.array([math.sqrt(float(np.sum(measured.sd[v, c] ** 2))) / len(c) for c in columns])
    sds = np.hypot(sds, leans_sd)
    midline, midline_sd = robust_centre(middles, sds)
    # a middle is itself part of the midline, by so much: that share of its error can't show
    own = biweights((middles - midline) / sds, TUKEY_C)
    drifts_sd = np.sqrt(np.maximum(sds**2 + (1.0 - 2.0 * own) * midline_sd**2, 0.0))
    for group, middle, sd in zip(groups, middles, drifts_sd, strict=True):
        names = tuple(mark.name for mark in group)
        yield within_view(
            measured,
            CHECK.name,
            v,
            Subject(Kind.MIDDLE, "/".join(names), names, sideways=True),
            float(middle - midline),
            float(sd),
            tolerances.of(*names),
        )
        if len(names) == 2 and group[0].kind == "height":
            yield compare_levels(measured, CHECK.name, v, *names, tolerances.of(*names))


def _lean(measured: Measurement, v: int, columns: list[int]) -> tuple[float, float]:
    """Return how far the solved turn moves a middle off the midline, px, and its uncertainty.

    Of a drawing that is not quite straight on, a point lies aside by its depth times the sine. What
    has no known depth may lie anywhere within the body's.
    """
    turn = measured.turn
    if not turn or not turn.yaw_solved[v]:
        return 0.0, 0.0
    at, at_sd, size = math.radians(turn.yaw[v]), math.radians(turn.yaw_sd[v]), measured.size(v)
    depth = float(turn.z[columns].mean())
    deep = [len(turn.x) + c for c in columns]
    depth_sd = math.sqrt(float(turn.covariance[np.ix_(deep, deep)].mean()))
    if math.isnan(depth):
        known = turn.z[np.isfinite(turn.z)]
        depth, depth_sd = 0.0, float(known.std()) if len(known) else 0.0
    sd = math.hypot(math.sin(at) * depth_sd, math.cos(at) * depth * at_sd)
    return size * math.sin(at) * depth, size * sd


def _placed(measured: Measurement, v: int, marks: tuple[Landmark, ...]) -> bool:
    columns = measured.columns(*(mark.name for mark in marks))
    return len(columns) == len(marks) and bool(np.isfinite(measured.x[v, columns]).all())


CHECK = Check(
    name="pairing",
    title="Left and right",
    order=60,
    unit="pct_height",
    tolerance=1.0,
    judges=("width",),
    measures="in front and back, how far the middle of each left and right pair lies from the "
    "midline",
    why="a figure that leans or is wider on one side can't be flipped",
    mend="move the pair sideways, or the one of the two that is off",
    run=find_pairing_drift,
)

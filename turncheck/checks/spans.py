"""Ratios of spans: vertical ones, which a turn does not change, or true lengths.

A true length adds to a view's own heights how far the two ends lie apart seen from above, which
the solved turn gives for all views at once.
"""

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

import numpy as np

from turncheck.checks.comparing import compare_values, judged_as_placed
from turncheck.checks.finding import Finding, Subject
from turncheck.checks.note import LandmarkName, Note, ViewName, joined, noted
from turncheck.geometry.measurement import Measurement

#: A span shorter than this, in % of the figure height, is too level for its ratio to say
#: anything; common practice, no source.
LEAST_SPAN = 3.0

Span = tuple[tuple[str, ...], tuple[str, ...]]


def compare_ratios(
    measured: Measurement,
    check: str,
    subject: Subject,
    of: Span,
    to: Span,
    tolerance: float,
    plan: tuple[float, float] = (0.0, 0.0),
) -> Iterator[Finding]:
    """Compare the ratio of two spans across views.

    Parameters
    ----------
    of, to
        Each from one line to another; a line is the mean height of its landmarks.
    tolerance
        % of the ratio.
    plan
        How far the ends of each lie apart seen from above, base px; 0 for vertical spans. All
        views share it, so that its own uncertainty does not set one against another.
    """
    names = list(dict.fromkeys(name for span in (of, to) for line in span for name in line))
    each = [_ratio(measured, v, (of, to), plan) for v in range(len(measured.views))]
    ratios, sds = (np.array([one[i] for one in each]) for i in (0, 1))
    reasons = [reason for _, _, reason in each]
    shared = Finding(
        check,
        "",
        replace(subject, landmarks=tuple(name for name in names if name in measured.landmarks)),
        tolerance_pct=tolerance,
        unit="pct_ratio",
    )
    covariance = np.diag(sds**2)
    yield from compare_values(
        measured,
        shared,
        ratios,
        covariance,
        reasons,
        measured.reference,
        judged=partial(judged_as_placed, measured),
    )


def plan_distance(measured: Measurement, start: str, end: str) -> float:
    """Return how far two landmarks lie apart seen from above, base px; 0 where not known."""
    turn = measured.turn
    columns = measured.columns(start, end)
    if not turn or len(columns) < 2:
        return 0.0
    apart = float(
        np.hypot(*(values[columns[1]] - values[columns[0]] for values in (turn.x, turn.z)))
    )
    return apart if math.isfinite(apart) else 0.0


def _ratio(
    measured: Measurement, v: int, spans: tuple[Span, Span], plan: tuple[float, float]
) -> tuple[float, float, Note]:
    """Return one view's ratio, its standard uncertainty, and why it can't be measured."""
    view = measured.views[v]
    lengths, gradients = [], []
    for span, apart in zip(spans, plan, strict=True):
        rise, gradient = 0.0, np.zeros(len(measured.landmarks))
        for line, sign in zip(span, (-1.0, 1.0), strict=True):
            columns = [c for c in measured.columns(*line) if np.isfinite(measured.y[v, c])]
            if not columns:
                ends = joined(map(LandmarkName, line), " or ")
                return math.nan, math.nan, noted("{} is not placed on {}", ends, ViewName(view))
            rise += sign * float(measured.y[v, columns].mean())
            gradient[columns] += sign / len(columns)
        # how a limb leans is no part of its length, but says which way a level one goes by chance
        length = math.hypot(rise, apart * measured.size(v)) if apart else rise
        if abs(length) < LEAST_SPAN / 100.0 * measured.figure_height * measured.size(v):
            start, end = (joined(map(LandmarkName, line), "/") for line in span)
            short = noted("{} to {} is too short on {} for a ratio", start, end, ViewName(view))
            return math.nan, math.nan, short
        lengths.append(length)
        gradients.append(gradient * rise / length)
    ratio = lengths[0] / lengths[1]
    moves = (gradients[0] - ratio * gradients[1]) / lengths[1] * measured.sd[v]
    return ratio, math.sqrt(np.nansum(moves**2)), Note()

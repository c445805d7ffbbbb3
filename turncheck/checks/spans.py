"""Ratios of vertical spans, which a turn of the body does not change."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from turncheck.checks.comparing import compare_values
from turncheck.findings import Finding
from turncheck.measuring import Measured

#: A span shorter than this, in % of the figure height, is too level for its ratio to say
#: anything; common practice, no source.
LEAST_SPAN = 3.0

Span = tuple[list[str], list[str]]


def compare_ratios(
    measured: Measured, check: str, subject: str, of: Span, to: Span, tolerance: float
) -> Iterator[Finding]:
    """Compare the ratio of two vertical spans across views.

    Parameters
    ----------
    of, to
        Each from one line to another; a line is the mean height of its landmarks.
    tolerance
        % of the ratio.
    """
    names = list(dict.fromkeys(name for span in (of, to) for line in span for name in line))
    ratios, sds, reasons = [], [], []
    for v in range(len(measured.views)):
        ratio, sd, reason = _ratio(measured, v, of, to)
        ratios.append(ratio)
        sds.append(sd)
        reasons.append(reason)
    shared = Finding(
        check,
        "",
        subject,
        tolerance_pct=tolerance,
        unit="pct_ratio",
        landmarks=" ".join(name for name in names if name in measured.landmarks),
    )
    yield from compare_values(measured, shared, np.array(ratios), np.array(sds), reasons)


def _ratio(measured: Measured, v: int, of: Span, to: Span) -> tuple[float, float, str]:
    """Return one view's ratio, its standard uncertainty, and why it can't be measured."""
    view = measured.views[v]
    lengths = []
    gradients: list[dict[int, float]] = []
    for span in (of, to):
        length, gradient = 0.0, dict[int, float]()
        for line, sign in zip(span, (-1.0, 1.0), strict=True):
            columns = [c for c in measured.columns(*line) if np.isfinite(measured.y[v, c])]
            if not columns:
                return math.nan, math.nan, f"{' or '.join(line)} is not placed on {view}"
            length += sign * float(measured.y[v, columns].mean())
            for c in columns:
                gradient[c] = gradient.get(c, 0.0) + sign / len(columns)
        if abs(length) < LEAST_SPAN / 100.0 * measured.figure_height * measured.size(v):
            ends = " to ".join("/".join(line) for line in span)
            return math.nan, math.nan, f"{ends} is too level on {view} for a ratio of heights"
        lengths.append(length)
        gradients.append(gradient)
    ratio = lengths[0] / lengths[1]
    variance = sum(
        (
            (gradients[0].get(c, 0.0) - ratio * gradients[1].get(c, 0.0))
            / lengths[1]
            * measured.sd[v, c]
        )
        ** 2
        for c in {*gradients[0], *gradients[1]}
    )
    return ratio, math.sqrt(variance), ""

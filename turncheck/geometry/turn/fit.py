"""The solution: named placings left out, symmetry held as firmly as the drawings hold it."""

from dataclasses import dataclass

import numpy as np

from turncheck.geometry.turn.diagnosis import explain_all, solve_local, without
from turncheck.geometry.turn.misreading import Reading, read_views
from turncheck.geometry.turn.rows import (
    Bools,
    Floats,
    Frame,
    Linear,
    Reduced,
    Rows,
    State,
    linearise,
    reduce,
    step,
)


@dataclass(frozen=True)
class Fit:
    """A robust solution.

    Attributes
    ----------
    state : State
    reading : Reading
    weight : (G, R) array
        What each row counts, 0 for placings left out.
    dropped, suspects : (G, R) bool arrays
        As in `turncheck.geometry.turn.diagnosis`.
    """

    state: State
    reading: Reading
    weight: Floats
    dropped: Bools
    suspects: Bools


def held_axes(yaw: Floats, usable: Bools, symmetric: bool) -> list[int]:
    """Choose views whose axis is held, because moving the body moves all axes and fits as well.

    The body is held in depth by the view that is most from the side; without symmetry also in
    width, by the view that is most across it.
    """
    sin = np.where(usable, np.sin(yaw), 0.0)
    if symmetric:
        return [int(np.abs(sin).argmax())]
    cross = np.where(np.outer(usable, usable), np.abs(np.sin(yaw[:, None] - yaw)), 0.0)
    return [int(v) for v in np.unravel_index(cross.argmax(), cross.shape)]


SYMMETRY_TUKEY = 3.0
"""Tukey's constant for symmetry, tighter than for placings: a pose is meant, not an error."""

SYMMETRY_BELIEF = 6.0
"""The stated symmetry counts as so many observed rows when the drawings' own is estimated."""

TUKEY_SHRINK = 0.611
"""Weighted mean square of two normal deviates under `SYMMETRY_TUKEY`, by integration."""

LOOSENESS = (0.7, 2.0)
"""How far the drawings' own symmetry may depart from the stated one, as a factor."""


COARSE = 0.1
"""Figure heights: a placing left out still says this roughly where its landmark is.

Without it a landmark that only one line of sight keeps could wander anywhere, and its made-up
depth would pass for knowledge of the yaw.
"""


def _grip(misfit: Floats, loose: float) -> Floats:
    """Let a group's symmetry go as its two rows together depart from it; (G,)."""
    ratio = np.hypot(misfit[:, -2], misfit[:, -1]) / (SYMMETRY_TUKEY * loose)
    return np.asarray((1.0 - np.minimum(ratio, 1.0) ** 2) ** 2, dtype=float)


def _looseness(
    linear: Linear, reduced: Reduced, weight: Floats, kept: Floats, loose: float
) -> float:
    """Estimate the drawings' own symmetry, as a factor on the stated standard deviation.

    One step of expectation and maximisation: the square of each kept row's misfit plus its
    variance, averaged with Tukey's weights and the stated value.
    """
    local = solve_local(linear, without(reduced), weight)
    square = linear.misfit[:, -2:] ** 2 / TUKEY_SHRINK + local.leverage[:, -2:]
    share = kept[:, -2:] * _grip(linear.misfit, loose)[:, None]
    mean = (SYMMETRY_BELIEF + (share * square).sum()) / (SYMMETRY_BELIEF + share.sum())
    return float(np.clip(np.sqrt(mean), *LOOSENESS))


def fit_turn(rows: Rows, frame: Frame) -> Fit:
    """Solve robustly, name what does not fit, and solve again without it.

    Parameters
    ----------
    rows : Rows
    frame : Frame

    Returns
    -------
    Fit
    """
    reading = read_views(rows, frame)
    state, weight, frame, live = reading.found.state, reading.found.weight, reading.frame, rows.live
    coarse = np.zeros(live.shape)
    coarse[:, :-2] = live[:, :-2] * (rows.sd.reshape(len(rows.sd), -1) / COARSE) ** 2
    loose, kept = 1.0, np.where(weight > 0.25, live, coarse)
    for _ in range(8):
        linear = linearise(rows, state, frame)
        reduced = reduce(linear, weight, frame.prior(state))
        known, loose = loose, _looseness(linear, reduced, weight, kept, loose)
        before = kept
        trust = live.copy()
        trust[:, -2:] /= loose**2
        dropped, suspects = explain_all(linear, reduced, trust)
        kept = np.where(dropped | suspects, coarse, live)
        for _ in range(8):
            weight = kept.copy()
            weight[:, -2:] *= _grip(linear.misfit, loose)[:, None] / loose**2
            state, size = step(rows, state, frame, weight)
            linear = linearise(rows, state, frame)
            if size < 1e-7:
                break
        if np.array_equal(kept, before) and abs(loose / known - 1.0) < 0.05:
            break
    return Fit(state, reading, weight, dropped, suspects)

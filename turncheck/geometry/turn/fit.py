"""The solution: named placings left out, symmetry held as firmly as the drawings hold it."""

from dataclasses import dataclass

import numpy as np

from turncheck.geometry.turn.adjustment import (
    Equations,
    Frame,
    NormalEquations,
    Observations,
    State,
    gauss_newton_step,
    normal_equations,
    observation_equations,
)
from turncheck.geometry.turn.diagnosis import explain_all, solve_local
from turncheck.geometry.turn.misreading import Elsewhere, read_views
from turncheck.geometry.turn.robust_start import WEIGHT_LEAST
from turncheck.numerics.arrays import Bools, Floats
from turncheck.numerics.robust import biweights

#: Tukey's constant for symmetry, tighter than for placings: a pose is meant, not an error.
SYMMETRY_TUKEY_C = 3.0

#: The stated symmetry counts as so many observations when the drawings' own is estimated.
SYMMETRY_BELIEF = 6.0

#: Weighted mean square of two normal deviates under `SYMMETRY_TUKEY_C`, by integration.
SYMMETRY_TUKEY_SHRINK = 0.611

#: How far the drawings' own symmetry may depart from the stated one, as a factor.
SYMMETRY_LOOSENESS = (0.7, 2.0)

#: Figure heights: a placing left out still says this roughly where its landmark is. Without it a
#: landmark that only one line of sight keeps could wander anywhere, and its made-up depth would
#: pass for knowledge of the yaw.
PLACING_COARSE_SD = 0.1


@dataclass(frozen=True)
class Fit:
    """A robust solution.

    Attributes
    ----------
    frame
        With the yaws expected of the views as they are read.
    elsewhere
        As of `read_views`.
    equations, normal
        At `state`, and under `weight`.
    weight
        (G, R) what each observation counts, nearly 0 for placings left out.
    loose
        The drawings' own symmetry, as a factor on the stated standard deviation.
    dropped, suspects, certain
        (G, R) as of `explain_all`.
    """

    state: State
    frame: Frame
    elsewhere: Elsewhere
    equations: Equations
    normal: NormalEquations
    weight: Floats
    loose: float
    dropped: Bools
    suspects: Bools
    certain: Bools

    @property
    def point_cov(self) -> Floats:
        """(G, 4, 4) how each group's unknowns vary on their own."""
        info = self.equations.weighed(self.weight)[:, :4, :4]
        return np.asarray(np.linalg.inv(info), dtype=float)


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


def _grip(residual: Floats, loose: float) -> Floats:
    """Let a group's symmetry go as its two equations together depart from it; (G,)."""
    departure = np.hypot(residual[:, -2], residual[:, -1])
    return biweights(departure, SYMMETRY_TUKEY_C * loose)


def _looseness(
    equations: Equations, others: Floats, weight: Floats, kept: Floats, loose: float
) -> float:
    """Estimate the drawings' own symmetry, as a factor on the stated standard deviation.

    One step of expectation and maximisation: the square of each kept residual plus its
    variance, averaged with Tukey's weights and the stated value.
    """
    _, leverage = solve_local(equations, others, weight)
    square = equations.residual[:, -2:] ** 2 / SYMMETRY_TUKEY_SHRINK + leverage[:, -2:]
    share = kept[:, -2:] * _grip(equations.residual, loose)[:, None]
    mean = (SYMMETRY_BELIEF + (share * square).sum()) / (SYMMETRY_BELIEF + share.sum())
    return float(np.clip(np.sqrt(mean), *SYMMETRY_LOOSENESS))


def fit_turn(observed: Observations, frame: Frame) -> Fit:
    """Solve robustly, name what does not fit, and solve again without it."""
    found, frame, elsewhere = read_views(observed, frame)
    state, weight, live = found.state, found.weight, observed.live
    coarse = np.zeros(live.shape)
    sd = observed.sd.reshape(len(live), -1)
    coarse[:, :-2] = live[:, :-2] * (sd / PLACING_COARSE_SD) ** 2
    loose, kept = SYMMETRY_LOOSENESS[1], np.where(weight > WEIGHT_LEAST, live, coarse)
    equations = observation_equations(observed, state, frame)
    normal = normal_equations(equations, weight, state, frame)
    for _ in range(8):
        known, loose = loose, _looseness(equations, normal.others, weight, kept, loose)
        before = kept
        trust = live.copy()
        trust[:, -2:] /= loose**2
        dropped, suspects, certain = explain_all(equations, normal.others, trust)
        kept = np.where(dropped | suspects, coarse, live)
        for _ in range(8):
            weight = kept.copy()
            weight[:, -2:] *= _grip(equations.residual, loose)[:, None] / loose**2
            state, size = gauss_newton_step(equations, weight, state, frame)
            equations = observation_equations(observed, state, frame)
            if size < 1e-7:
                break
        normal = normal_equations(equations, weight, state, frame)
        if np.array_equal(kept, before) and abs(loose / known - 1.0) < 0.05:
            break
    return Fit(
        state, frame, elsewhere, equations, normal, weight, loose, dropped, suspects, certain
    )

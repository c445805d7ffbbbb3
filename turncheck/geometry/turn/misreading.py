"""Drawings read the wrong way round: mirrored, or with left and right names exchanged."""

import math
from dataclasses import replace

import numpy as np

from turncheck.geometry.turn.adjustment import Frame, Observations
from turncheck.geometry.turn.robust_start import RobustStart, best_start, disagreeing, robust_start
from turncheck.geometry.turn.turn import Misreading
from turncheck.numerics.arrays import Floats

#: Radians: a yaw this far from its nominal value is no careless drawing but a misreading of it.
YAW_FAR_OFF = float(np.radians(30.0))

#: Share of a view's placings without weight from which on misreadings are tried.
VIEW_DISAGREEING_SHARE = 0.4

#: Chi-square a misreading must gain before it is believed: 3.5 standard uncertainties.
CHI_SQUARE_MISREADING = 12.0

#: Figure heights by which a nose lies ahead of a neck at the least; common practice, no source.
AHEAD_LEAST = 0.02

#: A drawing at yaw θ, misread, fits at this minus θ.
YAW_SUMS = {Misreading.MIRRORED: 0.0, Misreading.SWAPPED: np.pi}


def misread_yaw(nominal: float, misreading: Misreading) -> float:
    """Give the yaw, radians, within half a turn of the nominal one, at which a misreading fits.

    Examples
    --------
    A mirrored three-quarter view fits at -45 degrees, one with exchanged names at 135.

    >>> [round(float(np.degrees(misread_yaw(np.radians(45.0), how)))) for how in YAW_SUMS]
    [-45, 135]
    """
    # not `wrapped`: half a turn must keep its sign, or a back view would fit at 360 degrees
    return nominal + math.remainder(YAW_SUMS[misreading] - 2.0 * nominal, math.tau)


def read_views(
    observed: Observations, frame: Frame
) -> tuple[RobustStart, Frame, tuple[Misreading, ...], tuple[Misreading, ...]]:
    """Solve from the nominal yaws, and where that fails try each view mirrored or swapped.

    Misreadings that fit equally well differ only in which drawing is taken at its word: two
    drawings that face opposite ways are a body that faces forward, or one that faces backward. Of
    those the ones that face forward are kept where that can be told; of these the one that turns a
    view the least is chosen and the others are given as rivals.

    Returns
    -------
    found, frame
        The solution, and the frame with the yaws now expected.
    misreading, rival
        (V,) how a view is misread, and how it may be instead where that fits as well.
    """
    nominal = frame.centre
    best = best_start(observed, frame)
    misreading, rival = ([Misreading.NONE] * len(nominal) for _ in range(2))
    while _odd(observed, best, frame) and Misreading.NONE in misreading:
        trials: list[tuple[float, Misreading, int, Frame, RobustStart]] = []
        for v in np.flatnonzero(observed.busy):
            for how in YAW_SUMS:
                yaw = frame.centre.copy()
                yaw[v] = misread_yaw(float(nominal[v]), how)
                turned = abs(float(yaw[v] - nominal[v]))
                if not misreading[v] and turned > YAW_FAR_OFF:
                    other = replace(frame, centre=yaw)
                    trials.append((turned, how, int(v), other, robust_start(observed, yaw, other)))
        least = min((trial[-1].cost for trial in trials), default=np.inf)
        most = min(least, best.cost) + CHI_SQUARE_MISREADING
        good = [trial for trial in trials if trial[-1].cost < most]
        forward = [trial for trial in good if facing(observed, trial[-1]) > 0.0]
        turns_round = bool(forward) and facing(observed, best) < 0.0
        if least > best.cost - CHI_SQUARE_MISREADING and not turns_round:
            break
        good = sorted(forward or good, key=lambda trial: trial[:3])
        _, how, view, frame, _ = good[0]
        best = best_start(observed, frame)
        misreading[view] = how
        for _, how, other_view, _, _ in good[1:]:
            if other_view != view:
                rival[other_view] = how
    return best, frame, _strayed(best.state.yaw, nominal, misreading), tuple(rival)


def facing(observed: Observations, found: RobustStart) -> float:
    """Say which way the body faces: 1 forward, -1 backward, 0 where the landmarks don't tell."""
    size = observed.landmarks + 1  # the last is nobody's, for groups of one
    depth, seen = np.zeros(size), np.zeros(size, bool)
    depth[observed.members] = found.state.points[:, 1::2]
    seen[observed.members] = observed.seen.sum(axis=2) > 1
    apart = [depth[one] - depth[other] for one, other in observed.ahead if seen[[one, other]].all()]
    told = bool(apart) and abs(float(np.mean(apart))) > AHEAD_LEAST
    return float(np.sign(np.mean(apart))) if told else 0.0


def _odd(observed: Observations, found: RobustStart, frame: Frame) -> bool:
    """Whether a view went far from where it was expected, or much of one does not fit."""
    share = disagreeing(observed, found) / np.maximum(observed.seen.sum(axis=(0, 1)), 1)
    strayed = np.abs(found.state.yaw - frame.centre) > YAW_FAR_OFF
    return bool(strayed.any() or (share > VIEW_DISAGREEING_SHARE).any())


def _strayed(yaw: Floats, nominal: Floats, misreading: list[Misreading]) -> tuple[Misreading, ...]:
    """Add the misreadings that views strayed to by themselves."""
    found = list(misreading)
    for v in np.flatnonzero(np.abs(yaw - nominal) > YAW_FAR_OFF):
        gaps = {how: abs(misread_yaw(float(nominal[v]), how) - yaw[v]) for how in YAW_SUMS}
        nearest = min(gaps, key=lambda how: gaps[how])
        if not found[v] and gaps[nearest] < YAW_FAR_OFF:
            found[v] = nearest
    return tuple(found)

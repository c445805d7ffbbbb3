"""Drawings read the wrong way round: mirrored, with left and right names exchanged, or both."""

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import chain

import numpy as np

from turncheck.geometry.turn.adjustment import Frame, Observations
from turncheck.geometry.turn.robust_start import RobustStart, best_start, disagreeing, robust_start
from turncheck.geometry.turn.turn import Misreading, Reading
from turncheck.numerics.arrays import Floats

#: Radians: a yaw this far from its nominal value is no careless drawing but a misreading of it.
YAW_FAR_OFF = float(np.radians(30.0))

#: Share of a view's placings without weight from which on misreadings are tried.
VIEW_DISAGREEING_SHARE = 0.4

#: Chi-square a misreading must gain before it is believed: 3.5 standard uncertainties.
CHI_SQUARE_MISREADING = 12.0

#: Figure heights by which a nose lies ahead of a neck at the least; common practice, no source.
AHEAD_LEAST = 0.02

#: Sine of a yaw from which on one side of the body is the far one; common practice, no source.
FAR_SINE_LEAST = 0.3

#: A drawing at yaw θ, misread, fits at the first plus the second times θ.
YAW_CHANGES = {
    Misreading.NONE: (0.0, 1.0),
    Misreading.MIRRORED: (0.0, -1.0),
    Misreading.SWAPPED: (np.pi, -1.0),
    Misreading.BOTH: (np.pi, 1.0),
}

Elsewhere = Mapping[int, tuple[tuple[int, float], ...]]
"""By misread view: the views, and their yaws, of which one misread explains as much."""


def misread_yaw(yaw: float, how: Misreading, near: float) -> float:
    """Give the yaw, radians within half a turn of `near`, at which a misread drawing fits.

    Each is its own inverse: from where a drawing fits this gives where it was drawn.

    Examples
    --------
    A mirrored three-quarter view fits at -45 degrees, one with exchanged names at 135, both at 225.

    >>> at = np.radians(45.0)
    >>> [round(float(np.degrees(misread_yaw(at, how, at)))) for how in YAW_CHANGES]
    [45, -45, 135, 225]
    """
    offset, sign = YAW_CHANGES[how]
    # not `wrapped`: half a turn must keep its sign, or a back view would fit at 360 degrees
    return near + math.remainder(offset + sign * yaw - near, math.tau)


def readings(reads: float, nominal: float, far: float) -> list[tuple[Misreading, float]]:
    """Return how a drawing that fits at a yaw may be read, the least turned first.

    Parameters
    ----------
    reads, nominal
        Where it fits and where it should, radians.
    far
        1 where the left ones of its pairs are hidden, -1 where the right ones are, else 0. What
        they contradict is left out, unless they contradict all.

    Returns
    -------
    list of (Misreading, float)
        Each with the yaw, radians, that it was really drawn at.

    Examples
    --------
    Where a side view fits at 96 degrees it was drawn so, or at 84 with the names exchanged.

    >>> [how.value for how, _ in readings(np.radians(96.0), np.radians(90.0), 0.0)]
    ['', 'swapped']
    >>> [how.value for how, _ in readings(np.radians(96.0), np.radians(90.0), -1.0)]
    ['swapped']
    """
    drawn = [(how, misread_yaw(reads, how, nominal)) for how in YAW_CHANGES]
    near = [(how, yaw) for how, yaw in drawn if abs(yaw - nominal) < YAW_FAR_OFF]
    if near and near[0][0] is Misreading.NONE:
        # of a symmetric body a front view's mirror image is a front view
        near = [one for one in near if one[0] is not Misreading.MIRRORED]
    told = [one for one in near if not _contradicts(one[0], reads, far)]
    return sorted(told or near, key=lambda one: round(abs(one[1] - nominal), 6))


def _contradicts(how: Misreading, reads: float, far: float) -> bool:
    """Whether the hidden points of a drawing are of its near side, read this way."""
    sine = math.sin(reads) * (-1.0 if how.exchanges_names else 1.0)
    return abs(sine) > FAR_SINE_LEAST and far * sine < 0.0


def read_views(observed: Observations, frame: Frame) -> tuple[RobustStart, Frame, Elsewhere]:
    """Solve from the nominal yaws, and where that fails try each view misread.

    Misreadings that fit equally well differ only in which drawing is taken at its word: two
    drawings that face opposite ways are a body that faces forward, or one that faces backward. Of
    those the ones that face forward, and of these the ones whose hidden points are on the far side,
    are kept where that can be told; of the rest the one that turns a view the least is chosen.

    Returns
    -------
    found, frame
        The solution, and the frame with the yaws now expected.
    elsewhere
        The views that may be misread instead.
    """
    nominal = frame.centre
    best = best_start(observed, frame)
    elsewhere: dict[int, tuple[tuple[int, float], ...]] = {}
    while _odd(observed, best, frame) and len(elsewhere) < len(nominal):
        ways = [
            (int(v), yaw)
            for v in np.flatnonzero(observed.busy)
            if v not in elsewhere
            for yaw in _misread_yaws(float(nominal[v]))
        ]
        centres = np.repeat(frame.centre[None], len(ways), axis=0)
        for n, (v, yaw) in enumerate(ways):
            centres[n, v] = yaw
        starts = robust_start(observed, centres, replace(frame, centre=centres))
        trials = [
            (abs(yaw - float(nominal[v])), v, centres[n], starts.one(n))
            for n, (v, yaw) in enumerate(ways)
        ]
        least = starts.cost.min(initial=np.inf)
        most = min(least, best.cost) + CHI_SQUARE_MISREADING
        good = [trial for trial in trials if trial[-1].cost < most]
        forward = [trial for trial in good if facing(observed, trial[-1]) > 0.0]
        turns_round = bool(forward) and facing(observed, best) < 0.0
        if least > best.cost - CHI_SQUARE_MISREADING and not turns_round:
            break
        against = [_contradictions(observed, one[-1], nominal) for one in forward or good]
        pairs = zip(forward or good, against, strict=True)
        good = sorted((one for one, n in pairs if n == min(against)), key=lambda one: one[:2])
        _, view, centre, _ = good[0]
        frame = replace(frame, centre=centre)
        best = best_start(observed, frame)
        elsewhere[view] = tuple(
            (v, float(start.state.yaw[v])) for _, v, _, start in good[1:] if v != view
        )
    return best, frame, elsewhere


def _misread_yaws(nominal: float) -> list[float]:
    """Return the yaws, far from the nominal one and each other, at which a misread view fits."""
    found: list[float] = []
    for how in YAW_CHANGES:
        yaw = misread_yaw(nominal, how, nominal)
        others = [nominal, *found]
        if all(abs(math.remainder(yaw - other, math.tau)) > YAW_FAR_OFF for other in others):
            found.append(yaw)
    return found


def name_readings(
    far: Floats, yaw: Floats, nominal: Floats, elsewhere: Elsewhere
) -> tuple[tuple[Reading, ...], ...]:
    """Return (V,) how each view is read, and what else would explain the drawings as well.

    Parameters
    ----------
    far
        (V,) as of `readings`.
    yaw, nominal
        (V,) solved and nominal, radians.
    """

    def of(v: int, fits: float) -> list[Reading]:
        ways = readings(fits, float(nominal[v]), float(far[v])) or [(Misreading.NONE, fits)]
        return [Reading(v, how, math.degrees(fits), math.degrees(drawn)) for how, drawn in ways]

    return tuple(
        (*of(v, float(fits)), *chain.from_iterable(of(*one) for one in elsewhere.get(v, ())))
        for v, fits in enumerate(yaw)
    )


def facing(observed: Observations, found: RobustStart) -> float:
    """Say which way the body faces: 1 forward, -1 backward, 0 where the landmarks don't tell."""
    size = observed.landmarks + 1  # the last is nobody's, for groups of one
    depth, seen = np.zeros(size), np.zeros(size, bool)
    depth[observed.members] = found.state.points[:, 1::2]
    seen[observed.members] = observed.seen.sum(axis=2) > 1
    apart = [depth[one] - depth[other] for one, other in observed.ahead if seen[[one, other]].all()]
    told = bool(apart) and abs(float(np.mean(apart))) > AHEAD_LEAST
    return float(np.sign(np.mean(apart))) if told else 0.0


def _contradictions(observed: Observations, found: RobustStart, nominal: Floats) -> int:
    """Count the views whose hidden points are on the near side, however they are read."""
    views = zip(found.state.yaw, nominal, observed.far, strict=True)
    return sum(
        all(_contradicts(how, float(yaw), float(far)) for how, _ in readings(yaw, asked, far))
        for yaw, asked, far in views
        if far
    )


def _odd(observed: Observations, found: RobustStart, frame: Frame) -> bool:
    """Whether a view went far from where it was expected, or much of one does not fit."""
    share = disagreeing(observed, found) / np.maximum(observed.seen.sum(axis=(0, 1)), 1)
    strayed = np.abs(found.state.yaw - frame.centre) > YAW_FAR_OFF
    return bool(strayed.any() or (share > VIEW_DISAGREEING_SHARE).any())

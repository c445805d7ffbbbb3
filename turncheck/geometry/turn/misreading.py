"""Drawings read the wrong way round: mirrored, or with left and right names exchanged."""

from dataclasses import dataclass, replace

import numpy as np

from turncheck.geometry.turn.robust_start import Annealed, anneal, disagreeing, search
from turncheck.geometry.turn.rows import Floats, Frame, Rows

FAR_OFF = float(np.radians(30.0))
"""A yaw this far from its nominal value is no careless drawing but another reading of it."""

MOST_DISAGREEING = 0.4
"""Share of a view's placings without weight from which on other readings are tried."""

MARGIN = 12.0
"""Chi-square another reading must gain before it is believed: 3.5 standard uncertainties."""

LEAST_AHEAD = 0.02
"""Figure heights by which a nose lies ahead of a neck at the least; common practice, no source."""

READINGS = {"mirrored": 0.0, "swapped": np.pi}
"""A drawing at yaw θ, read wrongly, fits at this minus θ."""


@dataclass(frozen=True)
class Reading:
    """How the views are best read.

    Attributes
    ----------
    found : Annealed
    frame : Frame
        With the yaws now expected.
    looks, rival : tuple of str, length V
        How a view is read: '', 'mirrored' or 'swapped'; and another reading that fits as well.
    """

    found: Annealed
    frame: Frame
    looks: tuple[str, ...]
    rival: tuple[str, ...]


def misread_yaw(nominal: float, reading: str) -> float:
    """Give the yaw, radians, within half a turn of the nominal one, at which a reading fits.

    Examples
    --------
    A mirrored three-quarter view fits at -45 degrees, one with exchanged names at 135.

    >>> [round(float(np.degrees(misread_yaw(np.radians(45.0), word)))) for word in READINGS]
    [-45, 135]
    """
    turn = READINGS[reading] - 2.0 * nominal
    return float(nominal + np.angle(np.exp(1j * turn)))


def read_views(rows: Rows, frame: Frame) -> Reading:
    """Solve from the nominal yaws, and where that fails try each view mirrored or swapped.

    Readings that fit equally well differ only in which drawing is taken at its word: two drawings
    that face opposite ways are a body that faces forward, or one that faces backward. Of those
    the ones that face forward are kept where that can be told; of these the one that turns a view
    the least is chosen and the others are given as rivals.
    """
    nominal = frame.centre
    best = search(rows, frame)
    looks, rival = [""] * len(nominal), [""] * len(nominal)
    while _odd(rows, best, frame) and "" in looks:
        trials: list[tuple[float, str, int, Frame, Annealed]] = []
        for v in np.flatnonzero(rows.busy):
            for word in READINGS:
                yaw = frame.centre.copy()
                yaw[v] = misread_yaw(float(nominal[v]), word)
                turned = abs(float(yaw[v] - nominal[v]))
                if not looks[v] and turned > FAR_OFF:
                    other = replace(frame, centre=yaw)
                    trials.append((turned, word, int(v), other, anneal(rows, yaw, other)))
        least = min((trial[-1].cost for trial in trials), default=np.inf)
        good = [trial for trial in trials if trial[-1].cost < min(least, best.cost) + MARGIN]
        forward = [trial for trial in good if facing(rows, trial[-1]) > 0.0]
        turns_round = bool(forward) and facing(rows, best) < 0.0
        if least > best.cost - MARGIN and not turns_round:
            break
        good = sorted(forward or good, key=lambda trial: trial[:3])
        _, word, view, frame, _ = good[0]
        best = search(rows, frame)
        looks[view] = word
        for _, word, other_view, _, _ in good[1:]:
            if other_view != view:
                rival[other_view] = word
    return Reading(best, frame, _name_strays(best.state.yaw, nominal, looks), tuple(rival))


def facing(rows: Rows, found: Annealed) -> float:
    """Say which way the body faces: 1 forward, -1 backward, 0 where the landmarks don't tell."""
    size = rows.members.max() + 2  # the last is nobody's, for groups of one
    depth, seen = np.zeros(size), np.zeros(size, bool)
    depth[rows.members] = found.state.points[:, 1::2]
    seen[rows.members] = rows.seen.sum(axis=2) > 1
    apart = [depth[one] - depth[other] for one, other in rows.ahead if seen[[one, other]].all()]
    told = bool(apart) and abs(float(np.mean(apart))) > LEAST_AHEAD
    return float(np.sign(np.mean(apart))) if told else 0.0


def _odd(rows: Rows, found: Annealed, frame: Frame) -> bool:
    """Whether a view went far from where it was expected, or much of one does not fit."""
    share = disagreeing(rows, found) / np.maximum(rows.seen.sum(axis=(0, 1)), 1)
    strayed = np.abs(found.state.yaw - frame.centre) > FAR_OFF
    return bool(strayed.any() or (share > MOST_DISAGREEING).any())


def _name_strays(yaw: Floats, nominal: Floats, looks: list[str]) -> tuple[str, ...]:
    """Name the views that strayed to another reading by themselves."""
    words = list(looks)
    for v in np.flatnonzero(np.abs(yaw - nominal) > FAR_OFF):
        gaps = {word: abs(misread_yaw(float(nominal[v]), word) - yaw[v]) for word in READINGS}
        nearest = min(gaps, key=lambda word: gaps[word])
        if not words[v] and gaps[nearest] < FAR_OFF:
            words[v] = nearest
    return tuple(words)

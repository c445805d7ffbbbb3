"""Where landmarks lie in the body, and how surely, from what is known of them so far.

x = c + s (X cos yaw + Z sin yaw), linear in the axes c and in X and Z once yaws and scales are
taken as given; what is placed on a drawing tells how far it is turned off its yaw. It serves
proposals only; the turn check has its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from turncheck.numerics.arrays import Floats

#: Standard uncertainty of a depth that nothing tells, in figure heights: a body on four legs may be
#: as long as it is high; common practice, no source.
DEPTH_SD = 0.5
#: Standard uncertainty of a drawing's yaw, radians: some 6°; common practice, no source.
TURN_SD = 0.1
#: Standard uncertainty of a pair's symmetry, in figure heights; common practice, no source.
MIRROR_SD = 0.01
#: Of a yaw that is taken as given.
FIXED_SD = 1e-4
#: Steps of Gauss and Newton; the turns found change by less than 0.1° after these.
STEPS = 3


@dataclass(frozen=True)
class Seen:
    """A position along x and its standard uncertainty, px of a drawing."""

    x: float
    sd: float


def solve_body(
    turns: Mapping[str, float],
    scales: Mapping[str, float],
    axes: Mapping[str, Seen],
    seen: Mapping[str, Mapping[str, Seen]],
    across_sd: Mapping[str, float],
    figure_height: float,
    base: str = "",
    pairs: Sequence[tuple[str, str]] = (),
) -> dict[str, dict[str, Seen]]:
    """Return by landmark and view where it must lie along x.

    Weighted least squares over the axes, the body and, for the views but the base, how far each is
    turned off its yaw (Gauss and Newton, each step linear).

    Parameters
    ----------
    turns
        By view, yaw in radians.
    scales
        By view, drawing px per base px.
    axes
        By view, where its axis is thought to be; views without are left out.
    seen
        By landmark and view, where it is placed, or thought to be.
    across_sd
        By landmark, how far from the midline it may lie, base px.
    figure_height
        Base px.
    base
        The view that is turned as it says.
    pairs
        Landmarks meant to mirror each other.

    Examples
    --------
    >>> import math
    >>> placed = {"nose": {"front": Seen(100.0, 1.0), "side": Seen(130.0, 1.0)}}
    >>> turns = {"front": 0.0, "side": math.pi / 2, "back": math.pi}
    >>> axes = dict.fromkeys(turns, Seen(100.0, 1.0))
    >>> solved = solve_body(turns, dict.fromkeys(turns, 1.0), axes, placed, {"nose": 1.0}, 400.0)
    >>> round(solved["nose"]["back"].x), round(solved["nose"]["side"].x)
    (100, 130)
    """
    views, names = [view for view in turns if view in axes], list(seen)
    free = len(views)  # of the unknowns: an axis a view, a turn a view, then X and Z of each
    first = 2 * free
    size = first + 2 * len(seen)
    scale, yaw = (np.array([by[view] for view in views]) for by in (scales, turns))
    prior = np.concatenate([[axes[view].x for view in views], np.zeros(size - free)])
    prior_sd = np.concatenate(
        [
            [axes[view].sd for view in views],
            [FIXED_SD if view == base else TURN_SD for view in views],
            *([across_sd[name], DEPTH_SD * figure_height] for name in names),
        ]
    )
    at = [
        (i, v, known[view])
        for i, known in enumerate(seen.values())
        for v, view in enumerate(views)
        if view in known
    ]
    which, where = (np.array([row[k] for row in at], dtype=int) for k in (0, 1))
    measured = np.array([spot.x for _, _, spot in at])
    both = [(names.index(a), names.index(b)) for a, b in pairs if a in seen and b in seen]
    mirrored = np.zeros((2 * len(both), size))
    for k, pair in enumerate(both):
        one, other = (first + 2 * i for i in pair)
        mirrored[2 * k, [one, other]] = 1.0  # as far from the midline
        mirrored[2 * k + 1, [one + 1, other + 1]] = 1.0, -1.0  # as deep
    alike_sd = np.full(len(mirrored), MIRROR_SD * figure_height)
    sds = np.concatenate([prior_sd, [spot.sd for _, _, spot in at], alike_sd])

    def model(
        solved: Floats, i: npt.NDArray[np.int_], v: npt.NDArray[np.int_]
    ) -> tuple[Floats, Floats]:
        """Return x of landmarks on views, and how it changes with each unknown."""
        angle = yaw[v] + solved[free + v]
        across, deep = solved[first + 2 * i], solved[first + 2 * i + 1]
        rows, change = np.arange(len(i)), np.zeros((len(i), size))
        cos, sin = scale[v] * np.cos(angle), scale[v] * np.sin(angle)
        change[rows, v] = 1.0
        change[rows, free + v] = deep * cos - across * sin
        change[rows, first + 2 * i], change[rows, first + 2 * i + 1] = cos, sin
        return solved[v] + across * cos + deep * sin, change

    solved = prior
    for _ in range(STEPS):
        told, change = model(solved, which, where)
        off = np.concatenate([prior - solved, measured - told, -mirrored @ solved]) / sds
        design = np.vstack([np.eye(size), change, mirrored]) / sds[:, None]
        spread = np.linalg.inv(design.T @ design)
        solved = solved + spread @ (design.T @ off)
    told, change = model(solved, *np.indices((len(names), free)).reshape(2, -1))
    sd = np.sqrt(((change @ spread) * change).sum(axis=1))
    spots = (Seen(float(x), float(unsure)) for x, unsure in zip(told, sd, strict=True))
    return {name: {view: next(spots) for view in views} for name in names}

"""Where landmarks lie in the body, and how surely, from what is known of them so far.

x = c + s (X cos yaw + Z sin yaw), linear in the axes c and in X and Z once yaws and scales are
taken as given. It serves proposals only; the turn check solves the yaws as well.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

#: Standard uncertainty of a depth that nothing tells, in figure heights: a body on four legs may be
#: as long as it is high; common practice, no source.
DEPTH_SD = 0.5


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
) -> dict[str, dict[str, Seen]]:
    """Return by landmark and view where it must lie along x, by weighted linear least squares.

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

    Examples
    --------
    >>> placed = {"nose": {"front": Seen(100.0, 1.0), "side": Seen(130.0, 1.0)}}
    >>> turns = {"front": 0.0, "side": math.pi / 2, "back": math.pi}
    >>> axes = dict.fromkeys(turns, Seen(100.0, 1.0))
    >>> solved = solve_body(turns, dict.fromkeys(turns, 1.0), axes, placed, {"nose": 1.0}, 400.0)
    >>> round(solved["nose"]["back"].x), round(solved["nose"]["side"].x)
    (100, 130)
    """
    views = [view for view in turns if view in axes]
    first = len(views)  # of the unknowns: an axis a view, then X and Z of each landmark
    size = first + 2 * len(seen)

    def row(view: str, i: int) -> np.ndarray:
        made = np.zeros(size)
        made[views.index(view)] = 1.0
        made[first + 2 * i] = scales[view] * math.cos(turns[view])
        made[first + 2 * i + 1] = scales[view] * math.sin(turns[view])
        return made

    rows, values, sds = list(np.eye(size)), [axes[view].x for view in views], []
    sds = [axes[view].sd for view in views]
    for name in seen:
        values += [0.0, 0.0]
        sds += [across_sd[name], DEPTH_SD * figure_height]
    for i, known in enumerate(seen.values()):
        for view in set(views) & set(known):
            rows.append(row(view, i))
            values.append(known[view].x)
            sds.append(known[view].sd)
    weight = 1.0 / np.array(sds)
    design = np.array(rows) * weight[:, None]
    spread = np.linalg.inv(design.T @ design)
    solved = spread @ (design.T @ (np.array(values) * weight))
    told: dict[str, dict[str, Seen]] = {}
    for i, name in enumerate(seen):
        at = {view: row(view, i) for view in views}
        told[name] = {
            view: Seen(float(made @ solved), math.sqrt(float(made @ spread @ made)))
            for view, made in at.items()
        }
    return told

"""Where landmarks lie in the body, roughly, from the placings made so far.

x = c + s (X cos yaw + Z sin yaw), linear in the axes c and in X and Z once yaws and scales are
taken as given. It serves proposals only; the turn check solves the yaws as well.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

#: Weight of a guessed axis against one placing: it counts until something is placed.
_GUESSED = 0.02
#: Weight that keeps what no placing tells at zero.
_UNKNOWN = 1e-4
#: A landmark's depth is known from views whose directions differ by this sine at least: a quarter
#: of a right angle; common practice, no source.
_LEAST_APART = 0.38


def solve_body(
    turns: Mapping[str, float],
    scales: Mapping[str, float],
    axes: Mapping[str, float | None],
    placed: Mapping[str, Mapping[str, float]],
) -> tuple[dict[str, float | None], dict[str, tuple[float, float | None]]]:
    """Solve the axes and the landmarks by linear least squares.

    Parameters
    ----------
    turns
        By view, yaw in radians.
    scales
        By view, drawing px per base px.
    axes
        By view, a guess of the axis in px, None where there is none.
    placed
        By landmark and view, x in px.

    Returns
    -------
    tuple
        By view, the axis in px, None where nothing tells it; by landmark, X and Z in base px, Z
        None where its placings do not tell it.

    Examples
    --------
    >>> placed = {"nose": {"front": 100.0, "side": 130.0}, "neck": {"front": 100.0, "side": 90.0}}
    >>> turns = {"front": 0.0, "side": math.pi / 2}
    >>> guess = {"front": 100.0, "side": 100.0}
    >>> _, spots = solve_body(turns, {"front": 1.0, "side": 1.0}, guess, placed)
    >>> [round(value or 0.0) for value in spots["nose"]]
    [0, 30]
    """
    views = [view for view in turns if axes[view] is not None]
    names = list(placed)
    first = len(views)  # of the unknowns: an axis a view, then X and Z of each landmark
    size = first + 2 * len(names)
    rows = [_GUESSED * np.eye(size)[:first], _UNKNOWN * np.eye(size)[first:]]
    values = [*(_GUESSED * float(axes[view] or 0.0) for view in views), *np.zeros(size - first)]
    for i, name in enumerate(names):
        for view in views:
            if view in placed[name]:
                row = np.zeros((1, size))
                row[0, views.index(view)] = 1.0
                row[0, first + 2 * i] = scales[view] * math.cos(turns[view])
                row[0, first + 2 * i + 1] = scales[view] * math.sin(turns[view])
                rows.append(row)
                values.append(placed[name][view])
    solved = np.linalg.lstsq(np.vstack(rows), np.array(values), rcond=None)[0].tolist()
    spots: dict[str, tuple[float, float | None]] = {}
    for i, name in enumerate(names):
        across, depth = solved[first + 2 * i : first + 2 * i + 2]
        spots[name] = (across, depth if _tells_depth([turns[v] for v in placed[name]]) else None)
    return dict.fromkeys(turns) | dict(zip(views, solved, strict=False)), spots


def _tells_depth(turns: list[float]) -> bool:
    return any(abs(math.sin(one - other)) >= _LEAST_APART for one in turns for other in turns)

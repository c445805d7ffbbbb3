"""The page on angles that are not drawn."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tests.figures.constants import BETWEEN
from tests.figures.markdown import table
from tests.figures.sweeping import Row, tried
from tests.simulations.test_angle_rates import YAWS, guessed, points

THREE, TWO = (0.0, 45.0, 90.0), (0.0, 90.0)


def of_points() -> Iterator[Row]:
    """Of the points that are known at each yaw, how near they come and how often ± holds."""
    all_ = points()
    for yaw in YAWS:
        row: Row = {"yaw": f"{yaw:g}"}
        for axis in ("across", "up"):
            of = all_[(all_.yaw == yaw) & (all_.axis == axis)]
            near = of[of.known].error.abs()
            holds = (near < 1.96 * of[of.known].sd).mean()
            row |= {"known": f"{of.known.mean():.0%}"}
            row |= {
                f"{axis}, 95 % within": f"{near.quantile(0.95):.2f}",
                f"{axis}, ±": f"{holds:.1%}",
            }
        yield row


def of_outlines() -> Row:
    """How far the best guess lies from the true edges."""
    row: Row = {}
    for words, yaws in (("front, 45, side", THREE), ("front, side", TWO)):
        outside = guessed(yaws)
        away = np.abs(outside)
        row |= {
            f"{words}: middle": f"{np.median(away):.2f}",
            f"{words}: 95 % within": f"{np.quantile(away, 0.95):.2f}",
            f"{words}: outside by": f"{np.median(outside):+.2f}",
        }
    return row


def page() -> str:
    return f"""# Angles that are not drawn

Points of open bodies (`tests/outside/bodies.py`), seen from front, three-quarter and side, each
placed to 0.15 % of the height, some hidden and some missing. % of the figure height:

{table(of_points())}

The best guess of the outline, row by row, at -60, -30, 20, 60, 75 and 110 degrees. % of the figure
height; the widest and the narrowest hold in every row to 2 px
(`tests/simulations/test_angle_rates.py`).

{tried(of_outlines, BETWEEN)}

0 for `BOUNDS_CLOSE` is the ellipse everywhere, 100 never. Half way between the bounds the figure is
too narrow, as bodies are rounder than the least that the drawings ask for.
"""

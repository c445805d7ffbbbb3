"""How near points and outlines at an angle that is not drawn come to open bodies.

Nothing was tuned on these placings; bodies and licences: `tests/outside/bodies.py`.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd
import pytest

from tests.outside.bodies import BODY_NAMES, body_or_skip
from tests.outside.outlined import Sheet, drawn
from tests.outside.rendering import silhouette
from tests.simulations.reconciled_bodies import Sheets, place
from tests.simulations.sheet_bodies import FOUR
from turncheck.geometry.angle import spots_at
from turncheck.geometry.body import reconcile
from turncheck.geometry.outlines import compare_outlines
from turncheck.geometry.outlines.between import Between, outline_between
from turncheck.images.features import row_extents

SHEETS = 60
THREE = Sheets(views=FOUR[:3])
YAWS = (-135.0, -100.0, -60.0, -20.0, 10.0, 30.0, 60.0, 75.0, 110.0, 135.0)


@cache
def points() -> pd.DataFrame:
    """Each landmark's error at each yaw, % of the height, its sd, whether it is known."""
    rows = []
    for seed in range(SHEETS):
        truth, measured, _ = place(THREE, seed)
        body = reconcile(measured)
        true = np.array([truth[name] for name in body.landmarks])
        # where the turning axis stands in depth is a matter of choice
        true[:, 2] -= np.nanmedian(true[:, 2] - body.z)
        for yaw in YAWS:
            spots, at = spots_at(measured, body, yaw), np.radians(yaw)
            across = true[:, 0] * np.cos(at) + true[:, 2] * np.sin(at)
            depth = true[:, 2] * np.cos(at) - true[:, 0] * np.sin(at)
            for axis, values, sds, right in (
                ("across", spots.across, spots.across_sd, across),
                ("up", spots.up, spots.up_sd, true[:, 1]),
                ("depth", spots.depth, spots.depth_sd, depth),
            ):
                percent = 100.0 / measured.figure_height
                found = percent * (values - right), percent * sds, spots.known
                rows += [
                    (*of, yaw, axis)
                    for name, *of in zip(body.landmarks, *found, strict=True)
                    if name != "ground"
                ]
    return pd.DataFrame(rows, columns=["error", "sd", "known", "yaw", "axis"])


@pytest.mark.parametrize("axis", ["across", "up"])
def test_points_come_within_half_a_percent_at_any_yaw_and_their_intervals_hold(axis):
    all_ = points()
    of = all_[all_.axis == axis]
    assert (of.known.groupby(of.yaw).mean() > 0.8).all()
    known = of[of.known]
    error = known.error.abs()
    assert (error.groupby(known.yaw).quantile(0.95) <= 0.5).all()
    assert 0.92 <= (error < 1.96 * known.sd).mean() <= 0.98
    by_yaw = (error < 1.96 * known.sd).groupby(known.yaw).mean()
    # these bodies are more symmetric than the solver takes a drawn one to be, which shows near
    # the front
    assert by_yaw.between(0.92, 0.99).all(), by_yaw


@dataclass(frozen=True, eq=False)
class Asked:
    """Drawings of a body and its true outline at another yaw, (2, R), from their own axis."""

    sheet: Sheet
    yaw: float
    heights: np.ndarray
    symmetric: np.ndarray
    true: np.ndarray

    def found(self) -> Between:
        height = self.sheet.height
        return outline_between(self.sheet.outlines, self.yaw, self.heights, self.symmetric, height)


@cache
def asked(name: str, yaws: tuple[float, ...], yaw: float) -> Asked:
    """A body's drawings at some yaws, and its true outline at another."""
    body = body_or_skip(name)
    sheet = drawn(body, yaws)
    compared = compare_outlines(sheet.outlines, sheet.height)
    alpha, view = silhouette(body, yaw, sheet.height)
    left, right = row_extents(alpha > 127)
    heights = view.g - np.arange(len(left))
    at = np.clip(np.searchsorted(compared.heights, heights), 0, len(compared.heights) - 1)
    turns = np.radians([one.yaw for one in sheet.outlines])
    off = [one.axis - seen.c for one, seen in zip(sheet.outlines, sheet.views, strict=True)]
    stands = np.linalg.lstsq(np.stack([np.cos(turns), np.sin(turns)], 1), np.array(off))[0]
    axis = view.c + stands @ [np.cos(np.radians(yaw)), np.sin(np.radians(yaw))]
    true = np.stack([axis - left, right - axis])
    return Asked(sheet, yaw, heights, compared.symmetric[at], true)


def guessed(yaws: tuple[float, ...]) -> np.ndarray:
    """Return how far the best guess of each row's edges lies outside of it, % of the height."""
    away = []
    for name in BODY_NAMES:
        for yaw in (-60.0, -30.0, 20.0, 60.0, 75.0, 110.0):
            one = asked(name, yaws, yaw)
            error = 100.0 / one.sheet.height * (one.found().best - one.true)
            away.append(error[np.isfinite(error)])
    return np.concatenate(away)


@pytest.mark.parametrize("yaws", [(0.0, 45.0, 90.0), (0.0, 90.0), (0.0, 45.0, 90.0, 180.0)])
@pytest.mark.parametrize("name", BODY_NAMES)
def test_the_outline_lies_between_its_bounds_in_every_row(name, yaws):
    for yaw in (-60.0, 20.0, 60.0, 110.0):
        one = asked(name, yaws, yaw)
        found, true = one.found(), one.true
        beyond = np.fmax(found.narrowest - true, true - found.widest)
        assert np.nanmax(beyond) <= 2.0
        assert np.isfinite(beyond).sum() > 0.98 * np.isfinite(true).sum()


def test_the_best_guess_of_the_outline_comes_near_it():
    away = np.abs(guessed((0.0, 45.0, 90.0)))
    assert np.median(away) <= 0.35
    assert np.quantile(away, 0.95) <= 1.2

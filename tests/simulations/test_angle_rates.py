"""How near points and outlines at an angle that is not drawn come to open bodies.

Nothing was tuned on these placings; bodies and licences: `tests/outside/bodies.py`.
"""

from functools import cache

import numpy as np
import pandas as pd
import pytest

from tests.outside.bodies import BODY_NAMES, body_or_skip
from tests.outside.outlined import drawn
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
                found = {"error": values - right, "sd": sds, "known": spots.known}
                percent = 100.0 / measured.figure_height
                of = pd.DataFrame(found).assign(yaw=yaw, axis=axis, landmark=body.landmarks)
                of[["error", "sd"]] *= percent
                rows.append(of[of.landmark != "ground"])
    return pd.concat(rows, ignore_index=True)


@pytest.mark.parametrize("yaw", YAWS)
def test_points_come_within_half_a_percent_at_any_yaw(yaw):
    all_ = points()
    for axis in ("across", "up"):
        of = all_[(all_.yaw == yaw) & (all_.axis == axis)]
        assert of.known.mean() > 0.8
        assert of[of.known].error.abs().quantile(0.95) <= 0.5


@pytest.mark.parametrize("axis", ["across", "up"])
def test_their_intervals_hold_as_often_as_they_say(axis):
    all_ = points()
    of = all_[all_.known & (all_.axis == axis)]
    assert 0.92 <= (of.error.abs() < 1.96 * of.sd).mean() <= 0.98
    by_yaw = (of.error.abs() < 1.96 * of.sd).groupby(of.yaw).mean()
    # these bodies are more symmetric than the solver takes a drawn one to be, which shows near
    # the front
    assert by_yaw.between(0.92, 0.99).all(), by_yaw


def outline_of(name: str, yaws: tuple[float, ...], yaw: float) -> tuple[Between, np.ndarray, float]:
    """A body's outline at a yaw from its drawings at others, the true one (2, R), and its height.

    The truth is told from where the drawings have their axis.
    """
    body = body_or_skip(name)
    sheet = drawn(body, yaws)
    compared = compare_outlines(sheet.outlines, sheet.height)
    alpha, view = silhouette(body, yaw, sheet.height)
    left, right = row_extents(alpha > 127)
    heights = view.g - np.arange(len(left))
    at = np.clip(np.searchsorted(compared.heights, heights), 0, len(compared.heights) - 1)
    found = outline_between(sheet.outlines, yaw, heights, compared.symmetric[at], sheet.height)
    turns = np.radians([one.yaw for one in sheet.outlines])
    off = [one.axis - seen.c for one, seen in zip(sheet.outlines, sheet.views, strict=True)]
    stands = np.linalg.lstsq(np.stack([np.cos(turns), np.sin(turns)], 1), np.array(off))[0]
    axis = view.c + stands @ [np.cos(np.radians(yaw)), np.sin(np.radians(yaw))]
    return found, np.stack([axis - left, right - axis]), sheet.height


@pytest.mark.parametrize("yaws", [(0.0, 45.0, 90.0), (0.0, 90.0), (0.0, 45.0, 90.0, 180.0)])
@pytest.mark.parametrize("name", BODY_NAMES)
def test_the_outline_lies_between_its_bounds_in_every_row(name, yaws):
    for yaw in (-60.0, 20.0, 70.0, 110.0):
        found, true, _ = outline_of(name, yaws, yaw)
        beyond = np.maximum(found.narrowest - true, true - found.widest)
        assert np.nanmax(beyond) <= 2.0
        assert np.isfinite(beyond).sum() > 0.98 * np.isfinite(true).sum()


def test_the_best_guess_of_the_outline_comes_near_it():
    away = []
    for name in BODY_NAMES:
        for yaw in (-60.0, -30.0, 20.0, 60.0, 75.0, 110.0):
            found, true, tall = outline_of(name, (0.0, 45.0, 90.0), yaw)
            away.append(100.0 / tall * np.abs(found.best - true)[np.isfinite(found.best + true)])
    errors = np.concatenate(away)
    assert np.median(errors) <= 0.35
    assert np.quantile(errors, 0.95) <= 1.2

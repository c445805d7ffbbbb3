"""Open bodies placed with error, and how near the reconciled body comes to them.

The joints are those of `tests/outside/bodies.py` (humans, CC0), on which nothing was tuned. Four
views at the usual placing error of 0.15 % of the figure height, 12 % of placings missing, 15 % of
the others hidden and twice as uncertain.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd

from tests.outside.bodies import HUMAN_TARGETS, load_body
from tests.simulations.sheet_bodies import (
    FOUR,
    GROUND,
    PERCENT,
    REFERENCE,
    YAWS,
    Case,
    biped,
    sheet,
)
from turncheck.geometry.body import Body, reconcile
from turncheck.geometry.measurement import Measurement, measure
from turncheck.sheet.landmark_table import Placing

MISSING, HIDDEN = 0.12, 0.15
BIPED = biped()


@dataclass(frozen=True)
class Sheets:
    """How sheets of true bodies are placed: views, % by which one pivot is off in one view."""

    views: tuple[str, ...] = FOUR
    drift: float = 0.0


@cache
def joints(name: str) -> dict[str, np.ndarray]:
    """A body's landmarks, px: X to its left, Y up from the ground, Z to the front."""
    body = load_body(name)
    tall = float(body.joints["crown"][1]) if "crown" in body.joints else body.vertices[:, 1].max()
    known = sorted(body.joints.keys() & BIPED.landmarks.keys())
    found = {one: np.asarray(body.joints[one], float) / tall * 100.0 * PERCENT for one in known}
    found.setdefault("crown", np.array([0.0, 100.0 * PERCENT, 0.0]))
    return found | {"ground": np.zeros(3)}


@cache
def place(case: Sheets, seed: int) -> tuple[dict[str, np.ndarray], Measurement, set[str]]:
    """Return a body's true landmarks, what is measured of its placings, and the drifted pivots."""
    rng = np.random.default_rng((7919, seed))
    truth = joints(sorted(HUMAN_TARGETS)[seed % len(HUMAN_TARGETS)])
    pivots = [name for name in truth if BIPED.landmarks[name].kind == "pivot"]
    drifted = {str(rng.choice(pivots)): str(rng.choice(case.views))} if case.drift else {}
    sign = rng.choice([-1.0, 1.0])
    placings = []
    for view in case.views:
        yaw, axis = np.radians(YAWS[view]), rng.uniform(550.0, 650.0)
        for name, (x, y, z) in truth.items():
            always = name == "ground" or (view, name) == (REFERENCE, "crown")
            if not always and rng.random() < MISSING:
                continue
            hidden = not always and rng.random() < HIDDEN
            error = rng.normal(0.0, 0.15 * PERCENT * (2.0 if hidden else 1.0), 2)
            error[1] -= sign * case.drift * PERCENT * (drifted.get(name) == view)
            across = axis + x * np.cos(yaw) + z * np.sin(yaw) + error[0]
            placings.append(
                Placing(view, name, float(across), float(GROUND - y + error[1]), hidden, np.nan, "")
            )
    return truth, measure(sheet(Case(views=case.views)), placings, {}), {*drifted}


@cache
def errors(case: Sheets, sheets: int) -> pd.DataFrame:
    """Return each known coordinate's error, % of the figure height, its sd and what it is of."""
    rows = []
    for seed in range(sheets):
        truth, measured, drifted = place(case, seed)
        rows += _errors(seed, truth, measured, reconcile(measured), drifted)
    return pd.DataFrame(rows)


def _errors(
    seed: int,
    truth: dict[str, np.ndarray],
    measured: Measurement,
    body: Body,
    drifted: set[str],
) -> list[dict[str, object]]:
    true = np.array([truth[name] for name in body.landmarks])
    # where the turning axis stands in depth is a matter of choice
    true[:, 2] -= np.nanmedian(np.where(np.isfinite(body.z), true[:, 2] - body.z, np.nan))
    base = measured.y[measured.base, measured.columns("ground")] - measured.y[measured.base]
    return [
        {
            "sheet": seed,
            "landmark": name,
            "axis": axis,
            "is_pivot": BIPED.landmarks[name].kind == "pivot",
            "drifted": name in drifted,
            "error": measured.percent(float(values[i] - true[i, number])),
            "front": measured.percent(float(base[i] - true[i, 1])),
            "sd": measured.percent(float(sds[i])),
        }
        for number, (axis, values, sds) in enumerate(
            [("X", body.x, body.x_sd), ("Y", body.y, body.y_sd), ("Z", body.z, body.z_sd)]
        )
        for i, name in enumerate(body.landmarks)
        if name != "ground"
    ]

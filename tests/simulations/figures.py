"""Sheets in memory for simulations: no files, a biped with known heights."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pandas as pd

from turncheck.geometry.measurement import Measurement, measure
from turncheck.images.features import ImageFeatures
from turncheck.images.picture_file import Picture
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import Sheet, View
from turncheck.sheet.vocabulary import read_vocabulary

H = 1000.0
GROUND = 1400.0
YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0, "back_tq": 135.0}

#: Heights in % of the figure height; invented for the simulation.
HEIGHTS = {
    "ground": 0.0,
    "crown": 100.0,
    "nose_tip": 91.0,
    "chin": 86.5,
    "waist": 60.0,
    "crotch": 47.0,
    "fingertip_l": 38.0,
    "eye_l": 93.5,
    "head": 88.0,
    "neck": 82.5,
    "spine": 62.0,
    "shoulder_l": 81.0,
    "shoulder_r": 81.0,
    "elbow_l": 63.0,
    "elbow_r": 63.0,
    "wrist_l": 48.5,
    "hip_l": 52.0,
    "knee_l": 28.5,
    "knee_r": 28.5,
    "ankle_l": 4.0,
}

#: Distance from the midline in % of the figure height, of the left one of a pair; invented.
WIDTHS = {"shoulder": 11.0, "elbow": 13.0, "wrist": 15.0, "hip": 5.0, "knee": 5.5, "ankle": 6.0}


#: Distance in front of the turning axis in % of the figure height; invented.
DEPTHS = {"nose_tip": 8.0, "chin": 6.0, "eye": 6.5, "waist": 5.0, "fingertip": 3.0, "neck": -1.5}
DEPTHS |= {"shoulder": -1.0, "elbow": -2.5, "wrist": 2.0, "hip": 0.5, "knee": 1.5, "ankle": -2.0}


def x_of(name: str, yaw: float) -> float:
    """Where a landmark of the figure falls in x at a yaw in degrees, px."""
    stem, side = name, 0.0
    if name[-2:] in ("_l", "_r"):
        stem, side = name[:-2], 1.0 if name.endswith("_l") else -1.0
    turned = np.radians(yaw)
    across = side * WIDTHS.get(stem, 2.0) * np.cos(turned)
    return 500.0 + float(across + DEPTHS.get(stem, 0.0) * np.sin(turned)) / 100 * H


def sheet(
    views: int,
    *,
    reference: str = "front",
    placing: str = "ground",
    placing_sd: float = 0.15,
    symmetric: bool = True,
) -> Sheet:
    """A sheet of that many views with no drawings behind it."""
    names = list(YAWS)[:views]
    return Sheet(
        folder=Path("simulated"),
        character="Simulated",
        revision="A",
        reference=reference,
        placing=placing,  # type: ignore[arg-type]
        placing_sd=placing_sd,
        symmetric=symmetric,
        vocabulary=read_vocabulary("biped", Path()),
        views={
            name: View(name, Picture(Path("none.png"), "none.png", 1000, 1500), YAWS[name])
            for name in names
        },
        tolerances={},
        waivers=(),
    )


def placings(
    of: Sheet,
    rng: np.random.Generator,
    drift: Mapping[tuple[str, str], float],
    noise_pct: float = 0.15,
) -> pd.DataFrame:
    """Placings with normal noise; `drift` lifts (view, landmark) by % of the figure height."""
    rows = [
        (
            view,
            name,
            x_of(name, of.views[view].yaw) + rng.normal(0.0, noise_pct / 100 * H),
            GROUND
            - (height + drift.get((view, name), 0.0)) / 100 * H
            + rng.normal(0.0, noise_pct / 100 * H),
            False,
            np.nan,
            "",
        )
        for view in of.views
        for name, height in HEIGHTS.items()
    ]
    columns = ["view", "landmark", "x", "y", "hidden", "sd", "placed_by"]
    return pd.DataFrame(rows, columns=columns)


def measured(
    of: Sheet, table: pd.DataFrame, features: Mapping[str, ImageFeatures] | None = None
) -> Measurement:
    """A sheet measured from a table of placings, and from drawings where they are given."""
    rows = table.itertuples(index=False)
    return measure(of, [Placing(**row._asdict()) for row in rows], features or {})

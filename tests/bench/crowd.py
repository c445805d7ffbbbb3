"""A sheet in memory of any number of drawings and points, all of one body."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from turncheck.images.picture_file import Picture
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import Sheet, View
from turncheck.sheet.vocabulary import Landmark, read_vocabulary


def crowd(views: int, points: int) -> tuple[Sheet, list[Placing]]:
    """The sheet and its placings, as sure as its default says; half of the points are pivots."""
    rng = np.random.default_rng(0)
    known = read_vocabulary("biped", Path())
    marks = dict(list(known.landmarks.items())[:points])
    for n in range(len(marks), points):
        name = f"own_{n}"
        marks[name] = Landmark(name, "pivot" if n % 2 else "height", part=f"part {n % 7}")
    picture = Picture(Path("none.png"), "none.png", 1000, 1500)
    drawn = {f"v{n}": View(f"v{n}", picture, 350.0 * n / views) for n in range(views)}
    sheet = Sheet(
        folder=Path("crowd"),
        character="Crowd",
        revision="A",
        reference="v0",
        placing="ground",
        placing_sd=0.15,
        symmetric=True,
        vocabulary=replace(known, landmarks=marks),
        views=drawn,
        tolerances={},
        waivers=(),
    )
    placings = []
    for name in marks:
        across, deep = rng.uniform(-150.0, 150.0, 2)
        height = {"ground": 0.0, "crown": 1000.0}.get(name, rng.uniform(50.0, 950.0))
        for view in drawn.values():
            turned = np.radians(view.yaw)
            slip = rng.normal(0.0, 1.5, 2)
            x = 500.0 + across * np.cos(turned) + deep * np.sin(turned) + slip[0]
            y = 1300.0 - height + slip[1]
            placings.append(Placing(view.name, name, float(x), float(y), False, np.nan, ""))
    return sheet, placings

"""How much the proposals are worth: the share that lies within 1 % of H of the truth.

Two kinds are measured apart: what the shape of the figure tells on a bare sheet, and the same-row
match once one or two views are placed. The truth is that of the drawn samples (`truth.json`) and of
the open bodies (`tests/outside`), by which the uncertainties were chosen, and of plain bodies
(`plain_bodies`), on which the search for the neck and the axis in straight views were mended.
"""

from __future__ import annotations

import json
import math
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from tests.outside.bodies import load_body
from tests.outside.rendering import write_sheet
from tests.places import SAMPLES
from tests.placing.plain_bodies import PLAIN
from turncheck.checks.register import open_sheet
from turncheck.placing.drawings import Drawings
from turncheck.placing.proposing import propose
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import Sheet

DRAWN = ("odo", "pim", "brindle")
BODIES = ("adult_male", "adult_female", "child", "baby", "dog")
YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}


def sheets(folder: Path) -> Iterator[tuple[str, Sheet, tuple[Placing, ...], float]]:
    """Yield name, sheet, true placings and figure height of every sheet that has a truth."""
    for name in DRAWN:
        truth = json.loads((SAMPLES / name / "truth.json").read_text("utf-8"))
        points = [
            (view, mark, at["x"], at["y"], not at["visible"])
            for view, drawn in truth["views"].items()
            for mark, at in drawn["landmarks"].items()
        ]
        points += [(v, "ground", d["axis"], d["ground"], False) for v, d in truth["views"].items()]
        sheet = open_sheet(SAMPLES / name)
        yield name, sheet, placings_of(points, sheet), float(truth["figure_height"])
    bodies = {name: load_body(name) for name in BODIES}
    bodies |= {name: make(seed) for seed, (name, make) in enumerate(PLAIN.items())}
    for name, body in bodies.items():
        drawn = write_sheet(folder / name, body, YAWS)
        rows = drawn.points.itertuples(index=False)
        points = [(p.view, p.landmark, p.x, p.y, p.visibility == "hidden") for p in rows]
        sheet = open_sheet(folder / name)
        yield name, sheet, placings_of(points, sheet), drawn.figure_height


def placings_of(
    points: Iterable[tuple[str, str, float, float, bool]], sheet: Sheet
) -> tuple[Placing, ...]:
    """Return true points as placings: view, landmark, x, y, hidden; the first of each counts."""
    known = sheet.vocabulary.landmarks
    found: dict[tuple[str, str], Placing] = {}
    for view, name, x, y, hidden in points:
        if name in known:
            found.setdefault((view, name), Placing(view, name, x, y, hidden, math.nan, ""))
    return tuple(found.values())


def errors(
    name: str, sheet: Sheet, truth: Sequence[Placing], height: float, placed: tuple[str, ...]
) -> pd.DataFrame:
    """Return one row a proposal: kind, view, distance from the truth and stated sd in % of H.

    Every view stands on its ground; `placed` are the views that have all their landmarks.
    """
    given = [p for p in truth if p.view in placed or (placed and p.landmark == "ground")]
    at = {(point.view, point.landmark): point for point in truth}
    rows = []
    for proposal in propose(sheet, given, Drawings(sheet)):
        true = at.get((proposal.view, proposal.landmark))
        if true is None:
            continue
        dx, dy = proposal.x - true.x, proposal.y - true.y
        if proposal.landmark == "ground":
            dx = 0.0
        rows.append(
            {
                "sheet": name,
                "view": proposal.view,
                "landmark": proposal.landmark,
                "kind": sheet.vocabulary.landmarks[proposal.landmark].kind,
                "source": proposal.source,
                "hidden": true.hidden,
                "up": 100 * abs(dy) / height,
                "off": 100 * float(np.hypot(dx, dy)) / height,
                "sd": 100 * proposal.sd / height,
                "doubtful": proposal.doubtful,
            }
        )
    return pd.DataFrame(rows)


def measured() -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Return the errors on bare sheets, with the base placed, and with front and side placed."""
    bare, one, two = [], [], []
    with tempfile.TemporaryDirectory() as folder:
        for name, sheet, truth, height in sheets(Path(folder)):
            bare.append(errors(name, sheet, truth, height, ()))
            one.append(errors(name, sheet, truth, height, (sheet.base,)))
            two.append(errors(name, sheet, truth, height, ("front", "side")))
    return pd.concat(bare), pd.concat(one), pd.concat(two)

"""How much the proposals are worth: the share that lies within 1 % of H of the truth.

Two kinds are measured apart: what the shape of the figure tells on a bare sheet, and the same-row
match once one or two views are placed. The truth is that of the drawn samples (`truth.json`) and of
the open bodies (`tests/outside`).
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pandas as pd

from tests.outside.bodies import load_body
from tests.outside.rendering import write_sheet
from tests.places import SAMPLES
from turncheck.checks.register import check_names
from turncheck.placing.drawings import Drawings
from turncheck.placing.proposing import propose
from turncheck.sheet.model import Sheet
from turncheck.sheet.sheet_file import read_sheet

DRAWN = ("odo", "pim", "brindle")
BODIES = ("adult_male", "child", "baby")
YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}


def sheets(folder: Path) -> Iterator[tuple[str, Sheet, pd.DataFrame, float]]:
    """Yield name, sheet, true placings and figure height of every sheet that has a truth."""
    for name in DRAWN:
        truth = json.loads((SAMPLES / name / "truth.json").read_text("utf-8"))
        points = [
            (view, mark, at["x"], at["y"], not at["visible"])
            for view, drawn in truth["views"].items()
            for mark, at in drawn["landmarks"].items()
        ]
        points += [(v, "ground", d["axis"], d["ground"], False) for v, d in truth["views"].items()]
        sheet = read_sheet(SAMPLES / name, check_names())
        yield name, sheet, _table(points, sheet), float(truth["figure_height"])
    for name in BODIES:
        drawn = write_sheet(folder / name, load_body(name), YAWS)
        rows = drawn.points.itertuples(index=False)
        points = [(p.view, p.landmark, p.x, p.y, p.visibility == "hidden") for p in rows]
        sheet = read_sheet(folder / name, check_names())
        yield name, sheet, _table(points, sheet), drawn.figure_height


def _table(points: list[tuple[str, str, float, float, bool]], sheet: Sheet) -> pd.DataFrame:
    table = pd.DataFrame(points, columns=["view", "landmark", "x", "y", "hidden"])
    known = table["landmark"].isin(list(sheet.vocabulary.landmarks))
    table = table[known].drop_duplicates(["view", "landmark"])
    return table.assign(sd=np.nan, placed_by="").reset_index(drop=True)


def errors(
    name: str, sheet: Sheet, truth: pd.DataFrame, height: float, placed: tuple[str, ...]
) -> pd.DataFrame:
    """Return one row a proposal: kind, view and distance from the truth in % of H.

    Every view stands on its ground; `placed` are the views that have all their landmarks.
    """
    given = truth[truth["view"].isin(placed) | (bool(placed) & (truth["landmark"] == "ground"))]
    at = truth.set_index(["view", "landmark"])
    rows = []
    for proposal in propose(sheet, given, Drawings(sheet)):
        if (proposal.view, proposal.landmark) not in at.index:
            continue
        true = at.loc[(proposal.view, proposal.landmark)]
        dx, dy = proposal.x - true["x"], proposal.y - true["y"]
        if proposal.landmark == "ground":
            dx = 0.0
        rows.append(
            {
                "sheet": name,
                "view": proposal.view,
                "landmark": proposal.landmark,
                "kind": sheet.vocabulary.landmarks[proposal.landmark].kind,
                "source": proposal.source,
                "hidden": bool(true["hidden"]),
                "up": 100 * abs(dy) / height,
                "off": 100 * float(np.hypot(dx, dy)) / height,
            }
        )
    return pd.DataFrame(rows)


def measured() -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """Return the errors on bare sheets, with the front placed, and with front and side placed."""
    bare, one, two = [], [], []
    with tempfile.TemporaryDirectory() as folder:
        for name, sheet, truth, height in sheets(Path(folder)):
            bare.append(errors(name, sheet, truth, height, ()))
            one.append(errors(name, sheet, truth, height, ("front",)))
            two.append(errors(name, sheet, truth, height, ("front", "side")))
    return pd.concat(bare), pd.concat(one), pd.concat(two)

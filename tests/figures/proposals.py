"""The page on proposed placings."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from tests.figures.constants import PROPOSALS
from tests.figures.markdown import table
from tests.figures.sweeping import Row, tried
from tests.placing.proposal_worth import measured

WITHIN = 1.0  # % of the figure height


def share(errors: pd.Series) -> str:
    return f"{(errors <= WITHIN).mean():.0%} of {len(errors)}"


def in_a_row() -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the errors of same-row proposals, the front placed, and the side as well."""
    _, *placed = measured()
    front, both = (errors[errors["source"] == "the same row"] for errors in placed)
    return front, both


def by_sheet() -> Iterator[Row]:
    front, both = in_a_row()
    for name in ("all", *front["sheet"].unique()):
        mine = [
            errors if name == "all" else errors[errors["sheet"] == name] for errors in (front, both)
        ]
        yield {
            "sheet": name,
            "front placed": share(mine[0]["off"]),
            "front and side placed": share(mine[1]["off"]),
        }


def by_shape() -> Iterator[Row]:
    """What the bare shape tells."""
    bare, *_ = measured()
    for landmark, errors in bare.groupby("landmark"):
        yield {
            "landmark": landmark,
            "within 1 % H": share(errors["off"]),
            "median error, % H": f"{errors['off'].median():.2f}",
        }


def pivots() -> Row:
    front, both = in_a_row()
    cells = {}
    for title, errors in (("front placed", front), ("front and side placed", both)):
        kinds = errors[errors["kind"] == "pivot"]
        cells[f"pivots, {title}"] = share(kinds["off"])
        cells[f"median error, {title}, % H"] = f"{kinds['off'].median():.2f}"
    return cells


def page() -> str:
    return f"""# Proposals

How many proposed placings lie within 1 % H of the truth, on the samples and the open bodies. In the
same row as the reference's landmark:

{table(by_sheet())}

Pim is low, its drift being planted. From the bare shape, nothing placed:

{table(by_shape())}

Hair hides the crown.

## How deep a body still tells where in it a pivot lies

{tried(pivots, PROPOSALS)}

With the front alone placed a larger `DEEPEST` proposes more pivots: of the 71 further ones at 0.15
a third is wrong. Once the side is placed it does not matter.
"""

"""The page on proposed placings."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd

from tests.figures.constants import PROPOSALS
from tests.figures.markdown import table
from tests.figures.sweeping import Row, tried
from tests.placing.plain_bodies import PLAIN
from tests.placing.proposal_worth import measured

SURE_SD = 1.96  # 95 % of a normal distribution


def told(errors: pd.DataFrame) -> Row:
    """How near proposals lie, and how many of them as near as they say."""
    if errors.empty:
        return {"proposals": 0}
    near = {f"within {most} % H": f"{(errors['off'] <= most).mean():.0%}" for most in (1, 2, 5)}
    return {
        "proposals": len(errors),
        **near,
        "worst, % H": f"{errors['off'].max():.1f}",
        "sd, % H": f"{errors['sd'].median():.1f}",
        "within 1.96 sd": f"{(errors['off'] <= SURE_SD * errors['sd']).mean():.0%}",
    }


def in_a_row() -> dict[str, pd.DataFrame]:
    """Return the errors of same-row proposals, the base placed, and front and side."""
    _, *placed = measured()
    base, both = (errors[errors["source"] == "the same row"] for errors in placed)
    return {"base": base, "front and side": both}


def by_sheet(offered: bool) -> Iterator[Row]:
    for placed, errors in in_a_row().items():
        mine = errors[errors["doubtful"] != offered]
        for name, rows in [("all", mine), *mine.groupby("sheet", sort=False)]:
            yield {"placed": placed, "sheet": name, **told(rows)}


def by_shape() -> Iterator[Row]:
    """What the bare shape tells."""
    bare, *_ = measured()
    plain = bare["sheet"].isin(list(PLAIN))
    for bodies, mine in (("samples, open bodies", bare[~plain]), ("plain bodies", bare[plain])):
        for landmark, errors in mine.groupby("landmark"):
            offered = "no" if errors["doubtful"].any() else "yes"
            yield {"bodies": bodies, "landmark": landmark, "offered": offered, **told(errors)}


def offers() -> Row:
    cells = {}
    for placed, errors in in_a_row().items():
        sure = errors[~errors["doubtful"]]
        cells[f"offered, {placed} placed"] = len(sure)
        cells[f"within 1 % H, {placed}"] = f"{(sure['off'] <= 1.0).mean():.0%}"
        cells[f"hints within 1.96 sd, {placed}"] = told(errors[errors["doubtful"]]).get(
            "within 1.96 sd", "–"
        )
    return cells


def page() -> str:
    return f"""# Proposals

How near proposed placings lie to the truth, on the samples, the open bodies, and plain bodies: a
squat one without a neck, its arms out and ears on top, a robot child with an aerial, and a long
animal. The search for the neck was mended on these, and the axis in straight views; the other
uncertainties were not chosen by them. Each proposal says how unsure it is; those beyond 1.5 % H
can't be taken and are drawn as faint hints. In the same row as a placed landmark, offered:

{table(by_sheet(offered=True))}

Pim's drift is planted. What is placed on a drawing, here its ground alone, tells the rest how large
it is and how far it is turned; a person takes or corrects them one by one. Hints:

{table(by_sheet(offered=False))}

From the bare shape, nothing placed:

{table(by_shape())}

Hair, hats and ears hide the crown, clothes the crotch. An animal's head hides its neck, so that its
chin is not proposed.

## How surely the legs tell the axis, and a side view's row a landmark

{tried(offers, PROPOSALS)}

A smaller `LEGS_SD` offers what lies off on animals and in long coats, a larger one less in a
three-quarter. With a smaller `ROW_SD` hints lie further off than they say.
"""

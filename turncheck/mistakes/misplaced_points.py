"""Points that can't belong to the drawing they are on: the drawing or the table has changed."""

from __future__ import annotations

import numpy as np

from turncheck.errors import TurncheckError
from turncheck.geometry.measurement import Measurement
from turncheck.images.features import ImageFeatures
from turncheck.numerics.arrays import Bools, Floats
from turncheck.sheet.model import LANDMARKS_FILE

#: Points may lie beside the figure by this share of its height; common practice, no source.
BESIDE = 0.05
#: Ground this far above the figure's lowest point, as a share of its height, is no ground: cloth
#: and tails hang less far below the soles. Common practice, no source.
DEEPEST = 0.25


def refuse_misplaced_points(measured: Measurement) -> None:
    """Refuse drawings without a figure, and points that do not lie on the figure of theirs.

    Where no drawing has a figure the points are taken for all that there is.

    Raises
    ------
    TurncheckError
        Naming every such drawing.
    """
    faults = []
    table = measured.sheet.folder / LANDMARKS_FILE
    ground = measured.landmarks.index("ground")
    for v, (name, drawn) in enumerate(zip(measured.views, measured.features, strict=True)):
        picture = measured.sheet.views[name].picture
        if not drawn.area and not any(other.area for other in measured.features):
            continue  # a table of points alone
        if not drawn.area:
            faults.append(
                f"{picture.path}: no figure is to be seen in this drawing; put the right file "
                'there, or paint the figure white in a mask and name it as figure = "mask.png"'
            )
            continue
        height = drawn.bottom - drawn.top
        seen = ~measured.hidden[v] & np.isfinite(measured.x[v])
        seen[ground] = False
        outside = _outside(measured.x[v, seen], measured.y[v, seen], drawn, BESIDE * height)
        above = (drawn.bottom - measured.y[v, ground]) / height
        if len(outside) and outside.mean() > 0.5:
            faults.append(
                f"{table}: {int(outside.sum())} of the {len(outside)} points seen on {name} lie "
                f"beside the figure in {picture.file}; if the drawing was exported at another size "
                "since, export it as it was, or place its points again"
            )
        elif above > DEEPEST:
            faults.append(
                f"{table}: the ground of {name} lies {100 * above:.0f} % of the figure's height "
                "above its lowest point; place it on the line the soles stand on, or, if "
                f"{picture.file} was exported at another size since, place all its points again"
            )
    if faults:
        raise TurncheckError(*faults)


def _outside(x: Floats, y: Floats, drawn: ImageFeatures, beside: float) -> Bools:
    left, right = np.nanmin(drawn.left) - beside, np.nanmax(drawn.right) + beside
    return (x < left) | (x > right) | (y < drawn.top - beside) | (y > drawn.bottom + beside)

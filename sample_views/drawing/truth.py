"""What the solids know: where every landmark lies in a drawing, and whether it is seen."""

from dataclasses import dataclass

import numpy as np

from drawing.figure import Figure, View
from drawing.inking import Drawing

PIVOTS = (
    "head", "jaw", "neck", "spine", "shoulder", "elbow", "wrist", "hip", "knee", "ankle", "tail",
    "fore_elbow", "fore_knee", "fore_fetlock", "hind_stifle", "hind_hock", "hind_fetlock",
)  # fmt: skip
_NEAR = 4  # px round the landmark in which its own part must show


@dataclass(frozen=True)
class Seen:
    """A landmark in one drawing, px; `visible` is false behind another part."""

    x: float
    y: float
    visible: bool


def stem(name: str) -> str:
    """The landmark's name without its side."""
    return name.removesuffix("_l").removesuffix("_r")


def _owns(owner: str, part: str) -> bool:
    """Whether the part is the owner's: the same stem and, if it has one, the same side."""
    side = owner[-1] if owner.endswith(("_l", "_r")) else ""
    return part.startswith(stem(owner)) and (not side or side in part.split("_"))


def sightings(figure: Figure, view: View, drawing: Drawing) -> dict[str, Seen]:
    """Every landmark of the figure as its drawing shows it."""
    found = {}
    for name, mark in figure.landmarks.items():
        x, y, near = (float(v) for v in view.project(mark.xyz))
        own = [i for i, p in enumerate(figure.parts) if any(_owns(o, p.name) for o in mark.owners)]
        column, row = round(x), round(y)
        window = (
            slice(max(row - _NEAR, 0), row + _NEAR + 1),
            slice(max(column - _NEAR, 0), column + _NEAR + 1),
        )
        mine = np.isin(drawing.part[window], own)
        if stem(name) not in PIVOTS:
            mine &= drawing.depth[window] - near < mark.behind
        found[name] = Seen(x, y, bool(mine.any()))
    return found

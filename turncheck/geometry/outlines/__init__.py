"""Outlines: whether any solid body could have the outlines of all drawings of a sheet.

`compare_outlines` takes, for every drawing, how far the figure reaches to the left and to the right
in each picture row, and returns an `OutlineComparison`; nothing here reads files.

- `extents`: all drawings onto common rows
- `inequalities`: what the extents of a solid body, its support function, satisfy
- `slack`: by how much each row keeps them, with the yaws and axes in doubt counted in
- `symmetry`: where the body may be taken as mirror symmetric
- `stretches`: rows that can't fit gathered into contradictions, and what would mend them
- `examine`: all of it in order
- `result`: what came of it
"""

from turncheck.geometry.outlines.examine import compare_outlines, refused_comparison
from turncheck.geometry.outlines.extents import Outline
from turncheck.geometry.outlines.result import Contradiction, OutlineComparison, Remedy

__all__ = [
    "Contradiction",
    "Outline",
    "OutlineComparison",
    "Remedy",
    "compare_outlines",
    "refused_comparison",
]

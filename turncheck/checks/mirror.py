"""`mirror`: whether drawings from opposite sides are mirror images in outline."""

from collections.abc import Iterator

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.finding import Finding, not_measured
from turncheck.checks.outline import OUTLINE, find_contradictions
from turncheck.geometry.measurement import Measurement

#: Degrees from exactly opposite that still count; common practice, no source.
_NEARLY = 5.0


def find_mirror_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield the rows where a drawing is no mirror image of the one from the opposite side."""
    yaws = [measured.sheet.views[view].yaw for view in measured.views]
    opposite = {
        v
        for v, yaw in enumerate(yaws)
        if any(abs(abs(yaw - other) - 180.0) < _NEARLY for other in yaws)
    }
    if not opposite:
        reason = "no two drawings show the body from opposite sides"
        yield not_measured(CHECK.name, "", OUTLINE, reason)
        return
    yield from find_contradictions(measured, CHECK.name, tolerances.general, opposite)


CHECK = Check(
    name="mirror",
    title="Front and back",
    order=73,
    unit="pct_height",
    tolerance=0.5,
    measures="rows where a drawing is no mirror image of the one from the opposite side, in "
    "outline, and the least that must move",
    why="what is seen of a body from behind has the same outline, mirrored",
    mend="redraw the outline along these rows in one of the two",
    run=find_mirror_drift,
)

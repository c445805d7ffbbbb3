"""`outline`: whether any solid body could have the outlines of all drawings."""

from collections.abc import Iterator

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.contradictions import find_contradictions
from turncheck.checks.finding import Finding
from turncheck.geometry.measurement import Measurement


def find_outline_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield the rows where the outlines of several directions contradict each other."""
    views = range(len(measured.views))
    yield from find_contradictions(measured, CHECK.name, "outline", tolerances.general, views)


CHECK = Check(
    name="outline",
    title="Outline",
    order=76,
    unit="pct_height",
    tolerance=0.5,
    measures="rows where no solid body could have the outlines of all drawings, and the least "
    "that must move",
    why="an outline that no body can have comes apart when the figure turns",
    mend="redraw the outline along these rows in one of the drawings named",
    run=find_outline_drift,
)

"""`height`: whether each height, from ground to crown, is the same in every drawing."""

from collections.abc import Iterator

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.comparing import compare_heights
from turncheck.checks.finding import NOTHING, Finding, Kind, Subject, not_measured
from turncheck.geometry.measurement import Measurement


def find_height_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield every `height` landmark but the ground itself, across views."""
    names = [
        mark.name
        for mark in measured.sheet.vocabulary.of_kind("height")
        if mark.name in measured.landmarks and mark.name != "ground"
    ]
    if not names:
        yield not_measured(CHECK.name, "", NOTHING, "no height landmark is placed")
    for name in names:
        subject = Subject(Kind.POINT, name, (name,))
        yield from compare_heights(measured, CHECK.name, subject, tolerances.of(name))


CHECK = Check(
    name="height",
    title="Heights",
    order=20,
    unit="pct_height",
    tolerance=1.0,
    judges=("height",),
    measures="the height of each point from drawing to drawing",
    why="a chin or waist at another height makes the figure jump when it turns",
    mend="move the feature up or down in the named drawing by the px given",
    run=find_height_drift,
)

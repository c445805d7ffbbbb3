"""`proportion`: whether the head count and the ratios of limbs are the same in every drawing."""

from collections.abc import Iterator

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.finding import Finding, Kind, Subject, not_measured
from turncheck.checks.note import LandmarkName, noted
from turncheck.checks.spans import compare_ratios, plan_distance
from turncheck.geometry.measurement import Measurement

HEAD_COUNT = Subject(Kind.RATIO, "head count")


def find_proportion_drift(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    """Yield the head count and every ratio of the vocabulary and the sheet, across views."""
    vocabulary = measured.sheet.vocabulary
    crown, chin = vocabulary.head
    if chin in measured.landmarks:
        yield from compare_ratios(
            measured,
            CHECK.name,
            HEAD_COUNT,
            ((crown,), ("ground",)),
            ((crown,), (chin,)),
            tolerances.general,
        )
    else:
        reason = noted("{} is not placed", LandmarkName(chin))
        yield not_measured(CHECK.name, "", HEAD_COUNT, reason, "pct_ratio")
    for ratio in vocabulary.proportions:
        ends = (*ratio.of, *ratio.to)
        if all(name in measured.landmarks for name in ends):
            yield from compare_ratios(
                measured,
                CHECK.name,
                Subject(Kind.RATIO, ratio.name),
                ((ratio.of[0],), (ratio.of[1],)),
                ((ratio.to[0],), (ratio.to[1],)),
                ratio.tolerance or tolerances.general,
                (plan_distance(measured, *ratio.of), plan_distance(measured, *ratio.to)),
            )


CHECK = Check(
    name="proportion",
    title="Proportions",
    order=50,
    unit="pct_ratio",
    tolerance=4.0,
    measures="the head count and ratios of limbs from drawing to drawing",
    why="a longer forearm or a smaller head reads as another character",
    mend="look at the pivots that the ratio rests on; one of them is usually off",
    run=find_proportion_drift,
)

"""The top of the page: the verdict that a supervisor reads in five seconds."""

from __future__ import annotations

from dataclasses import dataclass

from turncheck.geometry.guard_bands import Verdict
from turncheck.report.facts import Facts, view_title
from turncheck.report.method import ToleranceLine, tolerance_lines
from turncheck.wording.findings import RANK, VERDICTS
from turncheck.wording.plain import counted, spoken, together

_PLACINGS = {
    "canvas": "as on the canvas",
    "ground": "on own ground line",
    "fit": "fitted in size",
}
_TITLES = {
    Verdict.ON_MODEL: "On model",
    Verdict.OFF_MODEL: "Off model",
    Verdict.UNDECIDED: "Undecided",
}


@dataclass(frozen=True)
class DrawingState:
    """One drawing at a glance."""

    title: str
    verdict: str
    says: str
    target: str


@dataclass(frozen=True)
class Masthead:
    """The verdict, in words."""

    verdict: str
    title: str
    rider: str
    sentence: str
    more: int
    comparisons: int
    counts: tuple[tuple[str, int], ...]
    drawings: tuple[DrawingState, ...]
    reference: str
    placing: str
    allowed: tuple[ToleranceLine, ...]


def build_masthead(facts: Facts) -> Masthead:
    """Return the verdict and the one sentence that goes with it."""
    verdict = Verdict(facts.summary["verdict"])
    counts: dict[str, int] = dict(facts.summary["counts"])
    undecided = counts[Verdict.UNDECIDED]
    rider = ""
    if undecided and verdict is Verdict.ON_MODEL:
        rider = f"{undecided} undecided: place again"
    return Masthead(
        verdict=verdict.value,
        title=_TITLES[verdict],
        rider=rider,
        sentence=_sentence(facts, verdict),
        more=max(len(facts.checked.instructions) - 1, 0),
        comparisons=sum(counts.values()),
        counts=tuple((name, counts[name]) for name in VERDICTS),
        drawings=tuple(_state(facts, view) for view in facts.views),
        reference=spoken(facts.checked.sheet.reference),
        placing=_PLACINGS[facts.checked.sheet.placing],
        allowed=tolerance_lines(facts),
    )


def _sentence(facts: Facts, verdict: Verdict) -> str:
    if facts.checked.instructions:
        first = facts.checked.instructions[0]
        says = together(first.says)
        return f"{view_title(first.view)}: {says[:1].lower()}{says[1:]}"
    measured = [row for row in facts.rows if row.verdict != Verdict.NOT_MEASURED]
    if verdict is Verdict.OFF_MODEL:
        worst = min(measured, key=lambda row: row.order)
        return f"{view_title(worst.view)}: {worst.title}, {worst.says}."
    if not measured:
        return "Nothing could be measured: place more points."
    if verdict is Verdict.UNDECIDED:
        return "The placings are not sure enough to tell: zoom in and place again."
    decided = [row for row in measured if row.verdict == Verdict.ON_MODEL and row.excess]
    if not decided:
        return f"All {counted(len(facts.views), 'drawing')} show one figure."
    nearest = max(decided, key=lambda row: row.excess)
    return (
        f"All {counted(len(facts.views), 'drawing')} show one figure; the nearest to its limit is "
        f"{nearest.title} in the {spoken(nearest.view)} drawing, {nearest.says}."
    )


def _state(facts: Facts, view: str) -> DrawingState:
    tasks = [i for i, task in enumerate(facts.checked.instructions, 1) if task.view == view]
    verdicts = {row.verdict for row in facts.rows if row.view == view}
    undecided = sum(row.verdict == Verdict.UNDECIDED for row in facts.rows if row.view == view)
    if tasks:
        settled = sum(facts.checked.instructions[number - 1].settled for number in tasks)
        says = f"{settled} to redraw" if settled else f"{len(tasks)} not settled"
        title = view_title(view)
        return DrawingState(title, Verdict.OFF_MODEL, says, f"redraw-{tasks[0]}")
    calm = verdicts - {Verdict.OFF_MODEL, Verdict.UNDECIDED}
    says = "nothing to redraw"
    if view == facts.checked.sheet.reference:
        says = "the reference"
    elif undecided:
        says += f", {undecided} undecided"
    worst = min(calm, key=lambda name: RANK[name], default=Verdict.ON_MODEL)
    return DrawingState(view_title(view), worst, says, "")

"""The top of the page: the verdict that a supervisor reads in five seconds."""

from __future__ import annotations

from types import SimpleNamespace

from turncheck.geometry.guard_bands import Verdict
from turncheck.plain import counted, spoken, together
from turncheck.report.facts import Facts, view_title
from turncheck.report.method import tolerance_lines
from turncheck.wording.drawings import drawing_remarks
from turncheck.wording.findings import RANK
from turncheck.wording.instructions import DECIDE_FIRST
from turncheck.wording.placing import placing_remarks

_PLACINGS = {
    "canvas": "as on the canvas",
    "ground": "on own ground line",
    "fit": "fitted in size",
}


def build_masthead(facts: Facts) -> SimpleNamespace:
    """Return the verdict, the one sentence that goes with it, and each drawing at a glance."""
    verdict = Verdict(facts.summary["verdict"])
    pictures = [view.picture for view in facts.checked.sheet.views.values()]
    return SimpleNamespace(
        verdict=verdict.value,
        sentence=_sentence(facts, verdict),
        warnings=facts.checked.warnings,
        remarks=[*drawing_remarks(pictures), *placing_remarks(facts.checked.measured)],
        drawings=[(view, *_state(facts, view)) for view in facts.views],
        placing=_PLACINGS[facts.checked.sheet.placing],
        allowed=tolerance_lines(facts),
    )


def _sentence(facts: Facts, verdict: Verdict) -> str:
    if facts.checked.instructions:
        first = facts.checked.instructions[0]
        says = together(first.says)
        return f"{view_title(first.view or DECIDE_FIRST)}: {says[:1].lower()}{says[1:]}"
    if facts.checked.warnings:
        return "Mend that first: all below is measured with it."
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


def _state(facts: Facts, view: str) -> tuple[str, str, int]:
    """Return a drawing's verdict, what it says, and the number of its first task, 0 for none."""
    tasks = {n: task for n, task in enumerate(facts.checked.instructions, 1) if view in task.views}
    if tasks:
        settled = sum(task.settled for task in tasks.values())
        told = {"to redraw": settled, "to decide": len(tasks) - settled}
        says = ", ".join(f"{count} {what}" for what, count in told.items() if count)
        return Verdict.OFF_MODEL if settled else Verdict.UNDECIDED, says, min(tasks)
    if facts.checked.is_warned_of(view):
        return Verdict.UNDECIDED, "see above", 0
    verdicts = [row.verdict for row in facts.rows if row.view == view]
    undecided = verdicts.count(Verdict.UNDECIDED)
    calm = {*verdicts} - {Verdict.OFF_MODEL, Verdict.UNDECIDED}
    says = "nothing to redraw"
    if view == facts.checked.sheet.reference:
        says = "the reference"
    elif undecided:
        says += f", {undecided} undecided"
    return min(calm, key=lambda name: RANK[name], default=Verdict.ON_MODEL), says, 0

"""The top of the page: the verdict that a supervisor reads in five seconds."""

from __future__ import annotations

from types import SimpleNamespace

from turncheck.assets.pages import heading
from turncheck.geometry.guard_bands import Verdict
from turncheck.plain import capital, spoken
from turncheck.report.facts import Facts
from turncheck.wording.approval import approval_words
from turncheck.wording.drawings import drawing_remarks
from turncheck.wording.placing import placing_remarks

_PLACINGS = {
    "canvas": "the canvas",
    "ground": "ground line",
    "fit": "size and position",
}


def build_masthead(facts: Facts) -> SimpleNamespace:
    """Return the verdict, how much there is to redraw, and what is to be known before all else.

    `notes` are warnings, then remarks, each with whether it is a warning.
    """
    verdict, reference = Verdict(facts.summary["verdict"]), facts.checked.sheet.reference
    against = "what most agree on" if reference == "consensus" else f"the {spoken(reference)}"
    pictures = [view.picture for view in facts.checked.sheet.views.values()]
    warnings = [(f"{warning.says}.", True) for warning in facts.checked.warnings]
    remarks = [*drawing_remarks(pictures), *placing_remarks(facts.checked.measured)]
    approval = approval_words(facts.checked.approval)
    holds = facts.checked.approval.state == "valid"
    remarks = [approval, *remarks] if approval and not holds else remarks
    return SimpleNamespace(
        verdict=verdict.value,
        sentence=_sentence(facts, verdict),
        warnings=facts.checked.warnings,
        notes=[*warnings, *((remark, False) for remark in remarks)],
        facts=[
            f"compared with {against}",
            f"lined up by {_PLACINGS[facts.checked.sheet.placing]}",
            *([approval[:1].lower() + approval[1:].rstrip(".")] if holds else []),
        ],
    )


def _sentence(facts: Facts, verdict: Verdict) -> str:
    """Return what the verdict comes to: how many things are to be done, in how many drawings."""
    if facts.checked.instructions:
        return capital(facts.checked.how_much)
    if facts.checked.warnings:
        return "Mend this first: all below is measured with it"
    measured = [row for row in facts.rows if row.verdict != Verdict.NOT_MEASURED]
    if verdict is Verdict.OFF_MODEL:
        worst = min(measured, key=lambda row: row.order)
        return f"{heading(worst.view)}: {worst.title}, {worst.says}"
    if not measured:
        return "Nothing could be measured: place more points"
    if verdict is Verdict.UNDECIDED:
        return "The placings are not sure enough to tell: zoom in and place again"
    return capital(facts.checked.how_much)

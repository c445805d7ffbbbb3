"""Waivers, tolerances, height scales, placing errors and sums: what the verdict rests on."""

from __future__ import annotations

from types import SimpleNamespace

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.register import all_checks, tolerances_for
from turncheck.checks.verdicts import waiver_remarks
from turncheck.geometry.camera import Camera
from turncheck.geometry.guard_bands import WIDTH, Verdict
from turncheck.geometry.placing_error import people_apart
from turncheck.plain import number, spoken
from turncheck.report.facts import Facts
from turncheck.sheet.model import Waiver

PLACINGS = {
    "canvas": "heights are compared as they lie on the canvas",
    "ground": "every drawing stands on its own ground line, at its own size",
    "fit": "every drawing is fitted to the reference in size and position",
}


def build_waivers(facts: Facts) -> list[tuple[Waiver, str, str, str]]:
    """Return the sheet's waivers: the check's and the subject's title, and whether it is needed."""
    titles = {check.name: check.title for check in all_checks()}
    rows = {(row.check, row.view, row.subject.name): row for row in facts.rows}
    lines = []
    for waiver, says in waiver_remarks(facts.checked.rows, facts.checked.sheet):
        row = rows.get((waiver.check, waiver.view, waiver.subject))
        subject = row.title if row else facts.titles.get(waiver.subject, spoken(waiver.subject))
        lines.append((waiver, titles.get(waiver.check, waiver.check), subject, says or "in use"))
    return lines


def build_method(facts: Facts) -> SimpleNamespace:
    """Return what the verdict rests on.

    `nearest` tells of a clean sheet what is nearest to its tolerance; `sure` is how sure a placing
    is taken to be, in words; `camera` says where the drawings are seen from; `scales` are by view
    how it lies on the common ruler, and where its ground is, px; `errors` and `people` how well
    points are placed, and who places apart from whom.
    """
    sheet, measured = facts.checked.sheet, facts.checked.measured
    known = measured.placing
    return SimpleNamespace(
        placing=PLACINGS[sheet.placing],
        nearest=_nearest(facts),
        sure=placing_words(known.pct, sheet.placing_sd, learned=known.learned),
        camera=_seen_from(measured.camera),
        tolerances=tolerance_lines(facts),
        scales=[
            (view, measured.fitted[v], measured.height_scales[v].ground)
            for view, v in ((view, measured.views.index(view)) for view in facts.views)
        ],
        errors=measured.placing_error,
        people=people_apart(facts.checked.placings),
    )


def _nearest(facts: Facts) -> str:
    measured = [row for row in facts.rows if row.is_measured]
    decided = [row for row in measured if row.verdict is Verdict.ON_MODEL and row.excess]
    if not decided or any(row.is_off_model for row in measured):
        return ""
    nearest = max(decided, key=lambda row: row.excess)
    return (
        f"The nearest to its tolerance is {nearest.title} in the {spoken(nearest.view)} drawing, "
        f"{nearest.says}."
    )


def placing_words(used: float, stated: float, *, learned: bool) -> str:
    """Return how sure a placing is taken to be, % of the figure, and who says so.

    >>> placing_words(0.7432, 0.15, learned=True).split("tell that ")[1]
    'one placing is sure to 0.743 % of the figure, not to 0.15 % as the sheet has it'
    """
    is_sure, says = (f"{round(pct, 3):g} % of the figure" for pct in (used, stated))
    if not learned:
        return f"Where nothing better is known, one placing is taken to be sure to {says}"
    words = f"The points placed more than once tell that one placing is sure to {is_sure}"
    if is_sure == says:
        return words
    return f"{words}, not to {round(stated, 3):g} % as the sheet has it"


def _seen_from(camera: Camera) -> str:
    if camera.looks:
        return f"All drawings are measured as if seen level and from afar, but {camera.looks}."
    if not camera.known:
        return (
            "All drawings are taken to be seen level and from afar, without perspective; these "
            "can't tell whether they are."
        )
    return (
        "All drawings are taken to be seen level and from afar, and these look it: tilted by "
        f"{number(abs(camera.tilt))}° ± {number(WIDTH * camera.tilt_sd)}°."
    )


def tolerance_lines(facts: Facts) -> list[tuple[Check, Tolerances, str, list[tuple[str, float]]]]:
    """Return what each check that ran lets pass, who says so, and titles that have their own."""
    sheet = facts.checked.sheet
    compared: dict[str, set[str]] = {}
    for row in facts.rows:
        compared.setdefault(row.check, set()).update(row.placed)
    lines = []
    for check in all_checks():
        if check.name not in compared:
            continue
        allowed = tolerances_for(check, sheet)
        source = "turncheck's own"
        if check.name in sheet.tolerances:
            source = "this sheet"
        elif check.name in sheet.vocabulary.tolerances:
            source = f"the {sheet.vocabulary.name} vocabulary"
        among = compared[check.name]
        own = [(facts.titles[name], value) for name, value in allowed.own.items() if name in among]
        own += [(one.title, allowed.named[one.name]) for one in check.further]
        lines.append((check, allowed, source, own))
    return lines

"""Waivers, tolerances, height scales, placing errors and sums: what the verdict rests on."""

from __future__ import annotations

from dataclasses import dataclass

from turncheck.checks.register import all_checks, tolerances_for
from turncheck.checks.verdicts import astray
from turncheck.geometry.guard_bands import COVERAGE, Verdict
from turncheck.geometry.height_scale import HeightScale
from turncheck.geometry.placing_error import LandmarkError, PeopleApart, people_apart
from turncheck.report.facts import Facts, view_title
from turncheck.report.tables import UNITS
from turncheck.sheet.model import LANDMARKS_FILE, Waiver
from turncheck.wording.plain import spoken

PLACINGS = {
    "canvas": "heights are compared as they lie on the canvas",
    "ground": "every drawing stands on its own ground line, at its own size",
    "fit": "every drawing is fitted to the reference in size and position",
}


@dataclass(frozen=True)
class WaiverLine:
    """A deliberate departure, and whether it is needed."""

    check: str
    subject: str
    waiver: Waiver
    says: str


@dataclass(frozen=True)
class ToleranceLine:
    """What a check lets pass, and who says so."""

    title: str
    tolerance: str
    sign: str
    unit: str
    source: str
    own: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Method:
    """What the verdict rests on.

    Attributes
    ----------
    scales
        By view: how it lies on the common ruler, and where its ground is, px.
    errors, people
        How well points are placed, and who places apart from whom.
    sums
        What a file is, its name and its SHA-256 sum.
    """

    placing: str
    coverage: float
    tolerances: tuple[ToleranceLine, ...]
    scales: tuple[tuple[str, HeightScale, float], ...]
    errors: tuple[LandmarkError, ...]
    people: tuple[PeopleApart, ...]
    sums: tuple[tuple[str, str, str], ...]


def build_waivers(facts: Facts) -> tuple[WaiverLine, ...]:
    """Return the sheet's waivers."""
    titles = {check.name: check.title for check in all_checks()}
    rows = {(row.check, row.view, row.subject.name): row for row in facts.rows}
    hints = dict(astray(facts.checked.rows, facts.checked.sheet.waivers))

    def line(waiver: Waiver) -> WaiverLine:
        row = rows.get((waiver.check, waiver.view, waiver.subject))
        if row is None:
            subject = facts.titles.get(waiver.subject, spoken(waiver.subject))
            says = f"waives nothing: it is not compared there; {hints[waiver]}"
        else:
            used = row.verdict is Verdict.WAIVED
            subject, says = row.title, "in use" if used else "not needed: nothing is off there"
        return WaiverLine(titles.get(waiver.check, waiver.check), subject, waiver, says)

    return tuple(line(waiver) for waiver in facts.checked.sheet.waivers)


def build_method(facts: Facts) -> Method:
    """Return what the verdict rests on."""
    sheet, measured = facts.checked.sheet, facts.checked.measured
    drawn = {view: measured.views.index(view) for view in facts.views}
    sums = [
        (view_title(view), sheet.views[view].picture.file, facts.drawings[view].sha256)
        for view in facts.views
    ]
    return Method(
        placing=PLACINGS[sheet.placing],
        coverage=COVERAGE,
        tolerances=tolerance_lines(facts),
        scales=tuple(
            (view, measured.fitted[v], measured.height_scales[v].ground)
            for view, v in drawn.items()
        ),
        errors=measured.placing_error,
        people=people_apart(facts.checked.placings),
        sums=(*sums, ("Placings", LANDMARKS_FILE, facts.checked.landmarks_sha256)),
    )


def tolerance_lines(facts: Facts) -> tuple[ToleranceLine, ...]:
    """Return what each check that ran lets pass."""
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
        own = [
            (facts.title(name), f"{value:g}")
            for name, value in allowed.own.items()
            if name in compared[check.name]
        ]
        own += [(one.title, f"{allowed.named[one.name]:g}") for one in check.further]
        unit, sign = UNITS[check.unit]
        tolerance = f"{allowed.general:g}"
        lines.append(ToleranceLine(check.title, tolerance, sign, unit, source, tuple(own)))
    return tuple(lines)

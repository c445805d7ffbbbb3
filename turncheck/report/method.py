"""Waivers, height scales, placing errors and sums: what the verdict rests on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from turncheck.checks.register import all_checks, tolerances_for
from turncheck.checks.verdicts import astray
from turncheck.geometry.guard_bands import COVERAGE, Verdict
from turncheck.geometry.placing_error import people_apart
from turncheck.report.facts import Facts, view_title
from turncheck.report.tables import SIGNS, UNITS
from turncheck.sheet.model import Waiver
from turncheck.wording.plain import number, spoken, together

PLACINGS = {
    "canvas": "heights are compared as they lie on the canvas",
    "ground": "every drawing stands on its own ground line, at its own size",
    "fit": "every drawing is fitted to the reference in size and position",
}


@dataclass(frozen=True)
class WaiverLine:
    """A deliberate departure, who accepts it and whether it is needed."""

    check: str
    view: str
    subject: str
    reason: str
    by: str
    says: str


@dataclass(frozen=True)
class ScaleLine:
    """How one drawing lies on the common ruler."""

    view: str
    is_reference: bool
    scale: str
    scale_guard: str
    ground: str
    agreeing: str
    landmarks: int
    distrust: str


@dataclass(frozen=True)
class ErrorLine:
    """How well repeated placings of a landmark, or of all (title ''), agree.

    A reliability estimated below 0 is 0.
    """

    title: str
    people: str
    error_px: str
    error_pct: str
    reliability: str
    repeats: int


@dataclass(frozen=True)
class PeopleLine:
    """How far two people place the same points apart, and where most."""

    people: str
    both: int
    apart: str
    error_px: str
    worst: str


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
class SumLine:
    """A file and its SHA-256 sum."""

    title: str
    file: str
    sha256: str


@dataclass(frozen=True)
class Method:
    """What the verdict rests on."""

    placing: str
    coverage: str
    placing_sd: str
    tolerances: tuple[ToleranceLine, ...]
    scales: tuple[ScaleLine, ...]
    errors: tuple[ErrorLine, ...]
    people: tuple[PeopleLine, ...]
    sums: tuple[SumLine, ...]


def build_waivers(facts: Facts) -> tuple[WaiverLine, ...]:
    """Return the sheet's waivers."""
    titles = {check.name: check.title for check in all_checks()}
    rows = {(row.check, row.view, row.subject.name): row for row in facts.rows}
    hints = dict(astray(facts.checked.rows, facts.checked.sheet.waivers))

    def says(waiver: Waiver) -> str:
        if waiver in hints:
            return f"waives nothing: it is not compared there; {hints[waiver]}"
        used = rows[waiver.check, waiver.view, waiver.subject].verdict == Verdict.WAIVED.value
        return "in use" if used else "not needed: nothing is off there"

    def subject(waiver: Waiver) -> str:
        row = rows.get((waiver.check, waiver.view, waiver.subject))
        return row.title if row else facts.titles.get(waiver.subject, spoken(waiver.subject))

    return tuple(
        WaiverLine(
            check=titles.get(waiver.check, waiver.check),
            view=view_title(waiver.view),
            subject=subject(waiver),
            reason=waiver.reason,
            by=waiver.by,
            says=says(waiver),
        )
        for waiver in facts.checked.sheet.waivers
    )


def _people(facts: Facts) -> Iterator[PeopleLine]:
    landmarks = facts.checked.sheet.vocabulary.landmarks
    for row in people_apart(facts.checked.placings):
        up, right = row.up_px, row.right_px
        sides = [
            f"{abs(up):.1f} px {'higher' if up > 0 else 'lower'}",
            f"{abs(right):.1f} px farther {'right' if right > 0 else 'left'}",
        ]
        where = f"{landmarks[row.worst_landmark].title} on {spoken(row.worst_view)}"
        yield PeopleLine(
            people=f"{row.person} and {row.other}",
            both=row.both,
            apart=f"{row.other} places {', '.join(sides)}",
            error_px=number(row.tem_px, 2),
            worst=f"{where}, {row.worst_px:.1f} px",
        )


def build_method(facts: Facts) -> Method:
    """Return what the verdict rests on."""
    sheet = facts.checked.sheet
    return Method(
        placing=PLACINGS[sheet.placing],
        coverage=f"{COVERAGE:g}",
        placing_sd=f"{sheet.placing_sd:g}",
        tolerances=tolerance_lines(facts),
        scales=tuple(_scale_line(facts, view) for view in facts.views),
        errors=tuple(_errors(facts)),
        people=tuple(_people(facts)),
        sums=(
            *(
                SumLine(
                    view_title(view), sheet.views[view].picture.file, facts.drawings[view].sha256
                )
                for view in facts.views
            ),
            SumLine("Placings", "landmarks.csv", facts.checked.landmarks_sha256),
        ),
    )


def tolerance_lines(facts: Facts) -> tuple[ToleranceLine, ...]:
    """Return what each check that ran lets pass."""
    sheet = facts.checked.sheet
    used = {row.check for row in facts.rows}
    lines = []
    for check in all_checks():
        if check.name not in used:
            continue
        allowed = tolerances_for(check, sheet)
        source = "turncheck's own"
        if check.name in sheet.tolerances:
            source = "this sheet"
        elif check.name in sheet.vocabulary.tolerances:
            source = f"the {sheet.vocabulary.name} vocabulary"
        mine = {name for row in facts.rows if row.check == check.name for name in row.landmarks}
        own = tuple(
            (facts.title(name), f"{value:g}") for name, value in allowed.own.items() if name in mine
        )
        own += tuple((one.title, f"{allowed.named[one.name]:g}") for one in check.further)
        tolerance, sign = f"{allowed.general:g}", SIGNS[check.unit]
        lines.append(ToleranceLine(check.title, tolerance, sign, UNITS[check.unit], source, own))
    return tuple(lines)


def _scale_line(facts: Facts, view: str) -> ScaleLine:
    measured = facts.checked.measured
    v = measured.views.index(view)
    ruler = measured.fitted[v]
    guard = 100.0 * COVERAGE * ruler.scale_sd
    return ScaleLine(
        view=view_title(view),
        is_reference=v == measured.reference,
        scale=f"{100.0 * ruler.scale:.1f} %",
        scale_guard=f"± {guard:.1f} %" if guard < 100.0 else "",
        ground=number(measured.height_scales[v].ground, 1),
        agreeing=f"{ruler.agreeing:.0%}".replace("%", " %"),
        landmarks=ruler.landmarks,
        distrust=together(ruler.distrust),
    )


def _errors(facts: Facts) -> list[ErrorLine]:
    measured = facts.checked.measured
    return [
        ErrorLine(
            title=facts.title(error.landmark) if error.landmark else "",
            people="one person twice" if error.people == "within" else "between people",
            error_px=number(error.tem_px, 2),
            error_pct=number(measured.percent(error.tem_px), 2),
            reliability=number(max(error.reliability, 0.0), 3),
            repeats=error.repeats,
        )
        for error in measured.placing_error
    ]

"""What findings add up to: waivers, counts and the sheet's verdict."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace

from turncheck.checks.finding import Blame, Cause, Finding
from turncheck.checks.note import ViewName, joined, noted
from turncheck.errors import did_you_mean
from turncheck.geometry.guard_bands import Verdict
from turncheck.mistakes.slip import Slip
from turncheck.sheet.model import Sheet, Waiver

#: What is said of a drawing that is read the wrong way round.
MISREAD = (Cause.MIRRORED, Cause.SWAPPED, Cause.BOTH)
#: What rows are called that hold a sheet to an approved one, up and across the picture: no check
#: finds them, and waivers may name them.
BESIDE_APPROVED = ("approved", "approved_across")


def waive(findings: Iterable[Finding], waivers: Sequence[Waiver]) -> list[Finding]:
    """Return the findings with off-model rows waived where a waiver names them."""
    named = {(waiver.check, waiver.view, waiver.subject): waiver for waiver in reversed(waivers)}
    found = []
    for finding in findings:
        waiver = named.get(key_of(finding))
        if waiver and finding.is_off_model:
            note = noted("waived by {}: {}", waiver.by, waiver.reason)
            finding = replace(finding, verdict=Verdict.WAIVED, note=note)
        found.append(finding)
    return found


def put_off(findings: Iterable[Finding], slips: Sequence[Slip]) -> list[Finding]:
    """Return the findings with those undecided that a slip has to be mended for first.

    Such as read a drawing otherwise than a slip does, and outlines of drawings that are not the
    ones that their points were placed on.
    """
    told = [slip for slip in slips if slip.reading is not None]
    as_told = {(view, str(slip.reading)) for slip in told for view in slip.views}
    found = []
    for finding in findings:
        waits_for = _of_other_files(finding, slips)
        if told and finding.cause in MISREAD and (finding.view, finding.cause) not in as_told:
            waits_for = told[0]
        found.append(_waiting(finding, waits_for) if waits_for else finding)
    return found


def _of_other_files(finding: Finding, slips: Sequence[Slip]) -> Slip | None:
    """Return the slip that says that drawings are other files, where their outlines conflict."""
    if finding.subject.contradiction is None:
        return None
    views = {finding.view, *finding.blame.views}
    return next((slip for slip in slips if slip.is_of_files and views & {*slip.views}), None)


def _waiting(finding: Finding, slip: Slip) -> Finding:
    return replace(
        finding,
        verdict=Verdict.UNDECIDED,
        cause=Cause.UNKNOWN,
        blame=Blame(),
        note=noted("waits for the warning on {}", joined(map(ViewName, slip.views), ", ")),
    )


def told_first(findings: Sequence[Finding], slips: Sequence[Slip]) -> set[int]:
    """Return the rows that say again of a drawing what a slip says first."""
    if all(slip.reading is None for slip in slips):
        return set()
    return {row for row, finding in enumerate(findings) if finding.cause in MISREAD}


def key_of(finding: Finding) -> tuple[str, str, str]:
    """Return a finding's check, view and subject, as a waiver names them."""
    return finding.check, finding.view, finding.subject.name


def waiver_remarks(
    findings: Sequence[Finding], sheet: Sheet, *, beside_approved: bool = False
) -> list[tuple[Waiver, str]]:
    """Return what is to be said of each waiver, '' of one that is in use.

    Of those of what is checked, or of those of what is held to an approved sheet.
    """
    verdicts = {key_of(finding): finding.verdict for finding in findings}
    found = []
    for waiver in sheet.waivers:
        if (waiver.check in BESIDE_APPROVED) is not beside_approved:
            continue
        known = [subject for *at, subject in verdicts if at == [waiver.check, waiver.view]]
        says = ""
        if waiver.subject not in known:
            hint = did_you_mean(waiver.subject, known)
            says = f"waives nothing: it is not compared there; {hint}"
        elif waiver not in sheet.waivers_in_force:
            says = f"ended with revision {waiver.revision}"
        elif verdicts[waiver.check, waiver.view, waiver.subject] is not Verdict.WAIVED:
            says = "is not needed: nothing is off there"
        found.append((waiver, says))
    return found


def counts(findings: Iterable[Finding]) -> dict[str, int]:
    """Return how many rows have each verdict, all five named."""
    found = Counter(finding.verdict for finding in findings)
    return {verdict.value: found[verdict] for verdict in Verdict}


def overall(findings: Iterable[Finding]) -> Verdict:
    """Return the sheet's verdict.

    Off model if any row is; undecided if more rows are undecided than decided, those that no
    placing so uncertain could tell among them, or none could be measured; else on model, whatever
    is still undecided being counted beside it.
    """
    rows = list(findings)
    found = Counter(finding.verdict for finding in rows)
    if found[Verdict.OFF_MODEL]:
        return Verdict.OFF_MODEL
    decided = found[Verdict.ON_MODEL] + found[Verdict.WAIVED]
    untold = sum(finding.cause is Cause.UNSURE for finding in rows)
    enough = decided and decided >= found[Verdict.UNDECIDED] + untold
    return Verdict.ON_MODEL if enough else Verdict.UNDECIDED


def of_group(findings: Iterable[Finding]) -> Verdict:
    """Return the verdict of some rows of a sheet, not measured where none of them is."""
    measured = [finding for finding in findings if finding.is_measured]
    return overall(measured) if measured else Verdict.NOT_MEASURED

"""What is said of two revisions, on the page and in the terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from turncheck.checks.verdicts import waiver_remarks
from turncheck.errors import quoted
from turncheck.geometry.guard_bands import Verdict
from turncheck.plain import counted, listed, spoken
from turncheck.revisions.comparing import Change, Comparison, Difference
from turncheck.wording.findings import VERDICTS
from turncheck.wording.instructions import DECIDE_FIRST

#: What a change is called.
CHANGES: Mapping[Change, str] = {
    Change.WORSE: "worse",
    Change.NEW: "new",
    Change.SAME: "as before",
    Change.GONE: "can't be measured now",
    Change.FIXED: "fixed",
}
UNDECIDED = VERDICTS["undecided"]


def became(difference: Difference) -> str:
    """Return what became of a thing that was to be redrawn."""
    return UNDECIDED if difference.undecided else CHANGES[difference.change]


def counts(comparison: Comparison) -> list[tuple[Change, int]]:
    """Return the verdict on a new revision: how many things were mended, and how many not."""
    found = Counter(map(became, comparison.differences))
    shown = (Change.FIXED, Change.WORSE, Change.NEW, Change.SAME)
    return [(change, found[CHANGES[change]]) for change in shown]


def unsaid(comparison: Comparison) -> list[str]:
    """Return how many things nothing can be said of, and why; nothing where there are none."""
    found = Counter(map(became, comparison.differences))
    rest = (UNDECIDED, CHANGES[Change.GONE])
    return [f"{found[word]} {word}" for word in rest if found[word]]


def tally(comparison: Comparison) -> str:
    """Return both in one line."""
    told = [f"{count} {CHANGES[change]}" for change, count in counts(comparison)]
    return "; ".join([", ".join(told), *unsaid(comparison)])


def by_itself(comparison: Comparison) -> tuple[str, str]:
    """Return the new revision's own verdict, and how much there is to place and to redraw.

    What is on model while points are missing is so only as far as they go.
    """
    new, left = comparison.new, {(one.view, one.landmark) for one in comparison.carried.uncarried}
    verdict, parts = VERDICTS[new.verdict], []
    if left:
        count = Counter(view for view, _ in sorted(left))
        many = [f"{counted(n, 'point')} of the {spoken(view)}" for view, n in count.items()]
        parts = [f"{listed(many)} {'is' if len(left) == 1 else 'are'} missing"]
        verdict += " as far as placed" if new.verdict is Verdict.ON_MODEL else ""
    return verdict, ", ".join([*parts, new.how_much])


def told(difference: Difference) -> tuple[str, str]:
    """Return what was told of the old revision and what is told of the new one."""
    before, after = difference.before, difference.after
    now = {
        Change.FIXED: "On model.",
        Change.GONE: "Can't be measured: place its points again.",
        Change.SAME: "Told with another thing.",
    }
    if difference.undecided:
        told_now = "Too close to call: place its points again, zoomed in."
    else:
        told_now = after.says if after else now.get(difference.change, "")
    return before.says if before else "Nothing was told of it.", told_now


def where(views: tuple[str, ...]) -> str:
    """Return the drawing that is to be changed, or that it has to be decided first."""
    return views[0] if len(views) == 1 else DECIDE_FIRST


def told_beside(comparison: Comparison) -> list[str]:
    """Return whose drawings they are where not of one name, and what was carried, a sentence each.

    And what is left to place, and which waivers of what is held to the approved do nothing.
    """
    carried, left = comparison.carried.placings, comparison.carried.uncarried
    names = [of.sheet.character for of in (comparison.old, comparison.new)]
    found = []
    if names[0] != names[1]:
        found.append(f"The old sheet is of {names[0]} and the new one of {names[1]}: look again.")
    if carried:
        how = (
            "were written into its landmarks.csv"
            if comparison.written
            else "count here as if they stood in its landmarks.csv; --carry writes them there"
        )
        found.append(
            f"{counted(len(carried), 'placing')} of revision {comparison.old.sheet.revision} "
            f"{'fits' if len(carried) == 1 else 'fit'} revision {comparison.new.sheet.revision} "
            f"too, its drawing being unchanged around them: they {how}."
        )
    if left:
        several = len({(one.view, one.landmark) for one in left})
        them, they = ("it", "it") if several == 1 else ("them", "they")
        found.append(
            f"{counted(several, 'point lies', 'points lie')} where the drawing has changed, and "
            f"nothing was carried over: place {them} on the page that turncheck mark opens; its "
            f"--earlier shows where {they} lay."
        )
    for waiver, says in waiver_remarks(comparison.held, comparison.new.sheet, beside_approved=True):
        if says:
            of = f"{waiver.check} on {waiver.view}, {quoted(waiver.subject)}"
            found.append(f"The waiver of {of}, {says}.")
    return found

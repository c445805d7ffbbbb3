"""What to redraw, what to decide first, and which points to place again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from statistics import median
from types import SimpleNamespace

from turncheck.checks.finding import Cause
from turncheck.checks.register import all_checks
from turncheck.checks.verdicts import waiver_remarks
from turncheck.geometry.guard_bands import Verdict, largest_decidable
from turncheck.report.cards import Card, card_of
from turncheck.report.facts import Facts, Row

#: So many points a drawing are named, the others behind their number; chosen by eye.
NAMED = 5


def build_redraws(facts: Facts) -> SimpleNamespace:
    """Return what to redraw, drawing by drawing in the order of work.

    `cards` are by view, `questions` the numbers of what is to be decided first, and `clean` the
    views with nothing to redraw.
    """
    cards: dict[str, list[Card]] = {}
    for number, task in facts.numbered:
        if task.settled:
            cards.setdefault(task.view, []).append(card_of(facts, number, task))
    questions = [number for number, task in facts.numbered if not task.settled]
    named = {view for instruction in facts.checked.instructions for view in instruction.views}
    warned = facts.checked.is_warned_of
    clean = [view for view in facts.views if view not in named and not warned(view)]
    return SimpleNamespace(cards=cards, questions=questions, clean=clean)


def build_deciding(facts: Facts) -> SimpleNamespace | None:
    """Return what to decide, and what to place again; None where there is nothing of either.

    `cards` are the questions, `waivers` those that are not in use.
    """
    sheet = facts.checked.sheet
    cards = [card_of(facts, *one) for one in facts.numbered if not one[1].settled]
    found = SimpleNamespace(
        title="Decide first" if cards else "Points to place again",
        cards=cards,
        open=_undecided(facts),
        unsure=_unsure(facts),
        waivers=[pair for pair in waiver_remarks(facts.checked.rows, sheet) if pair[1]],
        named=NAMED,
    )
    return found if found.cards or found.open.count or found.unsure or found.waivers else None


def _unsure(facts: Facts) -> list[tuple[str, int, float]]:
    """Return what no placing as sure as these can tell.

    Returns
    -------
    list
        By check its title, how many of its comparisons that are, and how surely points would have
        to be placed for half of these, % of the figure height.
    """
    stated = facts.checked.measured.placing.pct
    enough: dict[str, list[float]] = {}
    for row in facts.rows:
        if row.cause is Cause.UNSURE:
            sure = stated * largest_decidable(row.tolerance_pct) / row.uncertainty_pct
            enough.setdefault(row.check, []).append(sure)
    told = ((check.title, enough.get(check.name, [])) for check in all_checks())
    return [(title, len(sure), median(sure)) for title, sure in told if sure]


def _undecided(facts: Facts) -> SimpleNamespace:
    """Return how many rows are undecided, and those by what helps them.

    `explained` by putting a whole drawing right; `looks` of outlines, ink and colours by no
    placing. `again` has by view the points that the rest hangs on, the most wanted first, and how
    much does.
    """
    rows = [row for row in facts.rows if row.verdict == Verdict.UNDECIDED]
    explained = {row.index for row in rows if row.index in facts.explained}
    looks = {row.index for row in rows if not row.placed}
    aside = explained | looks
    return SimpleNamespace(
        count=len(rows),
        explained=len(explained),
        looks=len(looks),
        again=_again(facts.views, (row for row in rows if row.index not in aside)),
    )


def _again(views: Iterable[str], undecided: Iterable[Row]) -> dict[str, list[tuple[str, int]]]:
    """Return, by view, the landmarks that undecided rows rest on, the most wanted first."""
    rest = {view: Counter[str]() for view in views}
    for row in undecided:
        rest[row.view].update(row.placed)
    return {view: counts.most_common() for view, counts in rest.items() if counts}

"""What to redraw: the list that the work is done from."""

from __future__ import annotations

from types import SimpleNamespace

from turncheck.report.cards import Card, card_of
from turncheck.report.facts import Facts


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

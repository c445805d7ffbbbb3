"""How long a whole sheet takes to place, by the keystroke-level model, on the real page.

The times are those of Card, Moran and Newell (1980), CACM 23(7):396-410: K 0.20 s a key or a press
of the button (an average skilled typist), P 1.10 s to point, M 1.35 s to prepare. The right hand
stays at the mouse and the left at the keyboard, so that no hand homes (H). M is counted once for
each point on the first drawing, a pair being one since its other side follows as expected, once for
the ground of all, and on the other drawings once for each group of points that is shown and walked
as one. As the model is one of experts, so is the hand: it makes no error but a slip of the pointer.
"""

from __future__ import annotations

import csv
import math
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.browser.marking_pages import Running, open_page, place_by_hand, rests, truth
from tests.browser.pages import NewPage
from tests.places import SAMPLES
from turncheck.checking import check
from turncheck.checks.register import open_sheet

pytestmark = pytest.mark.browser

KEY, POINT, MENTAL = 0.20, 1.10, 1.35
#: Screen px by which a hand slips, and within which a proposal that is looked at is let pass.
SLIP, LET_PASS = 1.0, 5.0
BEFORE = 5.2  # minutes for Pim's 143 points by the same count, when each was clicked for itself


def test_a_sheet_of_four_drawings_takes_half_the_time(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start("pim")
    opened = open_page(new_page, running)
    page, where = opened.page, truth("pim")
    hand = np.random.default_rng(1)
    with (SAMPLES / "pim" / "landmarks.csv").open(encoding="utf-8") as file:
        seen = {(row["view"], row["landmark"]): row for row in csv.DictReader(file)}
    did: Counter[str] = Counter()
    minds: set[object] = set()
    parts = open_sheet(SAMPLES / "pim").vocabulary.landmarks

    def put(
        view: str, name: str, aim: tuple[float, float], offered: tuple[float, float] | None
    ) -> None:
        if offered and name == "ground":
            offered = (aim[0], offered[1])
        if offered and math.dist(aim, offered) <= LET_PASS:
            page.keyboard.press("t")
            did["taken"] += 1
        else:
            page.mouse.click(
                *(round(a + s) for a, s in zip(aim, hand.normal(0, SLIP, 2), strict=True))
            )
            did["point"] += 1
        whole = view == "front" or name == "ground"
        minds.add(stem(name) if whole else (view, stem(parts[name].part)))
        rests(page)

    did += place_by_hand(page, seen, where, put)
    minutes = (KEY * did["key"] + POINT * did["point"] + MENTAL * len(minds)) / 60
    print(f"{len(seen)} points: {minutes:.2f} min; {dict(did)}, {len(minds)} M")
    assert set(running.rows) == {(view, name, "") for view, name in seen}
    done, _, every, *_ = page.locator("#done").inner_text().split()
    assert done == every
    assert minutes <= 0.5 * BEFORE
    assert opened.faults == []
    assert redraws(running.folder) == redraws(SAMPLES / "pim")


def stem(name: str) -> str:
    return name.removesuffix("_l").removesuffix("_r")


def redraws(folder: Path) -> set[tuple[object, ...]]:
    """What the check says is to be redrawn, without its figures."""
    told = check(folder).instructions
    return {(one.views, one.work, one.kind, one.landmarks) for one in told}

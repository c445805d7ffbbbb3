"""Placings are carried where a drawing is unchanged, and nowhere else.

Samples with a part moved, and two open bodies of `tests.outside.bodies`; every drawing is made
anew at another scale, a degree or two turned, on paper, as JPEG.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest

import turncheck
from tests.outside.rendering import write_sheet
from tests.places import SAMPLES
from tests.revisions.redrawn import (
    OUTSIDE,
    REDRAWN,
    YAWS,
    Redrawn,
    body_or_skip,
    redrawn_body,
)
from tests.samples import checked
from turncheck.checks.register import open_sheet
from turncheck.instructions.result import Result
from turncheck.revisions.carrying import Carried, carry

HEIGHT_PX = 600.0
#: What moved, and what stayed, % of the figure height; by eye.
MOVED, STAYED = 0.5, 0.05


@dataclass(frozen=True)
class Outcome:
    old: Result
    anew: Redrawn
    carried: Carried

    def points(self, low: float, high: float, hidden: bool = False) -> set[tuple[str, str]]:
        """The points placed on the redrawn views that moved so far, % of the figure height."""
        return {
            (one.view, one.landmark)
            for one in self.old.placings
            if one.view in self.anew.pictures
            and one.hidden <= hidden
            and low <= 100.0 * self.anew.moved(one.view, one.landmark) / self.anew.height < high
        }

    @property
    def taken(self) -> set[tuple[str, str]]:
        return {(one.view, one.landmark) for one in self.carried.placings}


@pytest.fixture(scope="module")
def outcome(tmp_path_factory):
    @cache
    def made(name: str) -> Outcome:
        if name in OUTSIDE:
            folder = tmp_path_factory.mktemp(name)
            write_sheet(folder, body_or_skip(name), YAWS, height_px=HEIGHT_PX, noise_sd_pct=0.15)
            old, anew = turncheck.check(folder), redrawn_body(name, HEIGHT_PX)
        else:
            folder, old, anew = SAMPLES / name, checked(name), REDRAWN[name]()
        settings = (folder / "sheet.toml").read_text("utf-8")
        parts = re.split(r"(?m)^(?=\[)", settings)
        kept = [part for part in parts if _view(part) in {"", *anew.pictures}]
        new = open_sheet(anew.write(tmp_path_factory.mktemp(f"{name}-new"), "".join(kept)))
        return Outcome(old, anew, carry(old, new, ()))

    return made


def _view(part: str) -> str:
    found = re.match(r"\[views\.(\w+)\]", part)
    return found[1] if found else ""


NAMES = (*REDRAWN, *OUTSIDE)


@pytest.mark.parametrize("name", NAMES)
def test_no_point_that_moved_is_carried(outcome, name):
    found = outcome(name)
    moved = found.points(MOVED, np.inf, hidden=True)
    assert len(moved) >= 9
    assert not moved & found.taken
    proposed = {(one.view, one.landmark) for one in found.carried.uncarried}
    assert moved <= proposed and not proposed & found.taken


def test_nineteen_of_twenty_points_that_stayed_are_carried(outcome):
    stayed = [outcome(name).points(0.0, STAYED) for name in NAMES]
    taken = [outcome(name).taken for name in NAMES]
    shares = [len(s & t) / len(s) for s, t in zip(stayed, taken, strict=True)]
    assert min(shares) >= 0.9, shares
    both = sum(len(s & t) for s, t in zip(stayed, taken, strict=True))
    assert both >= 0.95 * sum(map(len, stayed)), shares


def test_a_carried_placing_is_where_it_was_as_surely_as_it_says(outcome):
    """Of all together: points of one drawing share how it was laid, and err alike."""
    held = {name: np.abs(_errors(outcome(name))) < 1.96 for name in NAMES}
    assert min(np.mean(one) for one in held.values()) >= 0.95
    assert np.mean(np.concatenate(list(held.values()))) >= 0.95


def _errors(found: Outcome) -> list[float]:
    """How far carried placings lie from where they should, in their standard uncertainties."""
    placed = {(one.view, one.landmark): one for one in found.old.placings}
    stayed = found.points(0.0, STAYED, hidden=True)
    errors = []
    for one in found.carried.placings:
        if (one.view, one.landmark) in stayed:
            was = placed[one.view, one.landmark]
            true = found.anew.matrices[one.view] @ (was.x, was.y, 1.0)
            sd = found.carried.laid[one.view].sd(was.x, was.y)
            errors += [(one.x - true[0]) / sd, (one.y - true[1]) / sd]
    return errors


def test_a_sd_grows_by_the_registration_and_by_the_scale(outcome):
    found = outcome("adult_female")
    placed = {(one.view, one.landmark): one for one in found.old.placings}
    for one in found.carried.placings:
        was = placed[one.view, one.landmark]
        lies = found.carried.laid[one.view]
        assert one.sd == pytest.approx(np.hypot(was.sd * lies.scale, lies.sd(was.x, was.y)))
        assert (one.placed_by, one.hidden) == (was.placed_by, was.hidden)


def test_what_the_new_sheet_has_placed_itself_is_neither_carried_nor_proposed(outcome):
    found = outcome("adult_female")
    own = found.old.placings[3]
    again = carry(found.old, found.old.sheet, [own])
    named = {(one.view, one.landmark) for one in (*again.placings, *again.uncarried)}
    assert (own.view, own.landmark) not in named
    assert len(again.placings) == len(found.old.placings) - 1  # the same files: all else fits


def test_of_another_drawing_nothing_is_carried(outcome, tmp_path):
    found = outcome("adult_female")
    rng = np.random.default_rng(0)
    other = {
        view: rng.integers(0, 255, (300, 200, 3)).astype(np.uint8) for view in found.anew.pictures
    }
    settings = (found.old.sheet.folder / "sheet.toml").read_text("utf-8")
    folder = Redrawn(300.0, other, {}, {}, {}).write(tmp_path / "other", settings)
    carried = carry(found.old, open_sheet(folder), ())
    assert not carried.placings and not carried.laid
    assert len(carried.uncarried) == len(found.old.placings)
    assert all(np.isnan(one.x) for one in carried.uncarried)

"""Flipped drawings: which are told as each other's mirror image, and what differs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import turncheck
from tests.report.flipped import flipped_odo
from tests.samples import checked
from turncheck.checking import Checked
from turncheck.geometry.measurement import Measurement
from turncheck.handover.flips import Flip, find_flips
from turncheck.handover.ghost import points_of
from turncheck.handover.matrices import applied
from turncheck.images.features import ImageFeatures
from turncheck.report.facts import gather
from turncheck.report.flips import build_flips


@pytest.fixture(scope="module")
def flipped(tmp_path_factory) -> Checked:
    return turncheck.check(flipped_odo(tmp_path_factory.mktemp("flipped") / "odo"))


def pair(measured: Measurement) -> Flip:
    (found,) = find_flips(measured)
    assert (found.view, found.other) == ("three_quarter", "other")
    return found


def with_other(measured: Measurement, **changes: Any) -> Measurement:
    """The sheet with other features of the flipped drawing."""
    v = measured.views.index("other")
    features: list[ImageFeatures] = list(measured.features)
    features[v] = replace(features[v], **changes)
    return replace(measured, features=tuple(features))


def with_views(measured: Measurement, changes: Mapping[str, Mapping[str, Any]]) -> Measurement:
    views = {
        name: replace(view, **changes.get(name, {})) for name, view in measured.sheet.views.items()
    }
    return replace(measured, sheet=replace(measured.sheet, views=views))


def says(checked: Checked, measured: Measurement) -> str:
    facts = gather(replace(checked, measured=measured), checked.summary())
    sections = build_flips(facts)
    assert sections is not None
    words = " ".join(" ".join(one.says) for one in sections)
    return words.replace("\N{NO-BREAK SPACE}", " ")


def test_a_drawing_flipped_line_for_line_is_told_with_the_badge_that_changed_sides(flipped):
    found = pair(flipped.measured)
    assert found.why == "yaw"
    assert found.exact
    assert not found.differs
    (badge,) = found.points
    assert badge.name == "badge"
    assert found.changed_sides(badge)
    words = says(flipped, flipped.measured)
    assert "other drawing is the three quarter drawing flipped, line for line" in words
    assert "Badge, which belongs to one side only, has changed sides" in words


def test_the_page_shows_the_drawing_and_the_flipped_one(flipped, tmp_path: Path):
    flipped.save(tmp_path)
    html = (tmp_path / "report.html").read_text("utf-8")
    section = html[html.index('id="flips"') : html.index('id="tables"')]
    assert section.count('class="take on-paper"') == 2
    assert 'transform="matrix(-' in section
    assert "other, flipped" in section


def test_the_flip_lays_each_point_on_its_twin(flipped):
    found, measured = pair(flipped.measured), flipped.measured
    here, there = (points_of(measured, view).spots for view in ("three_quarter", "other"))
    for name in ("knee_l", "elbow_r", "nose_tip"):
        twin = measured.sheet.vocabulary.landmarks[name].twin or name
        away = np.subtract(applied(found.matrix, there[twin]), here[name])
        assert np.hypot(*away) < 1.0, name


def test_a_badge_that_stays_on_its_side_would_be_moved_by_a_flip(flipped):
    measured = flipped.measured
    x = measured.x.copy()
    x[measured.views.index("other"), measured.landmarks.index("badge")] -= 70.0
    found = pair(replace(measured, x=x))
    (badge,) = found.points
    assert badge.apart == pytest.approx(70.0, abs=1.0)
    assert found.differs
    assert "a flip would move it 70 px (5.3 %)" in says(flipped, replace(measured, x=x))


@pytest.mark.parametrize(("px", "told"), [(8.0, 0), (18.0, 1)])  # 1 % of the figure is 13 px
def test_an_outline_that_differs_is_told_from_one_per_cent_on(flipped, px, told):
    measured = flipped.measured
    left = measured.features[measured.views.index("other")].left.copy()
    left[400:460] -= px
    found = pair(with_other(measured, left=left))
    assert len(found.outline) == told
    for one in found.outline:
        assert one.side == "right"  # once it is flipped
        assert one.most == pytest.approx(px, abs=1.0)
        assert one.y[[0, -1]] == pytest.approx([400, 460], abs=5.0)


def test_what_is_drawn_in_one_only_is_boxed(flipped):
    measured = flipped.measured
    seen = measured.features[measured.views.index("other")]
    detail, drawn = seen.detail, seen.detail.drawn.copy()
    row = round(drawn.shape[0] * 0.3)
    y = detail.y + row * detail.cell
    flat = ~drawn[row - 6 : row + 7].any(axis=0)  # between the lines of a sleeve
    x = detail.x + np.arange(len(flat)) * detail.cell
    flat &= (x > seen.left[round(y)] + 30.0) & (x < seen.right[round(y)] - 30.0)
    runs = np.split(np.flatnonzero(flat), np.flatnonzero(np.diff(np.flatnonzero(flat)) > 1) + 1)
    column = int(np.median(max(runs, key=len)))
    drawn[row - 2 : row + 3, column - 2 : column + 3] = True
    found = pair(with_other(measured, detail=replace(detail, drawn=drawn)))
    (box,) = found.places
    across, down = applied(found.matrix, (float(x[column]), y))
    assert box[0] < across < box[2]
    assert box[1] < down < box[3]
    assert not found.exact


def test_a_colour_that_one_lacks_is_told(flipped):
    measured = flipped.measured
    v, w = (measured.views.index(view) for view in ("three_quarter", "other"))
    common = [paint for paint in measured.paints if paint.fills[v] and paint.fills[w]]
    largest = max(common, key=lambda paint: paint.fills[v].share)
    fills = [*largest.fills[:w], None, *largest.fills[w + 1 :]]
    lacking = replace(largest, fills=tuple(fills))
    paints = tuple(lacking if paint is largest else paint for paint in measured.paints)
    found = pair(replace(measured, paints=paints))
    assert found.fills == ((largest.fills[v], True),)


def test_the_sheet_may_name_a_flip_and_outlines_may_give_it_away(flipped):
    elsewhere = with_views(flipped.measured, {"other": {"yaw": -80.0}})
    assert pair(elsewhere).why == "alike"
    named = with_views(flipped.measured, {"other": {"yaw": -80.0, "flip_of": "three_quarter"}})
    assert pair(named).why == "named"


@pytest.mark.parametrize("sample", ["odo", "pim", "brindle"])
def test_drawings_from_other_sides_are_no_flips(sample):
    assert find_flips(checked(sample).measured) == []
    assert build_flips(gather(checked(sample), checked(sample).summary())) is None

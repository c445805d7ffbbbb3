"""The line-up: the drawings stand on one ground at one scale, the marks where the points are."""

from __future__ import annotations

from itertools import accumulate, pairwise
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.report.drifting import LOW_ARM, drifting_sheet, resized
from tests.sheets import BODY, FIGURE
from turncheck.checking import check
from turncheck.plain import number
from turncheck.report.driftmap import build_driftmap
from turncheck.report.facts import Facts, gather, slugs
from turncheck.report.lineup import build_lineup, spread

pytestmark = pytest.mark.usefixtures("looked_at_once")


def facts_of(folder: Path) -> Facts:
    checked = check(folder)
    return gather(checked, checked.summary())


def mark(lineup: SimpleNamespace, view: str, title: str) -> SimpleNamespace:
    drawing = next(d for d in lineup.drawings if d.name == view)
    return next(m for m in drawing.marks if m.title == title)


@pytest.fixture(scope="module")
def clean(tmp_path_factory: pytest.TempPathFactory) -> Facts:
    return facts_of(drifting_sheet(tmp_path_factory.mktemp("clean")))


@pytest.fixture(scope="module")
def drifted(tmp_path_factory: pytest.TempPathFactory) -> Facts:
    return facts_of(drifting_sheet(tmp_path_factory.mktemp("drifted"), drift=LOW_ARM))


def test_a_clean_body_has_each_point_at_one_height_in_all_drawings(clean: Facts) -> None:
    lineup = build_lineup(clean)
    for name, title in (("chin", "chin"), ("knee_l", "left knee"), ("crown", "crown")):
        for drawing in lineup.drawings:
            at = next(m for m in drawing.marks if m.title == title)
            assert at.y == pytest.approx(-10.0 * BODY[name][1], abs=0.02)


def test_the_reference_comes_first_then_the_figure_turns_away(tmp_path: Path) -> None:
    views = {"back": 180.0, "side": 90.0, "front": 0.0, "three_quarter": 45.0}
    lineup = build_lineup(facts_of(drifting_sheet(tmp_path, views=views, reference="front")))
    order = [drawing.name for drawing in lineup.drawings]
    assert order == ["front", "three_quarter", "side", "back"]


def test_drawings_do_not_stand_in_each_other(clean: Facts) -> None:
    drawings = build_lineup(clean).drawings
    for left, right in pairwise(drawings):
        assert max(m.x for m in left.marks) < min(m.x for m in right.marks)


def test_an_arrow_leads_back_to_where_the_point_was_before_it_drifted(drifted: Facts) -> None:
    lineup = build_lineup(drifted)
    for title, name in (("left shoulder", "shoulder_l"), ("left wrist", "wrist_l")):
        moved = mark(lineup, "side", title)
        assert moved.verdict == "off_model"
        assert moved.to is not None
        assert moved.to == pytest.approx((moved.x, -10.0 * BODY[name][1]), abs=0.2)
        assert abs(moved.turn) == pytest.approx(180.0)  # up the page


def test_points_that_are_right_get_no_arrow(drifted: Facts) -> None:
    lineup = build_lineup(drifted)
    arrows = {m.id for d in lineup.drawings for m in d.marks if m.to is not None}
    assert arrows == {f"mark-side-{name}" for _, name in LOW_ARM}


def test_a_drift_across_points_back_across(tmp_path: Path) -> None:
    drift = {("front", name): (6.0, 0.0) for name in ("knee_l", "knee_r")}
    lineup = build_lineup(facts_of(drifting_sheet(tmp_path, drift=drift)))
    knee = mark(lineup, "front", "left knee")
    assert knee.to is not None
    assert knee.to[0] == pytest.approx(knee.x - 6.0 * 1000 / FIGURE, abs=0.5)
    assert knee.to[1] == knee.y


def test_when_the_reference_is_outvoted_the_mark_on_the_reference_is_off(tmp_path: Path) -> None:
    drift = {("front", "chin"): (0.0, 6.0)}
    lineup = build_lineup(facts_of(drifting_sheet(tmp_path, drift=drift)))
    assert mark(lineup, "front", "chin").verdict == "off_model"
    assert mark(lineup, "front", "chin").to is not None
    assert mark(lineup, "side", "chin").verdict == "on_model"
    assert mark(lineup, "side", "chin").to is None


def test_the_reference_heights_are_ruled_and_level_pairs_share_a_line(clean: Facts) -> None:
    rules = {title: (y, side) for title, y, _, side in build_lineup(clean).rules}
    assert rules["knee"][0] == pytest.approx(-280.0, abs=0.1)
    assert "left knee" not in rules
    assert rules["knee"][1] == "right"
    assert rules["chin"][1] == "left"
    assert rules["ground"][0] == pytest.approx(0.0, abs=1e-6)


def test_names_in_the_margin_do_not_touch(clean: Facts) -> None:
    lineup = build_lineup(clean)
    for side in ("left", "right"):
        labels = [label for _, _, label, where in lineup.rules if where == side]
        gaps = [b - a for a, b in pairwise(labels)]
        assert min(gaps) > 11.0 * lineup.unit  # a line of 12 px words, less its lead


places = st.lists(st.floats(-1000, 1000), max_size=40).map(sorted)


@given(places, st.floats(0.1, 50))
def test_spread_names_keep_their_order_their_distance_and_the_page(
    wanted: list[float], gap: float
) -> None:
    found = spread(wanted, gap, -1000.0, 1000.0)
    step = min(gap, 2000.0 / max(len(wanted) - 1, 1))
    assert len(found) == len(wanted)
    for one, other in pairwise(found):
        assert other - one >= step - 1e-6
    assert all(-1000.0 - 1e-6 <= place <= 1000.0 + 1e-6 for place in found)


@given(st.lists(st.floats(1.0, 100.0), max_size=15))
def test_names_that_have_room_stay_where_they_belong(gaps: list[float]) -> None:
    wanted = list(accumulate(gaps, initial=0.0))
    assert spread(wanted, 1.0, 0.0, 2000.0) == pytest.approx(wanted)


@given(st.lists(st.text(max_size=12), max_size=20, unique=True))
def test_ids_are_unique_and_fit_for_an_address(names: list[str]) -> None:
    found = slugs("at", names)
    assert len(set(found.values())) == len(names)
    assert all(slug.replace("-", "").replace("_", "").isalnum() for slug in found.values())
    assert all(slug.isascii() for slug in found.values())


def test_the_drift_map_says_low_with_a_minus_and_runs_from_head_to_foot(drifted: Facts) -> None:
    grid = build_driftmap(drifted)
    titles = [title for title, _ in grid]
    order = ["crown", "chin", "left shoulder", "left knee", "left ankle"]
    assert [title for title in titles if title in order] == order
    side = drifted.views.index("side")
    shoulder = grid[titles.index("left shoulder")][1][side]
    assert shoulder.row is not None and shoulder.step == "low-3"
    assert (round(shoulder.row.drift_pct, 1), shoulder.row.verdict) == (-3.0, "off_model")
    chin = grid[titles.index("chin")][1][side]
    assert chin.row is not None and chin.step == "level"
    assert number(chin.row.drift_pct) == "0.0"


def test_where_the_reference_is_too_large_the_marks_are_red_on_it_and_quiet_elsewhere(
    tmp_path: Path,
) -> None:
    facts = facts_of(drifting_sheet(tmp_path, drift=resized("front", 0.04)))
    assert {task.view for task in facts.checked.instructions} == {"front"}
    lineup = build_lineup(facts)
    for title in ("chin", "left shoulder"):
        assert mark(lineup, "front", title).verdict == "off_model"
        assert "scale it to" in mark(lineup, "front", title).says
        for view in ("three_quarter", "side", "back"):
            assert mark(lineup, view, title).verdict == "on_model"
    front = {title: cells[0].step for title, cells in build_driftmap(facts)}
    assert front["chin"] == "odd"


def test_of_two_knees_that_are_not_level_only_the_moved_one_is_marked_off(tmp_path: Path) -> None:
    drift = {("back", "knee_r"): (0.0, 4.0)}
    lineup = build_lineup(facts_of(drifting_sheet(tmp_path, drift=drift)))
    assert mark(lineup, "back", "right knee").verdict == "off_model"
    assert mark(lineup, "back", "left knee").verdict == "on_model"


def test_the_drift_map_says_when_the_reference_is_the_odd_one_out(tmp_path: Path) -> None:
    grid = build_driftmap(facts_of(drifting_sheet(tmp_path, drift={("front", "chin"): (0.0, 6.0)})))
    front = {title: cells[0] for title, cells in grid}
    assert front["chin"].step == "odd" and front["chin"].row is not None
    assert front["mouth"].step == "reference"

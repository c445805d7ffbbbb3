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
from turncheck.report.driftmap import build_driftmap
from turncheck.report.facts import Facts, gather, slugs
from turncheck.report.lineup import build_lineup, spread


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
        assert abs(moved.move.turn) == pytest.approx(180.0)  # up the page


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


def lanes_of(facts: Facts) -> dict[str, dict[str, SimpleNamespace]]:
    """The dots of the drift plot by landmark and drawing."""
    found: dict[str, dict[str, SimpleNamespace]] = {}
    for line in build_driftmap(facts).lines:
        for lane in line.lanes:
            for spot in lane.spots:
                found.setdefault(spot.row.subject.name, {})[spot.row.view] = spot
    return found


def test_the_drift_plot_runs_from_head_to_foot_and_low_lies_left(drifted: Facts) -> None:
    section = build_driftmap(drifted)
    titles = [line.title for line in section.lines]
    order = ["crown", "chin", "left and right shoulder", "left and right knee"]
    assert [title for title in titles if title in order] == order
    shoulder = lanes_of(drifted)["shoulder_l"]["side"]
    assert shoulder.x < shoulder.high < 50.0
    assert (round(shoulder.row.drift_pct, 1), shoulder.row.verdict) == (-3.0, "off_model")
    assert shoulder.label.startswith("side: left 4.8")
    chin = lanes_of(drifted)["chin"]["side"]
    assert (chin.x, chin.label) == (pytest.approx(50.0, abs=0.1), "")


def test_one_scale_holds_for_all_dots_and_bands(drifted: Facts) -> None:
    lines = build_driftmap(drifted).lines
    spots = [spot for line in lines for lane in line.lanes for spot in lane.spots]
    per_pct = {
        round((spot.x - 50.0) / spot.row.drift_pct, 3)
        for spot in spots
        if abs(spot.row.drift_pct) > 0.1 and not spot.beyond
    }
    assert len(per_pct) == 1
    (scale,) = per_pct
    for line in lines:
        for lane in line.lanes:
            x, wide = lane.band
            assert x + wide / 2 == pytest.approx(50.0)
            assert wide / 2 == pytest.approx(scale * lane.spots[0].row.tolerance_pct, abs=0.01)
            for spot in lane.spots:
                if spot.low > 4.0 and spot.high < 96.0:
                    half = (spot.high - spot.low) / 2
                    assert half == pytest.approx(scale * spot.row.width_pct, abs=0.01)


def test_what_lies_far_off_is_clipped_and_its_number_written(tmp_path: Path) -> None:
    facts = facts_of(drifting_sheet(tmp_path, drift={("back", "chin"): (0.0, 14.0)}))
    spots = lanes_of(facts)
    chin = spots["chin"]["back"]
    assert chin.beyond == "+8.8\N{NO-BREAK SPACE}%"
    assert chin.x == max(spot.x for spot in spots["chin"].values()) < 100.0
    assert not any(spot.beyond for name in spots if name != "chin" for spot in spots[name].values())


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
    plot = build_driftmap(facts)
    assert plot.done == [(1, plot.done[0][1])]
    assert plot.done[0][1].startswith("the front scaled to 96.")
    for spots in lanes_of(facts).values():
        assert all(spot.label == "" and abs(spot.row.drift_pct) < 0.5 for spot in spots.values())


def test_a_drawing_that_is_too_large_is_put_right_before_its_points_are_shown(
    tmp_path: Path,
) -> None:
    """One fault of size would else throw off every dot of the drawing."""
    drift = resized("back", 0.03)
    drift["back", "knee_r"] = (0.0, drift["back", "knee_r"][1] + 4.0)
    facts = facts_of(drifting_sheet(tmp_path, drift=drift))
    plot = build_driftmap(facts)
    labels = [spot.label for line in plot.lines for spot in line.labelled]
    assert len(labels) == 1 and labels[0].startswith("back: right 4.")
    assert [says[:17] for _, says in plot.done] == ["the back scaled t"]
    crown = lanes_of(facts)["crown"]["back"]
    assert facts.rows[crown.row.index].verdict == "off_model"
    assert crown.row.verdict == "on_model"
    assert crown.says.endswith("on model once whole drawings are right")


def test_of_two_knees_that_are_not_level_only_the_moved_one_is_marked_off(tmp_path: Path) -> None:
    drift = {("back", "knee_r"): (0.0, 4.0)}
    lineup = build_lineup(facts_of(drifting_sheet(tmp_path, drift=drift)))
    assert mark(lineup, "back", "right knee").verdict == "off_model"
    assert mark(lineup, "back", "left knee").verdict == "on_model"


def test_the_drift_plot_says_when_the_reference_is_the_odd_one_out(tmp_path: Path) -> None:
    facts = facts_of(drifting_sheet(tmp_path, drift={("front", "chin"): (0.0, 6.0)}))
    spots = lanes_of(facts)
    assert spots["chin"]["front"].label.startswith("front: 6.0")
    assert not any(spots["chin"][view].label for view in facts.views if view != "front")
    assert spots["mouth"]["front"].row.verdict == "on_model"


def test_drawings_that_split_are_told_so_once(tmp_path: Path) -> None:
    drift = {(view, "mouth"): (0.0, 4.0) for view in ("front", "side")}
    plot = build_driftmap(facts_of(drifting_sheet(tmp_path, drift=drift)))
    mouth = next(line for line in plot.lines if line.title == "mouth")
    assert [spot.label for spot in mouth.labelled] == ["split 2 to 2: decide which is right"]


def test_leaders_join_each_point_of_the_figure_to_its_line(drifted: Facts) -> None:
    plot = build_driftmap(drifted)
    assert plot.figure is not None
    ends = [line for *_, line in plot.figure.leaders]
    assert ends == [24.0 * (n + 0.5) for n in range(len(plot.lines))]
    heights = [y for _, y, *_ in plot.figure.leaders]
    assert heights == pytest.approx(sorted(heights), abs=1.0)  # head to foot, like the lines
    wide, tall = plot.figure.size
    assert all(0 < x < wide and 0 <= y <= tall for x, y, *_ in plot.figure.leaders)

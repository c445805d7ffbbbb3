"""The cards: each drawing as it is, and put right by as much as its instruction says."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tests.places import SAMPLES
from tests.report.drifting import LOW_ARM, drifting_sheet, resized
from tests.report.faulty import SCARF, checked_faulty_pim
from tests.samples import checked
from tests.sheets import AXIS, FIGURE, GROUND, VIEWS, body, make_sheet, placed
from turncheck.checking import Checked, check
from turncheck.checks.finding import Kind
from turncheck.geometry.outlines import Contradiction, Remedy
from turncheck.handover.ghost import Points, moved_pieces, points_of, turned
from turncheck.handover.matrices import Spot, applied
from turncheck.instructions import Instruction, Work
from turncheck.report.cards import Card, Picture, card_of
from turncheck.report.deciding import build_redraws
from turncheck.report.facts import Facts, gather
from turncheck.sheet.vocabulary import Landmark


def cards_of(facts: Facts) -> list[Card]:
    return [card_of(facts, *one) for one in facts.numbered]


def facts_of(checked: Checked) -> Facts:
    return gather(checked, checked.summary())


def cards(folder: Path) -> list[Card]:
    return cards_of(facts_of(check(folder)))


@pytest.fixture(scope="module")
def drifted(tmp_path_factory: pytest.TempPathFactory) -> Facts:
    folder = drifting_sheet(tmp_path_factory.mktemp("drifted"), drift=LOW_ARM)
    return facts_of(check(folder))


@pytest.fixture(scope="module")
def faulty() -> Facts:
    return facts_of(checked_faulty_pim())


def shown(facts: Facts, kind: Kind, view: str) -> Picture:
    (picture,) = [
        card.pictures[0]
        for card in cards_of(facts)
        if card.task.kind is kind and card.task.view == view
    ]
    return picture


def drawn(view: str, name: str, yaw: float | None = None) -> Spot:
    """Where a body without drift has a landmark, px of the drawing."""
    x, y, z = body()[name]
    turn = math.radians(VIEWS[view] if yaw is None else yaw)
    across = x * math.cos(turn) + z * math.sin(turn)
    return AXIS + FIGURE / 100.0 * across, GROUND - FIGURE / 100.0 * y


# --- Parts and points


def test_a_card_shows_its_points_inside_its_picture(drifted: Facts) -> None:
    redraws = build_redraws(drifted)
    assert list(redraws.cards) == ["side"]
    ((card,),) = redraws.cards.values()
    (picture,) = card.pictures
    x, y, width, height = picture.box
    assert len(picture.points) == len(picture.moves) == len(LOW_ARM)
    for point, way in picture.moves:
        for px, py in (point, way.applied(*point)):
            assert x < px < x + width and y < py < y + height
    assert redraws.clean == ["front", "three_quarter", "back"]


def test_a_part_put_right_has_its_points_where_the_body_has_them(drifted: Facts) -> None:
    picture = shown(drifted, Kind.POINT, "side")
    points = points_of(drifted.checked.measured, "side")
    for view, name in LOW_ARM:
        right = drawn(view, name)
        for piece in picture.ghost.pieces:  # the arm goes as one
            assert applied(piece.matrix, points.spots[name]) == pytest.approx(right, abs=0.5)


def limb(**spots: Spot) -> Points:
    marks = {
        name: Landmark(name, "width" if name == "toe_l" else "pivot", part="leg_l", twin="there")
        for name in spots
    }
    return Points(marks, spots, frozenset(), 100.0)


LEG: Mapping[str, Spot] = {
    "hip_l": (50.0, 50.0),
    "knee_l": (52.0, 72.0),
    "ankle_l": (50.0, 95.0),
    "toe_l": (58.0, 99.0),
}


def test_between_a_point_that_goes_and_those_that_stay_the_limb_is_joined() -> None:
    thigh, shin = moved_pieces(limb(**LEG), ["knee_l"], (1.0, 4.0))
    there = pytest.approx((53.0, 76.0), abs=1e-9)
    assert applied(thigh.matrix, LEG["hip_l"]) == pytest.approx(LEG["hip_l"])
    assert applied(thigh.matrix, LEG["knee_l"]) == there
    assert applied(shin.matrix, LEG["knee_l"]) == there
    assert applied(shin.matrix, LEG["ankle_l"]) == pytest.approx(LEG["ankle_l"])
    a, b, c, d, _, _ = thigh.matrix
    long, new = math.dist(LEG["hip_l"], LEG["knee_l"]), math.dist(LEG["hip_l"], (53.0, 76.0))
    assert a * d - b * c == pytest.approx(new / long)  # longer, but no thicker


def test_a_foot_goes_with_its_ankle() -> None:
    pieces = moved_pieces(limb(**LEG), ["hip_l", "knee_l", "ankle_l"], (0.0, -5.0))
    assert len(pieces) == 3
    for piece in pieces:
        assert applied(piece.matrix, LEG["toe_l"]) == pytest.approx((58.0, 94.0))


def test_what_hangs_on_the_last_pivot_goes_with_it() -> None:
    points = limb(**{name: LEG[name] for name in ("hip_l", "knee_l", "ankle_l")})
    *_, shin, foot = moved_pieces(points, ["ankle_l"], (0.0, -5.0))
    for piece in (shin, foot):
        assert applied(piece.matrix, LEG["ankle_l"]) == pytest.approx((50.0, 90.0))
    assert foot.matrix == pytest.approx((1.0, 0.0, 0.0, 1.0, 0.0, -5.0))


def test_what_lies_behind_other_parts_is_not_cut_out() -> None:
    points = limb(**LEG)
    behind = replace(points, hidden=frozenset({"hip_l", "knee_l"}))
    assert len(moved_pieces(behind, ["knee_l"], (0.0, 4.0))) == 1  # the shin, whose ankle is seen
    assert moved_pieces(replace(points, hidden=frozenset(LEG)), ["knee_l"], (0.0, 4.0)) == []


def test_a_single_point_takes_no_other_along() -> None:
    spots = {"mouth": (50.0, 20.0), "chin": (50.0, 24.0), "nose_tip": (53.0, 17.0)}
    marks = {name: Landmark(name, "height", part="head", midline=True) for name in spots}
    (piece,) = moved_pieces(Points(marks, spots, frozenset(), 100.0), ["mouth"], (0.0, 3.0))
    assert applied(piece.matrix, spots["mouth"]) == (50.0, 23.0)
    assert piece.reach < min(math.dist(spots["mouth"], spots[n]) for n in ("chin", "nose_tip"))
    (head,) = moved_pieces(Points(marks, spots, frozenset(), 100.0), [*spots], (0.0, 3.0))
    assert head.reach > piece.reach


# --- Whole drawings


@pytest.mark.parametrize(("view", "by"), [("back", 0.03), ("side", -0.04), ("front", 0.04)])
def test_a_drawing_scaled_has_its_crown_on_the_line(tmp_path: Path, view: str, by: float) -> None:
    drift = resized(view, by)
    facts = facts_of(check(drifting_sheet(tmp_path, drift=drift)))
    picture = shown(facts, Kind.SCALE, view)
    assert picture.ghost.whole is not None
    right = drawn(view, "crown")
    assert picture.rules == pytest.approx((GROUND, right[1]), abs=0.5)
    points = points_of(facts.checked.measured, view)
    for name in ("crown", "chin", "knee_l", "ankle_l"):
        _, y = applied(picture.ghost.whole, points.spots[name])
        assert y == pytest.approx(drawn(view, name)[1], abs=0.5)


def test_a_drawing_that_stands_too_high_is_moved_onto_its_line(tmp_path: Path) -> None:
    drift = {("side", name): (0.0, 4.0) for name in body() if name != "ground"}
    facts = facts_of(check(drifting_sheet(tmp_path, drift=drift)))
    picture = shown(facts, Kind.GROUND, "side")
    assert picture.ghost.whole is not None
    points = points_of(facts.checked.measured, "side")
    for name in ("crown", "knee_l"):
        to = applied(picture.ghost.whole, points.spots[name])
        assert to == pytest.approx(drawn("side", name), abs=0.5)
    assert picture.rules == pytest.approx((GROUND, drawn("side", "crown")[1]), abs=0.5)


def test_a_drawing_too_large_and_too_high_is_put_right_in_both(tmp_path: Path) -> None:
    drift = {at: (0.0, up + 1.4) for at, (_, up) in resized("side", 0.009).items()}
    drift[("side", "ground")] = (0.0, 0.0)
    facts = facts_of(check(drifting_sheet(tmp_path, drift=drift)))
    (task,) = facts.checked.instructions
    assert task.stands_px == pytest.approx(1.4, abs=0.3)
    picture = shown(facts, Kind.SCALE, "side")
    assert picture.ghost.whole is not None
    points = points_of(facts.checked.measured, "side")
    for name in ("crown", "chin", "knee_l"):
        to = applied(picture.ghost.whole, points.spots[name])
        assert to[1] == pytest.approx(drawn("side", name)[1], abs=0.5)


# --- Turned


def test_turned_points_lie_where_a_drawing_at_the_asked_angle_has_them(tmp_path: Path) -> None:
    """Apart from where the whole drawing stands across its paper, which nobody can tell."""
    drawn_at = dict(VIEWS) | {"three_quarter": 33.0}
    facts = facts_of(check(make_sheet(tmp_path, placings=placed(drawn_at))))
    measured = facts.checked.measured
    found, _ = turned(measured, points_of(measured, "three_quarter"), "three_quarter", 45.0)
    assert len(found) > 12
    apart = np.array(
        [np.subtract(spot, drawn("three_quarter", name, 45.0)) for name, spot in found.items()]
    )
    assert np.abs(apart[:, 1]).max() < 0.01
    assert np.ptp(apart[:, 0]) < 0.5


def test_pim_turned_right_has_his_points_where_the_solid_has_them_at_45_degrees() -> None:
    """The truth that `sample_views/draw.py` writes; a hand of 0.15 % placed the points."""
    facts = facts_of(checked("pim"))
    truth = json.loads((SAMPLES / "pim/truth.json").read_text("utf-8"))
    picture = shown(facts, Kind.YAW, "three_quarter")
    assert picture.ghost.lines and len(picture.moves) > 2
    measured = facts.checked.measured
    found, _ = turned(measured, points_of(measured, "three_quarter"), "three_quarter", 45.0)
    across = [
        found[name][0] - (x * math.cos(math.radians(45.0)) + z * math.sin(math.radians(45.0)))
        for name, (x, _, z) in truth["landmarks"].items()
        if name in found and not name.endswith(("shoulder_l", "elbow_l", "wrist_l"))
    ]
    middle = np.median(across)
    assert np.percentile(np.abs(across - middle), 90) < 0.01 * truth["figure_height"]


def test_hidden_points_are_left_out_of_a_turned_drawing() -> None:
    measured = facts_of(checked("pim")).checked.measured
    points = points_of(measured, "three_quarter")
    assert points.hidden
    found, _ = turned(measured, points, "three_quarter", 45.0)
    assert not points.hidden & found.keys()


# --- Outlines, ink and colours


def test_a_fill_put_right_has_the_colour_of_the_other_drawings(faulty: Facts) -> None:
    (card,) = [c for c in cards_of(faulty) if c.task.headline.startswith("Green")]
    ghost = card.pictures[0].ghost
    assert ghost.fill == "#{:02x}{:02x}{:02x}".format(*SCARF)
    assert (ghost.at,) == card.pictures[0].points


def test_a_missing_fill_is_shown_where_another_drawing_has_it(faulty: Facts) -> None:
    (card,) = [c for c in cards_of(faulty) if c.task.headline.endswith("is missing")]
    (picture,) = card.pictures
    assert picture.view != card.task.view
    assert picture.points and not picture.ghost.shows


def test_a_stroke_is_shown_as_heavy_as_it_is_and_as_it_should_be(faulty: Facts) -> None:
    picture = shown(faulty, Kind.LINE_WEIGHT, "side")
    (task,) = [t for t in faulty.checked.instructions if t.kind is Kind.LINE_WEIGHT]
    found = re.search(r"Outline ([\d.]+) px.*: redraw it at ([\d.]+) px", task.says)
    assert found is not None
    now, right = map(float, found.groups())
    assert picture.stroke == pytest.approx(now, abs=0.6)
    assert picture.ghost.stroke == pytest.approx(right, abs=0.06)


def test_an_outline_is_shown_where_its_only_remedy_puts_it(faulty: Facts) -> None:
    """Moved outward on the left: by so many px further to the picture's left."""
    measured = faulty.checked.measured
    found = Contradiction(
        kind="outline",
        views=(0, 1),
        heights=(300.0, 400.0),
        rows=np.array([[990.0, 1090.0]] * 4),
        remedies=(Remedy(1, "left", 12.0),),
        amount=12.0,
        symmetry=False,
    )
    view = measured.views[1]
    at = next(n for n, row in enumerate(faulty.rows) if row.subject.kind is Kind.OUTLINE)
    subject = replace(faulty.rows[at].subject, contradiction=found)
    rows = list(faulty.rows)
    rows[at] = replace(rows[at], view=view, subject=subject)
    told = "Outline does not fit", "move it"
    task = Instruction(*told, (view,), Work.OUTLINE, Kind.OUTLINE, findings=(at,))
    outlines = replace(measured.outlines, contradictions=(found,))
    checked = replace(
        faulty.checked, instructions=(task,), measured=replace(measured, outlines=outlines)
    )
    (card,) = cards_of(replace(faulty, checked=checked, rows=tuple(rows)))
    (edge,) = card.pictures[0].ghost.edges
    left = measured.features[1].left
    assert [y for _, y in edge] == list(range(990, 1091))
    assert [x for x, _ in edge] == pytest.approx(left[990:1091] - 12.0)

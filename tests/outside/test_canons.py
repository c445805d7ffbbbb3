"""The artists' canons: head counts and eye lines as turncheck reports them.

Sources:

- Vitruvius, De architectura III.1 (Morgan's translation): chin to crown an eighth of the height,
  chin to hairline a tenth, in three equal parts at the nostrils and the brows; wrist to fingertip a
  tenth. Seen in stored public text.
- Leonardo's notebooks (Richter, 1880), section 316: the inner corner of the eye is as far from the
  crown as from the chin. Seen in stored public text.
- Leonardo's sheet on Vitruvius: the sole to below the knee a quarter of the height, the body's
  middle where the legs part; elbow to fingertip a quarter. Seen in stored public text.
- Canons of 4 to 8 heads, children fewer than adults: common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

import turncheck
from tests.outside.figures import figure
from tests.outside.planting import EXACT, blamed, off_model, replaced, row
from tests.outside.rendering import write_sheet

HEAD, FACE = 1 / 8, 1 / 10
VITRUVIAN = {
    "chin": 1 - HEAD,
    "eye": 1 - HEAD / 2,  # Leonardo, section 316
    "nose_tip": 1 - HEAD + FACE / 3,
    "brow": 1 - HEAD + 2 * FACE / 3,
    "elbow": 0.375 + 1 / 4,  # the hanging fingertip at 3/8: ours, so that spans are what is tested
    "wrist": 0.375 + 1 / 10,
    "fingertip": 0.375,
    "crotch": 1 / 2,
    "knee": 1 / 4,
}
YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
OTHERS = ("three_quarter", "side", "back")
HEAD_COUNTS = {"child of four heads": 4, "child of five": 5, "youth": 6, "hero": 8}


def canon(heads: float) -> dict[str, float]:
    """Return a figure of so many heads, its eyes halfway down the head."""
    return {"chin": 1 - 1 / heads, "eye": 1 - 0.5 / heads, "knee": 0.25, "hip": 0.5}


@pytest.fixture(scope="module")
def vitruvian(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("canons") / "vitruvian"
    write_sheet(folder, figure(VITRUVIAN), YAWS, draw_pictures=False)
    return folder


def test_the_vitruvian_man_is_eight_heads_tall_and_on_model(vitruvian):
    checked = turncheck.check(vitruvian)
    for view in OTHERS:
        heads = row(checked, "proportion", view, "head count")
        assert (heads["expected"], heads["measured"]) == pytest.approx((8, 8))
    assert off_model(checked).empty


def test_leonardos_eye_line_cuts_the_head_in_half(vitruvian):
    checked = turncheck.check(vitruvian)
    for view in OTHERS:
        assert row(checked, "eye_line", view, "eye_line in head")["measured"] == pytest.approx(0.5)


def test_the_vitruvian_face_lies_in_thirds(vitruvian):
    checked = turncheck.check(vitruvian)
    chin, nose, brow = (
        row(checked, "height", "side", name)["measured"] for name in ("chin", "nose_tip", "brow_l")
    )
    assert (nose - chin, brow - nose) == pytest.approx((1000 / 30, 1000 / 30), abs=1e-3)


def test_the_vitruvian_hand_is_two_fifths_of_the_cubit(vitruvian, tmp_path):
    # A tenth of the height against a quarter, as a ratio that the sheet itself names.
    folder = replaced(vitruvian, tmp_path / "sheet")
    ratio = '[[proportions]]\nname = "hand : cubit *"\nof = ["wrist_*", "fingertip_*"]\n'
    with (folder / "sheet.toml").open("a", encoding="utf-8") as file:
        file.write(f'\n{ratio}to = ["elbow_*", "fingertip_*"]\n')
    checked = turncheck.check(folder)
    for side in ("left", "right"):
        hand = row(checked, "proportion", "back", f"hand : cubit {side}")
        assert hand["measured"] == pytest.approx(2 / 5)


@pytest.mark.parametrize("heads", HEAD_COUNTS.values(), ids=HEAD_COUNTS)
def test_a_canon_of_so_many_heads_is_reported_as_that_many(heads, tmp_path):
    clean = tmp_path / "clean"
    write_sheet(clean, figure(canon(heads)), YAWS, draw_pictures=False)
    checked = turncheck.check(replaced(clean, tmp_path / "sheet", placing_sd=EXACT))
    for view in OTHERS:
        found = row(checked, "proportion", view, "head count")
        assert (found["measured"], found["verdict"]) == (pytest.approx(heads), "on_model")
        assert row(checked, "eye_line", view, "eye_line in head")["measured"] == pytest.approx(0.5)


@pytest.mark.parametrize(("heads", "drawn"), [(8, 7), (5, 4.5), (4, 5)])
@pytest.mark.parametrize("view", ["side", "front"])
def test_one_drawing_of_another_canon_is_named_with_its_chin(heads, drawn, view, tmp_path):
    clean = tmp_path / "clean"
    write_sheet(clean, figure(canon(heads)), YAWS, draw_pictures=False)
    px = 1000 * (1 / heads - 1 / drawn)
    drift = {(view, "chin"): px}
    checked = turncheck.check(replaced(clean, tmp_path / "drawn", drift, placing_sd=EXACT))
    found = row(checked, "proportion", view, "head count")
    assert (found["expected"], found["measured"]) == pytest.approx((heads, drawn))
    assert found["odd_view"] == view
    assert found["odd_pct"] == pytest.approx(100 * (drawn - heads) / heads)
    (chin,) = checked.instructions
    assert (chin.view, chin.landmarks) == (view, ("chin",))
    assert chin.amount_px == pytest.approx(px, abs=0.5)
    assert blamed(checked) == {view}


def test_half_a_head_fewer_is_said_though_the_chin_itself_is_within_tolerance(tmp_path):
    # From 8 heads to 7.5 the chin falls by 0.83 % of the height, the count by 6.25 %.
    clean = tmp_path / "clean"
    write_sheet(clean, figure(canon(8)), YAWS, draw_pictures=False)
    drift = {("side", "chin"): 1000 * (1 / 8 - 1 / 7.5)}
    checked = turncheck.check(replaced(clean, tmp_path / "drawn", drift, placing_sd=EXACT))
    assert row(checked, "height", "side", "chin")["verdict"] == "on_model"
    (count,) = checked.instructions
    assert (count.view, count.amount_pct) == ("side", pytest.approx(-6.25))
    assert "Head count" in count.says


def test_an_eye_line_two_thirds_up_the_head_is_off_in_that_drawing_alone(vitruvian, tmp_path):
    # Leonardo's half against two thirds of an eighth: 1/48 of the height.
    drift = {("three_quarter", eye): 1000 / 48 for eye in ("eye_l", "eye_r")}
    checked = turncheck.check(replaced(vitruvian, tmp_path / "s", drift, placing_sd=EXACT))
    found = row(checked, "eye_line", "three_quarter", "eye_line in head")
    assert (found["measured"], found["verdict"]) == (pytest.approx(2 / 3), "off_model")
    (eyes,) = checked.instructions
    assert (eyes.view, eyes.amount_px) == ("three_quarter", pytest.approx(1000 / 48, abs=0.5))
    assert blamed(checked) == {"three_quarter"}

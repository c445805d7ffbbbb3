"""Where pivots go: in px of every drawing, in the rig's units, and what lies hidden."""

import csv
import json
import math

import numpy as np
import pytest
from click.testing import CliRunner

import turncheck
from tests.places import SAMPLES
from tests.samples import checked
from tests.sheets import edit, make_sheet
from turncheck.cli import main
from turncheck.geometry.body import reconcile
from turncheck.handover.hidden import hidden_parts


def run(*words):
    return CliRunner().invoke(main, ["pivots", *map(str, words)])


@pytest.fixture(scope="module")
def odo():
    return turncheck.pivots(SAMPLES / "odo")


def of(found, pivot, view):
    (place,) = (one for one in found.places if (one.pivot, one.view) == (pivot, view))
    return place


def test_the_tables_and_the_page_are_written(tmp_path):
    done = run(make_sheet(tmp_path / "tib"), "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert names == {"pivots.csv", "body.csv", "pivots.json", "pivots.html"}
    page = (tmp_path / "out/pivots.html").read_text("utf-8")
    assert "<td>master point</td>" in page and "<td>master</td>" not in page  # one word for it
    assert "Parts that lie hidden, or are not placed" in page
    with (tmp_path / "out/pivots.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    columns = "pivot parent view x y x_sd y_sd drawn_x drawn_y rig_x rig_y side hidden_behind"
    assert list(rows[0]) == columns.split()
    with (tmp_path / "out/body.csv").open(encoding="utf-8") as file:
        assert next(csv.reader(file)) == ["landmark", "X", "Y", "Z", "X_sd", "Y_sd", "Z_sd"]
    told = json.loads((tmp_path / "out/pivots.json").read_text("utf-8"))
    assert told["rig"] == {"unit": "px", "origin": "ground", "y_up": True}
    assert len(told["pivots"]) == len(rows)


def test_pivots_that_belong_on_one_spot_are_equal_to_the_last_digit(tmp_path):
    folder = make_sheet(tmp_path / "tib")
    table = folder / "landmarks.csv"
    heads = [line.split(",") for line in table.read_text("utf-8").splitlines() if ",head," in line]
    with table.open("a", encoding="utf-8") as file:
        for view, _, x, y, *_ in heads:
            file.write(f"{view},neck_top,{float(x) + 0.3:.3f},{float(y) - 0.2:.3f}\n")
    found = turncheck.pivots(folder)
    assert heads
    for view, *_ in heads:
        head, neck = of(found, "head", view), of(found, "neck_top", view)
        assert (head.x, head.y) == (neck.x, neck.y)
        assert head.drawn_x != neck.drawn_x
    at = [found.body.landmarks.index(name) for name in ("head", "neck_top")]
    for values in (found.body.x, found.body.y, found.body.z):
        assert values[at[0]] == values[at[1]]


def test_a_pivot_lies_where_it_is_drawn_as_nearly_as_it_is_placed(odo):
    measured = odo.checked.measured
    away = [
        math.hypot(one.x - one.drawn_x, one.y - one.drawn_y) / measured.figure_height
        for one in odo.places
        if math.isfinite(one.drawn_x)
    ]
    assert np.median(away) < 0.002
    assert max(away) < 0.01


def test_the_far_side_and_what_hides_it_are_told(odo):
    assert of(odo, "knee_l", "front").side == "middle"
    assert of(odo, "knee_l", "side").side == "far"
    assert of(odo, "knee_r", "side").side == "near"
    assert of(odo, "knee_l", "side").hidden_behind == "leg_r"
    assert of(odo, "neck", "side").side == "middle"


def test_an_arm_hides_a_hip_only_where_it_hangs_before_it(odo):
    assert of(odo, "hip_r", "side").hidden_behind == "arm_r"
    for view in ("front", "three_quarter", "back_three_quarter"):  # the coat hides them
        for name in ("hip_l", "hip_r"):
            assert not of(odo, name, view).hidden_behind.startswith("arm"), (view, name)


def test_a_limb_beside_its_fellow_is_not_behind_it(odo):
    for one in odo.places:
        if one.view in ("front", "back") and one.pivot.endswith(("_l", "_r")):
            assert not one.hidden_behind.endswith({"l": "_r", "r": "_l"}[one.pivot[-1]]), one


def test_each_pivot_is_carried_by_one_that_stands_before_it(odo):
    for view in odo.checked.measured.views:
        told = [one for one in odo.places if one.view == view]
        assert (told[0].pivot, told[0].parent) == ("master", "")
        for number, one in enumerate(told[1:], start=1):
            assert one.parent in {before.pivot for before in told[:number]}


def test_the_master_point_stands_on_the_ground_between_the_feet(odo):
    measured = odo.checked.measured
    for v, view in enumerate(measured.views):
        master, left, right = (of(odo, name, view) for name in ("master", "ankle_l", "ankle_r"))
        assert master.y == measured.trusted_scales[v].ground
        assert master.x == pytest.approx((left.x + right.x) / 2.0)
        assert (master.rig_y, master.side) == (0.0, "middle")


def test_a_limb_that_is_hidden_is_listed_and_the_head_from_behind_is_not():
    hidden = hidden_parts(turncheck.pivots(SAMPLES / "pim").checked.measured)
    assert ("side", "leg_l") in {(one.view, one.part) for one in hidden}
    assert not {one.view for one in hidden} & {"front"}
    assert ("back", "head") not in {(one.view, one.part) for one in hidden}


@pytest.mark.parametrize(
    ("rig", "expected"),
    [
        ("unit = 200", lambda x, y, axis, ground, px: ((x - axis) * px, (ground - y) * px)),
        ("origin = [10, 20]\ny_up = false", lambda x, y, *_: (x - 10, y - 20)),
    ],
)
def test_places_are_told_in_the_rig_s_own_units(tmp_path, rig, expected):
    folder = make_sheet(tmp_path / "tib")
    with (folder / "sheet.toml").open("a", encoding="utf-8") as file:
        file.write(f"\n[rig]\n{rig}\n")
    found = turncheck.pivots(folder)
    measured = found.checked.measured
    one = of(found, "knee_l", "side")
    v = measured.views.index("side")
    scale = measured.trusted_scales[v]
    told = expected(one.x, one.y, measured.turn.axis[v], scale.ground, 200 / measured.figure_height)
    assert (one.rig_x, one.rig_y) == pytest.approx(np.array(told) / scale.scale)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('unit = "cm"', 'unit is no unit; write "px", or how many units tall the figure is'),
        ("unit = 0", "unit is no unit"),
        ("origin = [1]", 'origin is no origin; write "ground", or [x, y]'),
        ("yup = true", 'did you mean "y_up"?'),
    ],
)
def test_units_that_make_no_sense_are_refused_in_a_sentence(tmp_path, line, says):
    folder = make_sheet(tmp_path / "tib")
    with (folder / "sheet.toml").open("a", encoding="utf-8") as file:
        file.write(f"\n[rig]\n{line}\n")
    done = run(folder, "--out", tmp_path / "out")
    assert done.exit_code == 2
    assert says in " ".join(done.output.split())
    assert not (tmp_path / "out").exists()


def test_a_pivot_that_one_drawing_has_wrong_goes_where_the_others_have_it(tmp_path):
    clean = make_sheet(tmp_path / "tib")
    before = of(turncheck.pivots(clean), "knee_l", "side")
    row = f"side,knee_l,{before.drawn_x:.3f},{before.drawn_y:.3f}"
    edit(clean / "landmarks.csv", row, f"side,knee_l,{before.drawn_x:.3f},{before.drawn_y - 5:.3f}")
    after = of(turncheck.pivots(clean), "knee_l", "side")
    assert after.drawn_y == pytest.approx(before.drawn_y - 5, abs=0.01)
    assert after.y == pytest.approx(before.y, abs=0.3)
    assert after.settled


def test_of_two_drawings_each_keeps_its_own_heights_and_nothing_is_reconciled(tmp_path):
    folder = make_sheet(tmp_path / "tib", views={"front": 0.0, "side": 90.0})
    found = turncheck.pivots(folder)
    firm = found.checked.measured.firm
    assert np.isnan(found.body.y[firm]).all()
    places = [one for one in found.places if one.pivot != "master" and math.isfinite(one.drawn_y)]
    assert all(one.y == one.drawn_y and not one.settled for one in places)
    done = run(folder, "--out", tmp_path / "out")
    assert "Not settled between the drawings, so as drawn" in done.output


def test_a_drawing_that_is_too_large_has_its_pivots_in_its_own_px(tmp_path):
    pim = turncheck.pivots(SAMPLES / "pim")
    measured = pim.checked.measured
    back, front = (of(pim, "neck", view) for view in ("back", "front"))
    size = measured.trusted_scales[measured.views.index("back")].scale
    assert size == pytest.approx(1.033, abs=0.004)
    assert back.rig_y == pytest.approx(front.rig_y, rel=1e-9)


def test_the_body_in_front_falls_on_its_own_points():
    body = reconcile(checked("odo").measured)
    known = np.isfinite(body.x)
    axis = body.falls_x[0][known] - body.x[known]
    assert np.ptp(axis) < 0.02 * np.ptp(body.x[known])

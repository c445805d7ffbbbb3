"""Guides at angles that are not drawn: files, points, outline and under-drawing."""

from __future__ import annotations

import csv
import json
import re
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import cv2
import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

import turncheck
from tests.places import SAMPLES
from tests.samples import checked, copied
from tests.sheets import edit, faults_of, make_sheet, placed
from turncheck.cli import main
from turncheck.geometry.body import reconcile
from turncheck.handover.angle import Angle, angle_at, name_at
from turncheck.handover.guides import Guides, guides_of
from turncheck.handover.under_drawing import under_drawing

POINTS = ["landmark", "x", "y", "x_sd", "y_sd", "depth", "side", "known"]
OUTLINE = ["y", "widest_left", "left", "narrowest_left"]
OUTLINE += ["narrowest_right", "right", "widest_right"]


def run(*words):
    return CliRunner().invoke(main, ["guides", *map(str, words)])


def table(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("guides")
    sheet = make_sheet(folder / "tib")
    done = run(sheet, "--yaw", 60, "--yaw", -22.5, "--out", folder / "out")
    assert done.exit_code == 0, done.output
    return folder / "out"


def test_each_angle_has_a_picture_the_same_as_svg_and_two_tables(written):
    names = {f"yaw_{yaw}{end}" for yaw in ("60", "-22.5") for end in (".png", ".svg", ".csv")}
    names |= {"yaw_60_outline.csv", "yaw_-22.5_outline.csv", "guides.json"}
    assert {path.name for path in written.iterdir()} == names
    told = json.loads((written / "guides.json").read_text("utf-8"))["guides"]
    assert [one["yaw"] for one in told] == [60.0, -22.5]
    assert set(told[0]) == {"yaw", "width", "height", "scale", "ground_px", "axis_px"}
    size = told[0]["width"], told[0]["height"]
    with Image.open(written / "yaw_60.png") as picture:
        assert (picture.size, picture.mode) == (size, "RGBA")
        assert picture.getpixel((0, 0))[3] == 0
    root = ElementTree.parse(written / "yaw_60.svg").getroot()
    assert (float(root.get("width")), float(root.get("height"))) == size
    rows = table(written / "yaw_60.csv")
    assert list(rows[0]) == POINTS
    known = {row["landmark"]: row["known"] for row in rows}
    assert (known["knee_l"], known["ear_l"]) == ("true", "false")  # the outline's own point


def test_the_outline_s_bounds_lie_in_order_one_row_a_pixel_row(written):
    rows = table(written / "yaw_60_outline.csv")
    assert list(rows[0]) == OUTLINE
    numbers = np.array([[float(value or "nan") for value in row.values()] for row in rows])
    assert (np.diff(numbers[:, [1, 2, 5, 6]], axis=1) >= -0.01).all()
    assert (np.diff(numbers[:, 0]) == 1.0).all()
    held = np.isfinite(numbers).all(axis=1)  # nothing holds it open at its ends
    assert held.mean() > 0.9
    assert (np.diff(numbers[held, 1:], axis=1) >= -0.01).all()


def test_at_the_angle_of_a_drawing_the_points_fall_where_it_has_them():
    measured = checked("odo").measured
    (angle,) = guides_of(checked("odo"), [45.0]).angles
    v = measured.views.index("three_quarter")
    away = np.hypot(angle.x - measured.x[v], angle.y - measured.y[v])
    assert np.nanmedian(away[angle.spots.known]) < 0.003 * measured.figure_height


def test_near_and_far_change_sides_with_the_yaw():
    right, left, front = guides_of(checked("odo"), [60.0, -60.0, 0.0]).angles
    at = right.landmarks.index("knee_l")
    assert [one.sides[at] for one in (right, left, front)] == ["far", "near", "middle"]
    assert right.sides[right.landmarks.index("neck")] == "middle"


def test_every_so_many_degrees_is_the_whole_turn(tmp_path):
    done = run(make_sheet(tmp_path / "tib"), "--every", 90, "--out", tmp_path / "out")
    assert done.exit_code == 0, done.output
    tables = {path.name for path in (tmp_path / "out").glob("*_outline.csv")}
    assert tables == {f"yaw_{yaw}_outline.csv" for yaw in (0, 90, 180, -90)}
    assert "  0°, 90°, 180° and \N{MINUS SIGN}90°: " in done.output  # what is the same, once


def test_an_angle_that_is_asked_for_twice_is_drawn_once():
    found = guides_of(checked("odo"), [180.0, -180.0, -0.0]).angles
    assert [name_at(one.canvas.yaw) for one in found] == ["yaw_180", "yaw_0"]


def test_a_likely_mistake_is_told_with_the_guides(tmp_path):
    sheet = make_sheet(tmp_path / "tib")
    edit(sheet / "sheet.toml", "yaw = 45", "yaw = -45")
    warnings = turncheck.check(sheet).warnings
    done = run(sheet, "--yaw", 30, "--out", tmp_path / "out")
    assert warnings
    assert all(one.says in done.output for one in warnings)


def test_front_and_back_alone_are_refused_with_the_drawing_to_add(tmp_path):
    sheet = make_sheet(tmp_path / "tib", views={"front": 0.0, "back": 180.0})
    (says,) = faults_of(lambda: turncheck.guides(sheet, [60.0]))
    assert says.endswith("add a three-quarter or side drawing and place its points")


def test_too_few_pairs_in_two_drawings_are_refused_with_the_points_to_place(tmp_path):
    views = {"front": 0.0, "side": 90.0}
    rows = [r for r in placed(views) if r["view"] == "front" or not r["landmark"].endswith("_l")]
    sheet = make_sheet(tmp_path / "tib", views=views, placings=rows)
    (says,) = faults_of(lambda: turncheck.guides(sheet, [60.0]))
    assert "too few left and right pairs" in says
    assert re.search(r"; place on side: left eye, left \w+, .* and left \w+$", says)


def test_an_angle_at_which_next_to_nothing_is_known_is_refused():
    measured = checked("odo").measured
    body = reconcile(measured)
    unknown = replace(body, covariance=np.full_like(body.covariance, np.nan))
    (says,) = faults_of(lambda: angle_at(measured, unknown, 60.0))
    assert says.startswith("too few points are known at 60 degrees; ")


def test_of_two_drawings_heights_that_differ_are_less_certain(tmp_path):
    views = {"front": 0.0, "side": 90.0}
    rows = placed(views)
    for row in rows:
        if (row["view"], row["landmark"]) == ("side", "knee_l"):
            row["y"] = str(float(row["y"]) - 8.0)
    sheet = make_sheet(tmp_path / "tib", views=views, placings=rows)
    (angle,) = turncheck.guides(sheet, [60.0]).angles
    left, right = (angle.landmarks.index(f"knee_{side}") for side in "lr")
    assert angle.spots.up_sd[left] == pytest.approx(4.0, abs=0.3)
    assert not angle.spots.known[left]
    assert angle.spots.known[right]


@pytest.fixture(scope="module")
def odo(tmp_path_factory) -> Guides:
    """Odo at 60 and 20 degrees, from front, three-quarter and side alone."""
    sheet = copied("odo", ("front", "three_quarter", "side"), tmp_path_factory.mktemp("odo"))
    return turncheck.guides(sheet, [60.0, 20.0])


@pytest.fixture(scope="module")
def carried(odo) -> list[np.ndarray]:
    """The nearest drawing bent to each of Odo's angles."""
    return [under_drawing(odo.checked.measured, angle) for angle in odo.angles]


def drawn(angle: Angle) -> np.ndarray:
    """The true figure of Odo at an angle, (H, W) bool, on the guide's canvas.

    Where the turning axis stands in the body is a matter of choice: the guide's points say it.
    """
    if str(SAMPLES) not in sys.path:
        sys.path.insert(0, str(SAMPLES))
    from drawing import odo as sample
    from drawing.figure import View
    from drawing.inking import draw

    body, (*_, ground) = sample.build(), sample.CANVAS
    known = {name: i for i, name in enumerate(angle.landmarks) if angle.spots.known[i]}
    view = View("asked", angle.canvas.yaw, 0.0, ground)
    true = {n: view.project(mark.xyz)[0] for n, mark in body.landmarks.items() if n in known}
    axis = float(np.median([angle.x[known[name]] - x for name, x in true.items()]))
    size = angle.canvas.width, angle.canvas.height
    return draw(body, replace(view, axis=axis), *size).picture[..., 3] > 127


@pytest.mark.parametrize(("number", "least"), [(0, 0.94), (1, 0.90)])
def test_the_under_drawing_lies_over_the_true_one(odo, carried, number, least):
    figure, true = carried[number][..., 3] > 127, drawn(odo.angles[number])
    assert (figure & true).sum() >= least * (figure | true).sum()
    assert (true.any(axis=1) & ~figure.any(axis=1)).sum() <= 3  # rows
    # one figure, without shreds
    sizes = cv2.connectedComponentsWithStats(figure.astype(np.uint8))[2][1:, cv2.CC_STAT_AREA]
    assert sizes.max() >= 0.995 * sizes.sum()


def test_colours_are_carried_faintly_and_only_if_wanted(odo, carried):
    figure = carried[0]
    body = figure[figure.shape[0] // 3 : figure.shape[0] // 2]  # enough of it
    lines, colours = (odo.looked(body, colours=one) for one in (False, True))
    assert (lines[..., 3] > 127).any()
    assert np.unique(lines[..., :3].reshape(-1, 3), axis=0).shape[0] == 1
    assert len(np.unique(colours[..., :3].reshape(-1, 3), axis=0)) > 100
    assert 0 < colours[..., 3].max() < 128


def test_where_no_drawing_looks_from_near_by_nothing_is_carried(odo):
    guides = guides_of(odo.checked, [180.0])
    assert not under_drawing(guides.checked.measured, guides.angles[0]).any()


def test_the_left_is_made_of_the_right_where_only_that_is_drawn(odo):
    right, left = guides_of(odo.checked, [45.0, -45.0]).angles
    measured = odo.checked.measured
    found = [under_drawing(measured, one)[..., 3] > 127 for one in (right, left)]
    matrix = np.array([[-1.0, 0.0, 2.0 * right.canvas.axis], [0.0, 1.0, 0.0]])
    size = right.canvas.width, right.canvas.height
    mirrored = cv2.warpAffine(found[0].astype(np.uint8), matrix, size) > 0
    assert (mirrored & found[1]).sum() > 0.95 * (mirrored | found[1]).sum()

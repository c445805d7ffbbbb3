"""The sample drawings are what the script draws, and their truth is what they show."""

import csv
import importlib.util
import json
import sys
import tomllib
from functools import cache

import cv2
import numpy as np
import pytest

from tests.places import SAMPLES

SHEETS = ("odo", "pim", "brindle")
ON_MODEL = ("odo", "brindle")


def _script():
    spec = importlib.util.spec_from_file_location("sample_views_draw", SAMPLES / "draw.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


DRAW = _script()


@cache
def truth_of(sheet):
    return json.loads((SAMPLES / sheet / "truth.json").read_text(encoding="utf-8"))


@cache
def picture(sheet, name):
    return DRAW.decode((SAMPLES / sheet / name).read_bytes())


def opaque(sheet, name):
    return picture(sheet, name)[..., 3] > 127


def projected(truth, view, name):
    """Orthographic: x = c + s (X cos + Z sin), y = g - s Y."""
    x, y, z = truth["landmarks"][name]
    turn = np.radians(view["yaw"])
    return (
        view["axis"] + view["scale"] * (x * np.cos(turn) + z * np.sin(turn)),
        view["ground"] - view["scale"] * y,
    )


def every_view(sheets):
    return [(s, v) for s in sheets for v in truth_of(s)["views"]]


@pytest.mark.parametrize("character", DRAW.CHARACTERS)
def test_every_file_is_what_the_script_draws(character):
    assert list(DRAW.check(character)) == []


def test_a_rounding_is_forgiven_and_a_moved_line_is_named(tmp_path):
    drawn = picture("odo", "front.png")
    rounded = drawn.copy()
    rounded[..., :3] += ((drawn[..., 3:] > 0) & (drawn[..., :3] < 255)).astype(np.uint8)
    path = tmp_path / "front.png"
    path.write_bytes(DRAW.encode(rounded))
    assert DRAW.difference(path, drawn) is None
    path.write_bytes(DRAW.encode(np.roll(drawn, 3, axis=0)))
    assert "differs from what would be drawn" in DRAW.difference(path, drawn)
    path.write_bytes(b"no picture")
    assert DRAW.difference(path, drawn) == "can't be read as a picture"
    assert DRAW.difference(tmp_path / "none.png", drawn) == "is missing"


def test_the_sample_sheets_stay_small():
    files = [p for p in SAMPLES.rglob("*") if p.is_file() and "__pycache__" not in p.parts]
    assert sum(p.stat().st_size for p in files) < 12e6
    assert (SAMPLES / "wide" / "wide.png").stat().st_size < 4e6


@pytest.mark.parametrize(("sheet", "name"), every_view(SHEETS))
def test_the_top_of_hat_or_hair_is_where_the_truth_says(sheet, name):
    truth = truth_of(sheet)
    view = truth["views"][name]
    first = np.flatnonzero(opaque(sheet, view["image"]).any(axis=1))[0]
    assert abs(first - (view["ground"] - view["scale"] * truth["top"])) <= 2


@pytest.mark.parametrize(("sheet", "name"), every_view(SHEETS))
def test_the_feet_stand_on_the_ground(sheet, name):
    view = truth_of(sheet)["views"][name]
    last = np.flatnonzero(opaque(sheet, view["image"]).any(axis=1))[-1]
    assert abs(last - view["ground"]) <= 3


@pytest.mark.parametrize("sheet", ON_MODEL)
def test_the_back_has_the_mirrored_outline_of_the_front(sheet):
    # Orthographic outlines from opposite sides are mirror images, props and all.
    front, back = opaque(sheet, "front.png"), opaque(sheet, "back.png")
    axis = truth_of(sheet)["views"]["front"]["axis"]
    reach = int(min(axis, front.shape[1] - 1 - axis))
    columns = np.arange(axis - reach, axis + reach + 1)
    differing = (front[:, columns] != back[:, columns[::-1]]).sum()
    assert differing < 0.003 * front.sum()


@pytest.mark.parametrize(("sheet", "name"), every_view(SHEETS))
def test_landmarks_called_visible_lie_on_the_figure(sheet, name):
    view = truth_of(sheet)["views"][name]
    near = cv2.dilate(opaque(sheet, view["image"]).astype(np.uint8), np.ones((7, 7), np.uint8))
    off = [
        n
        for n, at in view["landmarks"].items()
        if at["visible"] and not near[round(at["y"]), round(at["x"])]
    ]
    assert off == []


@pytest.mark.parametrize(("sheet", "name"), every_view(ON_MODEL))
def test_one_body_explains_every_drawing_that_is_on_model(sheet, name):
    truth = truth_of(sheet)
    view = truth["views"][name]
    assert view["yaw"] == view["nominal_yaw"] and view["scale"] == 1
    for n, at in view["landmarks"].items():
        assert (at["x"], at["y"]) == pytest.approx(projected(truth, view, n), abs=0.02)


def test_pims_planted_drift_is_all_there_is_and_as_large_as_listed():
    truth = truth_of("pim")
    planted = tomllib.loads((SAMPLES / "pim" / "planted.toml").read_text(encoding="utf-8"))
    moved = {
        (p["view"], n): p["amount_px"]
        for p in planted["planted"]
        if p["kind"] == "height"
        for n in p["landmarks"]
    }
    assert len(moved) == 7
    for name, view in truth["views"].items():
        for n, at in view["landmarks"].items():
            x, y = projected(truth, view, n)
            assert at["x"] == pytest.approx(x, abs=0.02)
            assert y - at["y"] == pytest.approx(moved.get((name, n), 0.0), abs=0.02)
    whole = {(p["view"], p["kind"]): p for p in planted["planted"]}
    turn = truth["views"]["three_quarter"]
    assert turn["yaw"] - turn["nominal_yaw"] == whole["three_quarter", "yaw"]["amount_deg"]
    size = 100 * (truth["views"]["back"]["scale"] - 1)
    assert size == pytest.approx(whole["back", "size"]["amount_pct"])


def test_pims_drift_is_drawn_and_not_only_written_down():
    truth = truth_of("pim")
    # The white of the near eye in the side drawing lies round the lowered landmark.
    view = truth["views"]["side"]
    eye = view["landmarks"]["eye_r"]
    x, y = round(eye["x"]), round(eye["y"])
    window = picture("pim", "side.png")[y - 90 : y + 90, x - 45 : x + 45].astype(int)
    rows = np.nonzero((window.min(axis=2) > 225) & (window[..., 3] > 250))[0] + y - 90
    assert abs((rows.min() + rows.max()) / 2 - eye["y"]) < 6
    # The lowered left hand ends where its landmark is.
    view = truth["views"]["three_quarter"]
    tip = view["landmarks"]["fingertip_l"]
    column = opaque("pim", "three_quarter.png")[:, round(tip["x"])]
    below = np.flatnonzero(column[round(tip["y"]) - 40 : round(tip["y"]) + 40])
    assert abs(below.max() - 40) <= 3


@pytest.mark.parametrize("sheet", SHEETS)
def test_placings_lie_as_far_from_the_truth_as_the_sheets_defaults_say(sheet):
    truth = truth_of(sheet)
    settings = tomllib.loads((SAMPLES / sheet / "sheet.toml").read_text(encoding="utf-8"))
    assert "placing_sd" not in settings
    usual = 0.15 * truth["figure_height"] / 100
    with (SAMPLES / sheet / "landmarks.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    views = truth["views"]
    assert {r["view"] for r in rows if r["landmark"] == "ground"} == set(views)
    assert (settings["reference"], "crown") in {(r["view"], r["landmark"]) for r in rows}
    slips = []
    for row in rows:
        assert not row["sd"]
        if row["landmark"] == "ground":
            slips.append((float(row["y"]) - views[row["view"]]["ground"]) / usual)
            continue
        at = views[row["view"]]["landmarks"][row["landmark"]]
        assert (row["visibility"] == "visible") == at["visible"]
        sd = usual if at["visible"] else 2 * usual
        slips += [(float(row[axis]) - at[axis]) / sd for axis in "xy"]
    # of some 250 normal slips: four standard deviations of their own spread, and of one
    assert 0.82 < np.std(slips) < 1.18 and np.max(np.abs(slips)) < 4.5


def test_the_wide_sheets_boxes_hold_the_figures():
    wide, truth = picture("wide", "wide.png"), truth_of("wide")
    odo = truth_of("odo")
    coat = np.abs(wide.astype(int) - (47, 111, 120)).max(axis=2) < 24
    for figure in truth["figures"]:
        left, top, right, bottom = figure["box"]
        assert abs(top - (figure["ground"] - figure["scale"] * odo["top"])) <= 2
        assert abs(bottom - figure["ground"]) <= 3
        assert coat[top:bottom, left:right].sum() > 15_000
        coat[top : bottom + 1, left : right + 1] = False
    assert coat.sum() == 0


def test_every_dot_has_its_colour_at_its_centre():
    dots = truth_of("dots")["dots"]
    assert len(dots) > 30
    for dot in dots:
        at = picture("dots", f"{dot['view']}.png")[round(dot["y"]), round(dot["x"])]
        code = dot["colour"].lstrip("#")
        assert [int(code[i : i + 2], 16) for i in (0, 2, 4)] == at[:3].tolist()
        assert 4 <= dot["radius"] <= 8

"""Placings go out as COCO keypoints and come back the same, number for number.

Format: cocodataset.org, 'data format' and 'keypoint detection'; `outside/test_coco_reader.py`
holds it against the format's own reader.
"""

from __future__ import annotations

import json
import math

import pytest

from tests.placings import read_placings
from tests.sheets import csv_text, faults_of, make_sheet, placed
from turncheck.checks.register import open_sheet
from turncheck.sheet.coco import export_keypoints, from_coco, import_keypoints, to_coco
from turncheck.sheet.landmark_table import read_table
from turncheck.sheet.model import LANDMARKS_FILE


@pytest.fixture
def folder(tmp_path):
    return make_sheet(tmp_path / "tib")


def read(folder):
    sheet = open_sheet(folder)
    return sheet, read_table(folder / LANDMARKS_FILE, sheet)


def exported(folder, **changes):
    sheet, file = read(folder)
    return to_coco(sheet, file.placings.values()) | changes


def points(folder):
    placings = read(folder)[1].placings.values()
    return {(p.view, p.landmark): (p.x, p.y, p.hidden) for p in placings}


def take_out(folder, file):
    return export_keypoints(open_sheet(folder), file)


def take_in(folder, file, **how):
    return import_keypoints(open_sheet(folder), file, **how)


def test_out_and_in_again_gives_the_same_numbers(folder, tmp_path):
    rows = [dict(row) for row in placed()]
    for k, row in enumerate(rows):
        row["x"], row["y"] = repr(float(row["x"]) + k / 7e5), repr(float(row["y"]) - k / 3e6)
        row["visibility"] = "hidden" if k % 3 == 0 else "visible"
    (folder / LANDMARKS_FILE).write_text(csv_text(rows), "utf-8")
    before = points(folder)
    take_out(folder, tmp_path / "out.json")
    (folder / LANDMARKS_FILE).unlink()
    taken = take_in(folder, tmp_path / "out.json")
    assert points(folder) == before
    assert len(taken.written) == len(before) and not taken.left
    read_placings(folder / LANDMARKS_FILE, open_sheet(folder))


def test_a_landmark_that_is_not_placed_has_visibility_0_at_0_0(folder):
    data = exported(folder)
    (category,) = data["categories"]
    k = category["keypoints"].index("waist")
    for annotation in data["annotations"]:
        assert annotation["keypoints"][3 * k : 3 * k + 3] == [0, 0, 0]
        flags = annotation["keypoints"][2::3]
        assert annotation["num_keypoints"] == sum(flag > 0 for flag in flags)


def test_repeats_go_out_as_their_mean(tmp_path):
    rows = placed()
    again = [{**row, "x": f"{float(row['x']) + 1:.3f}", "placed_by": "bo"} for row in rows[:5]]
    folder = make_sheet(
        tmp_path / "tib", placings=[{**r, "placed_by": "ana"} for r in rows] + again
    )
    count, averages = take_out(folder, tmp_path / "out.json")
    assert (count, averages) == (len(rows), 5)
    data = json.loads((tmp_path / "out.json").read_text("utf-8"))
    k = data["categories"][0]["keypoints"].index(rows[0]["landmark"])
    assert data["annotations"][0]["keypoints"][3 * k] == pytest.approx(float(rows[0]["x"]) + 0.5)


def test_the_skeleton_joins_the_pivots_of_a_part(folder):
    (category,) = exported(folder)["categories"]
    names = category["keypoints"]
    joined = {(names[a - 1], names[b - 1]) for a, b in category["skeleton"]}
    assert {("shoulder_l", "elbow_l"), ("elbow_l", "wrist_l"), ("hip_r", "knee_r")} <= joined
    assert ("wrist_l", "shoulder_r") not in joined


def test_what_is_placed_stays_unless_it_is_to_be_replaced(folder, tmp_path):
    take_out(folder, tmp_path / "out.json")
    before = (folder / LANDMARKS_FILE).read_bytes()
    taken = take_in(folder, tmp_path / "out.json")
    assert not taken.written and (folder / LANDMARKS_FILE).read_bytes() == before
    taken = take_in(folder, tmp_path / "out.json", replace=True)
    assert not taken.left
    assert {key[2] for key in read(folder)[1].placings} == {"imported"}


def test_pictures_of_other_sheets_are_passed_over(folder):
    data = exported(folder)
    data["images"].append({"id": 99, "file_name": "else.png", "width": 5, "height": 5})
    data["annotations"].append({**data["annotations"][0], "id": 99, "image_id": 99})
    data["images"].append({"id": 98, "file_name": "art\\Sidee.png", "width": 5, "height": 5})
    data["annotations"].append(
        {"id": 98, "image_id": 98, "category_id": 1, "keypoints": [1.0, 1.0, 2.0, 0.0, 0.0, 0.0]}
    )
    placings, passed_over = from_coco(json.dumps(data), open_sheet(folder), "x.json")
    assert len(placings) == len(read(folder)[1].placings)
    assert all(math.isnan(placing.sd) for placing in placings)
    placed = len(placings) // 4
    assert [(picture.file, picture.placings) for picture in passed_over] == [
        ("else.png", placed),
        ("art\\Sidee.png", 1),
    ]
    assert passed_over[1].hint == 'did you mean "side.png"?'


def test_a_picture_is_known_by_its_bare_name_too(folder):
    data = exported(folder)
    for image in data["images"]:
        image["file_name"] = f"C:\\drawings\\{image['file_name']}"
    assert from_coco(json.dumps(data), open_sheet(folder), "x.json")[0]


def spoil(data, *path_and_value):
    *path, key, value = path_and_value
    inside = data
    for step in path:
        inside = inside[step]
    inside[key] = value
    return data


@pytest.mark.parametrize(
    "text, said",
    [
        ("", "not readable as JSON"),
        ("{", "not readable as JSON"),
        ("[" * 100_000, "not readable as JSON"),
        ("[]", "must be an object"),
        ("{}", "annotations: is missing"),
        ('{"images": 3, "annotations": [], "categories": []}', "images: must be a list"),
        ('{"images": [], "annotations": [], "categories": []}', "no keypoints on a drawing"),
        (
            '{"images": [{"id": "a", "file_name": "a", "width": 1, "height": 1}], '
            '"annotations": [], "categories": []}',
            "images number 1 id: must be a whole number",
        ),
    ],
)
def test_a_file_that_is_no_data_set_is_refused_in_a_sentence(folder, text, said):
    file = folder / "bad.json"
    file.write_text(text, "utf-8")
    faults = faults_of(lambda: take_in(folder, file))
    assert any(said in fault for fault in faults), faults


@pytest.mark.parametrize(
    "change, said",
    [
        (("annotations", 0, "keypoints", 2, 7), "must be 0, 1 or 2"),
        (("annotations", 0, "keypoints", 0, 5e9), "lies outside"),
        (("annotations", 0, "keypoints", 0, math.nan), "must be a number"),
        (("annotations", 0, "keypoints", 0, "a"), "must be a number"),
        (("annotations", 0, "keypoints", [1, 2]), "2 numbers for"),
        (("annotations", 0, "image_id", 44), "image_id is not in the file"),
        (("annotations", 1, "image_id", 1), "second figure"),
        (("images", 0, "width", 7), "place on the drawing itself"),
        (("categories", 0, "keypoints", 0, "nee_l"), 'did you mean "knee_l"?'),
        (("categories", 0, "keypoints", 1, "ground"), "stands twice"),
    ],
)
def test_every_fault_names_the_mend_and_nothing_is_written(folder, change, said):
    file = folder / "bad.json"
    file.write_text(json.dumps(spoil(exported(folder), *change)), "utf-8")
    before = (folder / LANDMARKS_FILE).read_bytes()
    faults = faults_of(lambda: take_in(folder, file, replace=True))
    assert any(said in fault for fault in faults), faults
    assert (folder / LANDMARKS_FILE).read_bytes() == before


def test_a_file_that_is_there_is_never_overwritten(folder, tmp_path):
    (tmp_path / "out.json").write_text("mine", "utf-8")
    (fault,) = faults_of(lambda: take_out(folder, tmp_path / "out.json"))
    assert "is there already" in fault
    assert (tmp_path / "out.json").read_text("utf-8") == "mine"


def test_a_folder_is_never_made_for_it(folder, tmp_path):
    (fault,) = faults_of(lambda: take_out(folder, tmp_path / "gone" / "out.json"))
    assert "there is no folder for it" in fault and "make" in fault
    assert not (tmp_path / "gone").exists()


def test_nothing_placed_is_nothing_to_write(tmp_path):
    folder = make_sheet(tmp_path / "tib", placings=[])
    (fault,) = faults_of(lambda: take_out(folder, tmp_path / "out.json"))
    assert "nothing is placed yet" in fault

"""What is exported is read by pycocotools (PyPI), the reader of the COCO format's authors.

Its keypoint evaluation says, besides, that an export held against itself is perfect.
"""

from __future__ import annotations

import contextlib
import io

import numpy as np
import pytest

from tests.places import SAMPLES
from turncheck.checks.register import open_sheet
from turncheck.sheet.coco import export_keypoints
from turncheck.sheet.placing_file import load_placings

coco = pytest.importorskip("pycocotools.coco")
evaluation = pytest.importorskip("pycocotools.cocoeval")


@pytest.fixture(params=["odo", "brindle"])
def sheet_and_file(request, tmp_path):
    file = tmp_path / "keypoints.json"
    sheet = open_sheet(SAMPLES / request.param)
    export_keypoints(sheet, file)
    with contextlib.redirect_stdout(io.StringIO()):
        read = coco.COCO(str(file))
    return sheet, read


def test_it_finds_every_picture_and_every_placing(sheet_and_file):
    sheet, read = sheet_and_file
    placings = load_placings(sheet.folder / "landmarks.csv", sheet).placings
    assert {image["file_name"] for image in read.loadImgs(read.getImgIds())} == {
        view.picture.file for view in sheet.views.values()
    }
    (category,) = read.loadCats(read.getCatIds())
    found = {}
    for annotation in read.loadAnns(read.getAnnIds()):
        file = read.loadImgs(annotation["image_id"])[0]["file_name"]
        view = next(view.name for view in sheet.views.values() if view.picture.file == file)
        values = np.reshape(annotation["keypoints"], (-1, 3))
        for name, (x, y, flag) in zip(category["keypoints"], values, strict=True):
            if flag:
                found[view, name] = (x, y, flag == 1)
    assert found == {(p.view, p.landmark): (p.x, p.y, p.hidden) for p in placings.values()}


def test_its_evaluation_finds_an_export_equal_to_itself(sheet_and_file):
    _, read = sheet_and_file
    results = [{**annotation, "score": 1.0} for annotation in read.loadAnns(read.getAnnIds())]
    with contextlib.redirect_stdout(io.StringIO()):
        judged = evaluation.COCOeval(read, read.loadRes(results), "keypoints")
        count = len(read.loadCats(read.getCatIds())[0]["keypoints"])
        judged.params.kpt_oks_sigmas = np.full(count, 0.05)
        judged.evaluate()
        judged.accumulate()
        judged.summarize()
    assert judged.stats[0] == pytest.approx(1.0)

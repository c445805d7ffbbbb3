"""`outline` and `mirror` on drawings of a true body, errors painted into the drawings.

The body is openly licensed data read from an installed package; see `bodies`.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import pytest

import turncheck
from tests.outside.bodies import body_or_skip
from tests.outside.rendering import write_sheet
from turncheck.checking import Checked
from turncheck.instructions import Work

YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
HEIGHT = 1000.0


@pytest.fixture(scope="module")
def clean(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("outline") / "clean"
    write_sheet(folder, body_or_skip("adult_female"), YAWS, height_px=HEIGHT)
    return folder


def pixels_of(checked: Checked, check: str) -> pd.DataFrame:
    found = checked.findings
    return found[found["check"] == check]


def swollen(clean: Path, folder: Path, view: str, px: int, low: float, high: float) -> np.ndarray:
    """Copy a sheet and push the right side of a drawing's outline out along some rows.

    Returns the picture rows, first and last.
    """
    shutil.copytree(clean, folder)
    drawing = cv2.imread(str(folder / f"{view}.png"), cv2.IMREAD_UNCHANGED)
    ground = np.flatnonzero(drawing[:, :, 3].any(axis=1))[-1]
    rows = np.arange(round(ground - high * HEIGHT), round(ground - low * HEIGHT))
    for row in rows:
        right = np.flatnonzero(drawing[row, :, 3] > 127)[-1]
        drawing[row, right : right + px + 1] = drawing[row, right]
    cv2.imwrite(str(folder / f"{view}.png"), drawing)
    return rows[[0, -1]]


def test_true_outlines_contradict_nothing_and_are_not_called_on_model(clean):
    checked = turncheck.check(clean)
    for check in ("outline", "mirror"):
        found = pixels_of(checked, check)
        assert set(found["verdict"]) == {"not_measured"}
        assert found["note"].str.contains("nothing contradicts it").all()
    assert checked.instructions == ()


def test_a_hip_swollen_in_the_back_drawing_is_found_with_its_rows_and_side(clean, tmp_path):
    first, last = swollen(clean, tmp_path / "back", "back", 30, 0.44, 0.50)
    checked = turncheck.check(tmp_path / "back")
    found = pixels_of(checked, "mirror")
    off = found[found["verdict"] == "off_model"]
    assert len(off) == 1
    row = off.iloc[0]
    start, end = (int(word) for word in row["subject"].split(",")[0].split()[1::2])
    assert abs(start - first) <= 6 and abs(end - last) <= 6
    assert row["subject"].endswith("right") and row["view"] == "back"
    assert "back: move the edge at the picture's right" in row["note"] and "inward" in row["note"]
    assert row["drift_px"] == pytest.approx(30.0, abs=7.0)
    (instruction,) = checked.instructions
    assert instruction.work is Work.OUTLINE
    assert "does not fit the opposite drawing" in instruction.says


def test_without_a_drawing_from_the_opposite_side_mirror_says_so(clean, tmp_path):
    shutil.copytree(clean, tmp_path / "three")
    text = (tmp_path / "three" / "sheet.toml").read_text()
    start = text.index("[views.back]")
    end = text.find("\n[", start + 1)
    (tmp_path / "three" / "sheet.toml").write_text(text[:start] + (text[end:] if end > 0 else ""))
    csv = tmp_path / "three" / "landmarks.csv"
    kept = [row for row in csv.read_text().splitlines() if not row.startswith("back,")]
    csv.write_text("\n".join(kept) + "\n")
    found = pixels_of(turncheck.check(tmp_path / "three"), "mirror")
    assert list(found["note"]) == ["no two drawings show the body from opposite sides"]


def test_a_body_drawn_from_above_is_said_to_be_and_no_outline_is_accused(tmp_path):
    body = body_or_skip("adult_female")
    write_sheet(tmp_path / "above", body, YAWS, height_px=HEIGHT, tilt=6.0, noise_sd_pct=0.15)
    checked = turncheck.check(tmp_path / "above")
    for check in ("outline", "mirror"):
        (row,) = pixels_of(checked, check).itertuples()
        assert row.verdict == "not_measured"
        assert "these drawings look seen from above by about 6°" in row.note

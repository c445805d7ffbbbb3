"""Drawings and tables that have parted since the points were placed are refused in a sentence."""

import shutil
from pathlib import Path

import cv2
import numpy as np
import pandas as pd
import pytest

from tests.places import SAMPLES
from turncheck import TurncheckError, check

SAMPLE = SAMPLES / "odo"


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    shutil.copytree(SAMPLE, tmp_path / "odo")
    return tmp_path / "odo"


def refused(sheet: Path) -> str:
    with pytest.raises(TurncheckError) as caught:
        check(sheet)
    assert len(caught.value.faults) == 1
    return str(caught.value)


@pytest.mark.parametrize("factor", [2.0, 0.5])
def test_a_drawing_exported_at_another_size_than_its_points_is_refused(sheet, factor):
    drawn = cv2.imread(str(sheet / "side.png"), cv2.IMREAD_UNCHANGED)
    scaled = cv2.resize(drawn, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    if factor < 1.0:  # points outside the picture are refused earlier
        scaled = cv2.copyMakeBorder(
            scaled, 0, drawn.shape[0], 0, drawn.shape[1], cv2.BORDER_CONSTANT
        )
    cv2.imwrite(str(sheet / "side.png"), scaled)
    says = refused(sheet)
    assert "landmarks.csv" in says and "side.png" in says and "another size" in says


def test_a_ground_at_the_crown_is_refused(sheet):
    table = pd.read_csv(sheet / "landmarks.csv")
    crown = table.loc[(table["view"] == "side") & (table["landmark"] == "crown"), "y"].iloc[0]
    table.loc[(table["view"] == "side") & (table["landmark"] == "ground"), "y"] = crown
    table.to_csv(sheet / "landmarks.csv", index=False)
    says = refused(sheet)
    assert "the ground of side" in says and "soles stand on" in says


@pytest.mark.parametrize("value", [(255, 255, 255, 255), (0, 0, 0, 0)])
def test_an_empty_drawing_is_refused(sheet, value):
    drawn = cv2.imread(str(sheet / "back.png"), cv2.IMREAD_UNCHANGED)
    cv2.imwrite(str(sheet / "back.png"), np.full_like(drawn, value))
    says = refused(sheet)
    assert "back.png" in says and "no figure" in says and "mask" in says

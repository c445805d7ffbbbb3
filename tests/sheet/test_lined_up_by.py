"""A new sheet is lined up by fit where its figures were drawn at different sizes."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from turncheck.cli import main


@pytest.mark.parametrize(("tall", "placing"), [(230, "ground"), (250, "fit")])
def test_figures_more_than_a_fifth_apart_are_lined_up_by_fit(
    tall: int, placing: str, tmp_path: Path
) -> None:
    for name, height in (("front", 200), ("side", tall)):
        drawing = np.full((300, 200, 3), 255, np.uint8)
        drawing[280 - height : 280, 60:140] = (40, 90, 160)
        cv2.imwrite(str(tmp_path / f"{name}.png"), drawing)
    files = [str(tmp_path / f"{name}.png") for name in ("front", "side")]
    run = CliRunner().invoke(main, ["new", str(tmp_path / "sheet"), *files])
    assert run.exit_code == 0
    assert f'placing = "{placing}"' in (tmp_path / "sheet" / "sheet.toml").read_text("utf-8")
    assert ('placing = "fit"' in run.output) == (placing == "fit")
    assert ("only tells how large each is drawn" in run.output) == (placing == "fit")

"""A sheet whose drawings differ in size on purpose, from the drawings to all that is said of it."""

import csv
import json
import re
import shutil

import cv2
import pytest
from click.testing import CliRunner

from tests.places import SAMPLES
from turncheck.cli import main

TIMES = 0.5


@pytest.fixture(scope="module")
def resized(tmp_path_factory):
    """Pim with a side of half the size, and its points."""
    folder = tmp_path_factory.mktemp("sizes") / "pim"
    shutil.copytree(SAMPLES / "pim", folder)
    picture = cv2.imread(str(folder / "side.png"), cv2.IMREAD_UNCHANGED)
    small = cv2.resize(picture, None, fx=TIMES, fy=TIMES, interpolation=cv2.INTER_AREA)
    assert cv2.imwrite(str(folder / "side.png"), small)
    with (folder / "landmarks.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    for row in (row for row in rows if row["view"] == "side"):
        row |= {axis: f"{(float(row[axis]) + 0.5) * TIMES - 0.5:.3f}" for axis in "xy"}
    with (folder / "landmarks.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    settings = (folder / "sheet.toml").read_text("utf-8")
    settings = re.sub("^placing = .*$", 'placing = "fit"', settings, flags=re.M)
    (folder / "sheet.toml").write_text(settings, "utf-8")
    return folder


def test_the_size_is_told_and_what_else_is_off_is_found_at_that_size(resized, tmp_path):
    done = CliRunner().invoke(main, ["check", str(resized), "--out", str(tmp_path)])
    told = "Side is drawn 0.50 times as large as front: scale by 2.00 when it is built."
    assert done.exit_code == 1 and told in done.output
    summary = json.loads((tmp_path / "summary.json").read_text("utf-8"))
    assert told in summary["placing_remarks"]
    assert told in (tmp_path / "report.html").read_text("utf-8")
    with (tmp_path / "findings.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    sizes = {row["view"]: row for row in rows if row["subject"] == "scale"}
    assert {row["verdict"] for row in rows if row["check"] == "size"} == {"not_measured"}
    assert float(sizes["side"]["drift_pct"]) == pytest.approx(-50.0, abs=0.5)
    assert not any(re.search("Whole|scale it", line) for line in done.output.splitlines())
    # what is planted in Pim but the size of the back, a line each; of the side in its own px
    lines = [line.split(maxsplit=1)[1] for line in done.output.splitlines() if line[2:3].isdigit()]
    assert [line.split(":")[0] for line in lines] == ["three quarter"] * 2 + ["back", "side"]
    assert re.match(r"side: Eye line (9|10)(\.\d)? px too low", lines[-1])


def test_guides_ask_for_no_other_size(resized, tmp_path):
    done = CliRunner().invoke(main, ["guides", str(resized), "--out", str(tmp_path)])
    assert done.exit_code == 0, done.output
    assert "Eye line" in done.output and not re.search("scale|larger|smaller", done.output)

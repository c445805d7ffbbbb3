"""What a sheet gives to the show's statistics."""

from __future__ import annotations

import csv
import shutil
from dataclasses import replace

import numpy as np
import pytest

import turncheck
from tests.places import SAMPLES
from tests.samples import checked
from tests.sheets import csv_text
from tests.simulations.figures import measured, placings, sheet
from turncheck.mistakes.slip import Slip
from turncheck.show.recording import drifts_of

#: % of the figure height by which the side drawing's eyes are lowered.
LOWERED = 2.0


@pytest.fixture(scope="module")
def eyes_low(tmp_path_factory):
    """The clean sample with the eyes of its side drawing placed too low, and by how many px."""
    folder = tmp_path_factory.mktemp("show") / "odo"
    shutil.copytree(SAMPLES / "odo", folder)
    clean = checked("odo").measured
    v = clean.views.index("side")
    px = LOWERED / 100 * clean.figure_height * clean.size(v)
    with (folder / "landmarks.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        if row["view"] == "side" and row["landmark"].startswith("eye"):
            row["y"] = f"{float(row['y']) + px:.2f}"
    (folder / "landmarks.csv").write_text(csv_text(rows), "utf-8")
    return turncheck.check(folder)


def by_place(result):
    return {(one.view, one.landmark): one for one in drifts_of(result)}


def test_an_eye_line_drawn_low_comes_out_in_its_drawing_and_a_share_of_it_in_the_others(eyes_low):
    before, after = by_place(checked("odo")), by_place(eyes_low)
    with_eyes = [view for view, landmark in before if landmark == "eye_line"]
    for view in with_eyes:
        moved = after[view, "eye_line"].drift_pct - before[view, "eye_line"].drift_pct
        expected = -LOWERED if view == "side" else LOWERED / (len(with_eyes) - 1)
        assert moved == pytest.approx(expected, abs=0.2)
    rest = [after[at].drift_pct - before[at].drift_pct for at in before if at[1] != "eye_line"]
    assert np.abs(rest).max() < 0.3
    assert after["side", "eye_line"].sd_pct < LOWERED / 4


def test_every_firm_height_but_the_ground_is_held_against_the_other_drawings(eyes_low):
    heights = eyes_low.measured
    landmarks = {one.landmark for one in drifts_of(eyes_low)}
    assert landmarks == {
        name
        for name, firm in zip(heights.landmarks, heights.firm, strict=True)
        if firm and name not in ("ground", "eye_l", "eye_r")
    } | {"eye_line"}


def test_a_drawing_that_a_warning_is_about_has_no_part_in_it():
    fine = checked("odo")
    slip = Slip("same", "the side drawing is another character's", ("side",))
    warned = by_place(replace(fine, warnings=(slip,)))
    assert "side" not in {view for view, _ in warned}
    assert {view for view, _ in warned} == set(fine.sheet.views) - {"side"}


def test_a_small_drift_comes_out_whole_and_as_sure_as_is_said():
    """Small enough to be taken for noise by the fit of sizes and positions, which gives way."""
    rng, simulated = np.random.default_rng(5), sheet(4)
    errors = []
    for _ in range(60):
        figure = measured(simulated, placings(simulated, rng, {("side", "eye_l"): -0.4}))
        side = by_place(replace(checked("odo"), measured=figure))["side", "eye_line"]
        errors.append(((side.drift_pct + 0.4), (side.drift_pct + 0.4) / side.sd_pct))
    drift, over_sd = np.array(errors).T
    assert abs(drift.mean()) < 3 * drift.std() / np.sqrt(len(drift))
    assert 0.75 < over_sd.std() < 1.3

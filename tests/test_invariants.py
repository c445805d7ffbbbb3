"""What must not change: size, left and right, order of rows, one more drawing that agrees."""

from __future__ import annotations

import re
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from PIL import Image

import turncheck
from tests.outside.figures import figure
from tests.outside.planting import EXACT, placings, replaced, same_findings, write
from tests.outside.rendering import write_sheet

YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
FIGURE = {
    "chin": 0.85, "eye": 0.92, "shoulder": 0.8, "elbow": 0.62, "wrist": 0.48, "fingertip": 0.38,
    "hip": 0.52, "knee": 0.28, "ankle": 0.04, "head": 0.86, "neck_top": 0.86, "neck": 0.8,
}  # fmt: skip
LANDMARKS = ("chin", "crown", "knee_l", "wrist_r", "eye_l")
PX = ("expected", "measured", "drift_px")  # they are of each view's own drawing
# Every example checks two sheets, so a failure is shown as found, not shrunk for minutes.
few = settings(
    max_examples=8, deadline=None, derandomize=True, phases=[Phase.explicit, Phase.generate]
)
views = st.sampled_from(list(YAWS))
seeds = st.integers(0, 2**16)
drifts = st.dictionaries(
    st.tuples(views, st.sampled_from(LANDMARKS)), st.floats(-25, 25), max_size=3
)


@pytest.fixture(scope="module")
def clean(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("invariants") / "clean"
    write_sheet(folder, figure(FIGURE), YAWS, draw_pictures=False)
    return folder


def findings(folder: Path) -> pd.DataFrame:
    """Return a sheet's findings; of turns only the drift, as positions depend on the canvas."""
    table = turncheck.check(folder).findings
    turn = table["check"] == "turn"
    return table.assign(**{c: table[c].mask(turn) for c in ("expected", "measured")})


def rescaled(folder: Path, view: str, times: float) -> None:
    """Enlarge a drawing and its placings; the top-left pixel's corner stays where it is."""
    picture = folder / f"{view}.png"
    with Image.open(picture) as drawing:
        size = [int(np.ceil(side * times)) for side in drawing.size]
    picture.unlink()
    Image.new("L", size).save(picture)
    table = placings(folder)
    mine = (table["view"] == view).to_numpy()
    xy = table[["x", "y"]].to_numpy(dtype=float)
    xy = np.where(mine[:, None], (xy + 0.5) * times - 0.5, xy)
    write(folder, table.assign(x=xy[:, 0], y=xy[:, 1]))


@few
@given(drift=drifts, view=views, times=st.floats(0.5, 2.0), seed=seeds)
def test_enlarging_a_drawing_and_its_placings_changes_no_per_cent(clean, drift, view, times, seed):
    with TemporaryDirectory() as folder:
        plain = replaced(
            clean, Path(folder, "plain"), drift, noise_px=2.0, seed=seed, placing="fit"
        )
        enlarged = replaced(plain, Path(folder, "enlarged"))
        rescaled(enlarged, view, times)
        before, after = findings(plain), findings(enlarged)
        tables = [t[~((t["check"] == "size") & (t["subject"] == "scale"))] for t in (before, after)]
        # The turn is solved step by step, and pairing rests on it: so near that nobody could draw
        # the difference.
        solved = [t["check"].isin(["turn", "proportion", "pairing"]) for t in tables]
        exact = [t[~s] for t, s in zip(tables, solved, strict=True)]
        turned = [t[s] for t, s in zip(tables, solved, strict=True)]
        # The size is told as an instruction of its own, so those after it have other numbers.
        same_findings(*exact, but=(*PX, "follows"))
        same_findings(*turned, but=(*PX, "note", "follows"), within=0.02)
        # In px only the enlarged drawing's own rows grow; ratios have no px.
        for column in PX:
            px = [t[t["unit"] == "pct_height"][column].to_numpy() for t in exact]
            own = (exact[0][exact[0]["unit"] == "pct_height"]["view"] == view).to_numpy()
            np.testing.assert_allclose(px[1], px[0] * np.where(own, times, 1), atol=1e-4)


@few
@given(drift=drifts, view=views, times=st.floats(0.5, 2.0))
def test_the_size_found_is_the_size_drawn(clean, drift, view, times):
    with TemporaryDirectory() as folder:
        sheet = replaced(clean, Path(folder, "s"), drift, placing="fit", placing_sd=EXACT)
        rescaled(sheet, view, times)
        scale = {
            v: found["scale"] for v, found in turncheck.check(sheet).summary()["views"].items()
        }
        base = times if view == "front" else 1.0
        expected = {v: (times if v == view else 1.0) / base for v in YAWS}
        # A drift within the noise pulls the fit by less than the noise, 0.01 %.
        assert scale == pytest.approx(expected, rel=1e-4)


def other_side(text: str) -> str:
    swap = {"_l": "_r", "_r": "_l", "left": "right", "right": "left"}
    return re.sub(r"_[lr]\b|\bleft\b|\bright\b", lambda found: swap[found.group()], text)


def mirrored(folder: Path) -> None:
    """Mirror every drawing of a sheet and rename left and right; turns change their sign."""
    table = placings(folder)
    widths = {}
    for view in YAWS:
        with Image.open(folder / f"{view}.png") as drawing:
            widths[view] = drawing.size[0]
    x = table["view"].map(widths) - 1 - table["x"].astype(float)
    write(folder, table.assign(x=x, landmark=table["landmark"].map(other_side)))
    sheet = (folder / "sheet.toml").read_text("utf-8")
    (folder / "sheet.toml").unlink()
    (folder / "sheet.toml").write_text(re.sub(r"yaw = (45|90)", r"yaw = -\1", sheet), "utf-8")


def seen_in_a_mirror(table: pd.DataFrame) -> pd.DataFrame:
    """Return what the findings must be of the mirrored sheet.

    Names change side. What is signed from left to right changes its sign: levels (the left's height
    above the right's), whose name stays, how far a pair lies from the midline, turns and what lies
    sideways.
    """
    level = table["subject"].str.endswith(" level")
    pair = (table["check"] == "pairing") & ~level
    sign = np.where(level | pair | (table["check"] == "turn"), -1.0, 1.0)
    numbers = ("expected", "measured", "drift_px", "drift_pct", "odd_pct")
    signed = {name: table[name] * sign for name in numbers}
    subject = table["subject"].where(level | pair, table["subject"].map(other_side))
    landmarks = table["landmarks"].where(level | pair, table["landmarks"].map(other_side))
    return table.assign(subject=subject, landmarks=landmarks, **signed)


def in_one_order(table: pd.DataFrame) -> pd.DataFrame:
    names = table["landmarks"].map(lambda text: " ".join(sorted(text.split())))
    # A negated nothing is nothing.
    numbers = table.select_dtypes("number") + 0.0
    return table.assign(landmarks=names, **{c: numbers[c] for c in numbers})


@few
@given(drift=drifts, seed=seeds, placing=st.sampled_from(["ground", "canvas", "fit"]))
def test_in_a_mirror_left_and_right_change_places_and_nothing_else(clean, drift, seed, placing):
    with TemporaryDirectory() as folder:
        plain = replaced(
            clean, Path(folder, "plain"), drift, noise_px=2.0, seed=seed, placing=placing
        )
        mirror = replaced(plain, Path(folder, "mirror"))
        mirrored(mirror)
        before, after = findings(plain), findings(mirror)
        same_findings(in_one_order(seen_in_a_mirror(before)), in_one_order(after))


@few
@given(drift=drifts, seed=seeds, placing=st.sampled_from(["ground", "fit"]))
def test_the_order_of_rows_means_nothing(clean, drift, seed, placing):
    with TemporaryDirectory() as folder:
        plain = replaced(
            clean, Path(folder, "plain"), drift, noise_px=2.0, seed=seed, placing=placing
        )
        shuffled = replaced(plain, Path(folder, "shuffled"))
        table = placings(plain).sample(frac=1.0, random_state=seed)
        write(shuffled, table[table.columns[::-1]])
        one, other = turncheck.check(plain), turncheck.check(shuffled)
        pd.testing.assert_frame_equal(one.findings, other.findings)
        assert one.instructions == other.instructions


@few
@given(drift=drifts, added=st.sampled_from(["three_quarter", "side", "back"]))
@pytest.mark.parametrize("placing", ["ground", "fit"])
def test_one_more_drawing_that_agrees_changes_no_verdict(clean, drift, added, placing):
    drift = {key: px for key, px in drift.items() if key[0] != added}
    known = {"placing": placing, "placing_sd": EXACT}
    with TemporaryDirectory() as folder:
        fewer = replaced(clean, Path(folder, "fewer"), drift, leave_out=[added], **known)
        more = replaced(clean, Path(folder, "more"), drift, **known)
        key = ["check", "view", "subject"]
        before, after = (findings(f).set_index(key)["verdict"] for f in (fewer, more))
        after = after.loc[before.index.intersection(after.index)]
        # What a turn could not tell from fewer drawings it may tell from more.
        untold = (before == "not_measured") & (before.index.get_level_values("check") == "turn")
        decided = ~untold & (before != "undecided")  # more drawings make more certain
        pd.testing.assert_series_equal(before[decided], after.loc[before[decided].index])
        assert "off_model" not in set(after.loc[after.index.intersection(before[untold].index)])


@few
@given(view=views, right=st.floats(-15, 15), up=st.floats(-15, 15), seed=seeds)
@pytest.mark.parametrize("placing", ["ground", "fit"])
def test_where_a_drawing_lies_on_its_canvas_means_nothing(clean, view, right, up, seed, placing):
    with TemporaryDirectory() as folder:
        plain = replaced(clean, Path(folder, "plain"), noise_px=2.0, seed=seed, placing=placing)
        moved = replaced(plain, Path(folder, "moved"))
        table = placings(plain)
        mine = (table["view"] == view).astype(float)
        write(moved, table.assign(x=table["x"] + right * mine, y=table["y"] - up * mine))
        same_findings(findings(plain), findings(moved))

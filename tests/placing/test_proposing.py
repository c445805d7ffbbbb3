"""What a drawing shows by itself is proposed where it truly lies."""

from __future__ import annotations

import math
import shutil
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.outside.bodies import body_or_skip
from tests.outside.rendering import silhouette, write_sheet
from tests.places import SAMPLES
from tests.placing.plain_bodies import PLAIN, robot, squat
from tests.placing.proposal_worth import YAWS, errors, placings_of, sheets
from turncheck.checking import check
from turncheck.checks.finding import Verdict
from turncheck.checks.register import open_sheet
from turncheck.placing.body import Seen, solve_body
from turncheck.placing.drawings import Drawings
from turncheck.placing.proposing import propose
from turncheck.placing.silhouette import silhouette_spots
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import Sheet


def figure() -> np.ndarray:
    """A figure of blocks: head, neck, body, two legs with a gap between columns 48 and 52."""
    mask = np.zeros((220, 100), bool)
    mask[10:50, 35:66] = True
    mask[50:58, 45:56] = True
    mask[58:130, 25:76] = True
    mask[130:210, 30:48] = True
    mask[130:210, 53:71] = True
    return mask


def test_the_shape_tells_ground_top_neck_and_where_the_legs_part() -> None:
    found = silhouette_spots(figure(), straight=True)
    assert found["ground"] == (50.0, 209.5)
    assert found["hair_top"] == (50.0, 9.5)
    assert found["chin"][0] == 50.0 and 50 <= found["chin"][1] < 58
    assert found["crotch"] == (50.0, 129.5)


def test_legs_that_do_not_part_give_no_crotch() -> None:
    mask = figure()
    mask[130:210, 30:71] = True
    assert "crotch" not in silhouette_spots(mask, straight=True)


def with_front_placed(truth: Sequence[Placing]) -> list[Placing]:
    return [p for p in truth if p.view == "front" or p.landmark == "ground"]


@pytest.fixture(scope="module")
def odo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Sheet, tuple[Placing, ...], Drawings]:
    _, sheet, truth, _ = next(iter(sheets(tmp_path_factory.mktemp("bodies"))))
    return sheet, truth, Drawings(sheet)


def test_only_what_is_not_placed_yet_is_proposed(
    odo: tuple[Sheet, tuple[Placing, ...], Drawings],
) -> None:
    sheet, truth, drawings = odo
    front = with_front_placed(truth)
    found = {(p.view, p.landmark) for p in propose(sheet, front, drawings)}
    assert not found & {(p.view, p.landmark) for p in front}
    assert {view for view, _ in found} == set(sheet.views) - {"front"}


def test_a_ruled_proposal_is_marked_as_such_and_of_the_bare_shape_all_but_the_ground_as_doubtful(
    odo: tuple[Sheet, tuple[Placing, ...], Drawings],
) -> None:
    sheet, truth, drawings = odo
    bare = propose(sheet, (), drawings)
    assert {p.landmark for p in bare if not p.doubtful} == {"ground"}
    assert not any(p.ruled for p in bare)
    assert any(p.ruled for p in propose(sheet, with_front_placed(truth), drawings))


@pytest.fixture(scope="module")
def child(tmp_path_factory: pytest.TempPathFactory) -> tuple[Sheet, tuple[Placing, ...], float]:
    """The body: MakeHuman's base mesh (CC0), see tests/outside/bodies.py."""
    folder = tmp_path_factory.mktemp("child")
    truth = write_sheet(folder, body_or_skip("child"), YAWS)
    sheet = open_sheet(folder)
    rows = truth.points.itertuples(index=False)
    points = [(p.view, p.landmark, p.x, p.y, p.visibility == "hidden") for p in rows]
    return sheet, placings_of(points, sheet), truth.figure_height


@pytest.mark.parametrize(("placed", "least"), [(("front",), 0.9), (("front", "side"), 0.95)])
def test_landmarks_of_a_true_body_are_found_in_the_other_views(
    child: tuple[Sheet, tuple[Placing, ...], float], placed: tuple[str, ...], least: float
) -> None:
    off = errors("child", *child, placed)
    row = off[(off["source"] == "the same row") & ~off["doubtful"]]
    assert len(row) > 20
    assert (row["off"] <= 1.0).mean() >= least


@pytest.mark.parametrize("make", [squat, robot])
@pytest.mark.parametrize("seed", range(3))
def test_ears_an_aerial_and_arms_held_out_are_neither_chin_nor_shoulders(make, seed) -> None:
    body = make(seed)
    alpha, view = silhouette(body, 0, 500)
    found = silhouette_spots(alpha > 127, straight=True)
    for name in ("chin", "crotch"):
        true = body.joints[name]
        off = (found[name][0] - view.c, found[name][1] - (view.g - view.s * true[1]))
        assert np.hypot(*off) <= 0.03 * view.s


def test_a_raised_hand_is_not_the_top_of_the_head() -> None:
    mask = figure()
    mask[0:100, 85:90] = True
    assert silhouette_spots(mask, straight=True)["crown"] == (50.0, 9.5)
    assert silhouette_spots(mask, straight=True, upright=False)["crown"][1] == -0.5


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> pd.DataFrame:
    """Errors of proposals on plain bodies of other measures than those looked at."""
    found = []
    for name, make in PLAIN.items():
        for seed in (11, 12):
            folder = tmp_path_factory.mktemp(name)
            truth = write_sheet(folder, make(seed), YAWS, height_px=500)
            sheet = open_sheet(folder)
            rows = truth.points.itertuples(index=False)
            points = [(p.view, p.landmark, p.x, p.y, p.visibility == "hidden") for p in rows]
            placings = placings_of(points, sheet)
            for placed in ((), ("front",), ("side",), ("front", "side")):
                found.append(errors(name, sheet, placings, truth.figure_height, placed))
    return pd.concat(found)


def test_proposals_are_as_near_as_they_say(plain: pd.DataFrame) -> None:
    shape = plain["source"] == "the figure's shape"
    for mine in (plain[shape], plain[~shape & plain["doubtful"]], plain[~plain["doubtful"]]):
        assert len(mine) > 50
        assert (mine["off"] <= 1.96 * mine["sd"]).mean() >= 0.95


def test_what_is_offered_for_accepting_unseen_lies_within_1_percent(plain: pd.DataFrame) -> None:
    offered = plain[~plain["doubtful"]]
    assert (offered["off"] <= 1.0).mean() >= 0.95 and offered["off"].max() <= 2.0


def test_a_side_view_alone_does_not_tell_how_far_to_the_side_a_landmark_lies() -> None:
    turns = {"front": 0.0, "side": math.pi / 2}
    axes = dict.fromkeys(turns, Seen(100.0, 1.0))
    placed = {"hip_l": {"side": Seen(120.0, 1.0)}, "nose_tip": {"side": Seen(130.0, 1.0)}}
    told = solve_body(
        turns,
        dict.fromkeys(turns, 1.0),
        axes,
        placed,
        {"hip_l": 60.0, "nose_tip": 1.0},
        400.0,
        "front",
    )
    assert told["hip_l"]["front"].sd > 50 and told["nose_tip"]["front"].sd < 2


def test_what_is_placed_on_a_drawing_tells_how_far_it_is_turned_and_a_pair_its_other_side() -> None:
    """A body drawn at 36° for 45°: its nose and ears say so, and the left hip mirrors the right."""
    turns = {"front": 0.0, "side": math.pi / 2, "quarter": math.pi / 4}
    body = {
        "nose": (0.0, 90.0),
        "ear_l": (70.0, 0.0),
        "ear_r": (-70.0, 0.0),
        "hip_r": (-50.0, 20.0),
    }
    true = turns | {"quarter": math.radians(36.0)}
    placed = {
        name: {
            view: Seen(500.0 + x * math.cos(yaw) + z * math.sin(yaw), 1.0)
            for view, yaw in true.items()
            if (name, view) != ("hip_r", "quarter")
        }
        for name, (x, z) in body.items()
    } | {"hip_l": {"front": Seen(550.0, 1.0)}}
    told = solve_body(
        turns,
        dict.fromkeys(turns, 1.0),
        dict.fromkeys(turns, Seen(500.0, 3.0)),
        placed,
        dict.fromkeys(placed, 150.0),
        1000.0,
        "front",
        [("ear_l", "ear_r"), ("hip_l", "hip_r")],
    )
    for name, side in (("hip_r", -1.0), ("hip_l", 1.0)):
        at = 500.0 + side * 50.0 * math.cos(true["quarter"]) + 20.0 * math.sin(true["quarter"])
        assert told[name]["quarter"].x == pytest.approx(at, abs=4.0), name


@pytest.mark.parametrize("name", ["odo", "pim", "brindle"])
def test_a_sheet_of_accepted_proposals_is_not_off_model(name: str, tmp_path: Path) -> None:
    folder = tmp_path / name
    shutil.copytree(SAMPLES / name, folder)
    sheet = open_sheet(folder)
    rows = [
        (p.view, p.landmark, p.x, p.y, "visible", p.sd, "")
        for p in propose(sheet, (), Drawings(sheet))
    ]
    columns = ["view", "landmark", "x", "y", "visibility", "sd", "placed_by"]
    (folder / "landmarks.csv").unlink()
    pd.DataFrame(rows, columns=columns).to_csv(folder / "landmarks.csv", index=False)
    verdicts = check(folder).findings["verdict"]
    assert len(verdicts) and Verdict.OFF_MODEL not in set(verdicts)

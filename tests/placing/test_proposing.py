"""What a drawing shows by itself is proposed where it truly lies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from tests.outside.bodies import body_or_skip
from tests.outside.rendering import write_sheet
from tests.placing.proposal_worth import YAWS, errors, placings_of, sheets
from turncheck.checks.register import open_sheet
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


def test_a_ruled_proposal_is_marked_as_such_and_a_crown_as_doubtful(
    odo: tuple[Sheet, tuple[Placing, ...], Drawings],
) -> None:
    sheet, truth, drawings = odo
    bare = propose(sheet, (), drawings)
    assert {p.landmark for p in bare if p.doubtful} == {"crown"}
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
    row = off[off["source"] == "the same row"]
    assert len(row) > 20
    assert (row["off"] <= 1.0).mean() >= least

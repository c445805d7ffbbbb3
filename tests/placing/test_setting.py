"""In which order drawings and points are placed, and what is not asked for."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from tests.places import SAMPLES
from turncheck.checks.register import open_sheet
from turncheck.placing.drawings import Drawings
from turncheck.placing.setting import LEVELS, setting_of


@pytest.fixture(scope="module")
def pim() -> dict[str, Any]:
    sheet = open_sheet(SAMPLES / "pim")
    return setting_of(sheet, Drawings(sheet), ())


def view(setting: dict[str, Any], name: str) -> dict[str, Any]:
    return next(view for view in setting["views"] if view["name"] == name)


def test_the_reference_comes_first_and_then_what_it_can_not_tell(pim: dict[str, Any]) -> None:
    assert pim["order"] == ["front", "side", "three_quarter", "back"]


def test_a_twin_follows_its_own_and_the_nearer_side_comes_first(pim: dict[str, Any]) -> None:
    front, side = (view(pim, name)["walk"] for name in ("front", "side"))
    assert front[0] == side[0] == "ground"
    assert front.index("elbow_r") == front.index("elbow_l") + 1
    assert side.index("elbow_l") == side.index("elbow_r") + 1
    groups = [next(m["group"] for m in pim["landmarks"] if m["name"] == name) for name in front]
    changes = sum(one != other for one, other in pairwise(groups))
    assert changes == len(set(groups)) - 1, "no part is come back to"


def test_no_face_is_asked_for_from_behind(pim: dict[str, Any]) -> None:
    face = {"brow_l", "brow_r", "eye_l", "eye_r", "nose_tip", "mouth"}
    assert set(view(pim, "back")["behind"]) == face
    assert view(pim, "side")["behind"] == []


def test_levels_are_those_of_the_table() -> None:
    """Drillis and Contini (1966): knee at .285 and chin at .870 of the stature."""
    assert LEVELS["knee"] * 0.870 == pytest.approx(0.285)
    assert LEVELS["chin"] == 1.0

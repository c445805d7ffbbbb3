"""Correct sheets of random bodies, placed as surely as the sheets say, give no warning."""

import numpy as np
import pytest

from tests.simulations import sheet_bodies
from tests.simulations.sheet_bodies import Case, height_drift, trial, whole_drawing
from tests.simulations.turned_sheets import (
    ARM,
    BIPED,
    QUADRUPED,
    Body,
    blank_sheet,
    measured,
    placed,
    posed,
    random_body,
)
from turncheck.mistakes.impossible import refuse_impossible
from turncheck.mistakes.register import find_slips

#: Every case has missing and hidden points; hidden ones at random.
CASES = {
    "plain": Case(),
    "three drawings": Case(views=("front", "side", "back")),
    "five drawings": Case(views=tuple(sheet_bodies.YAWS)),
    "asymmetric": Case(asymmetry=1.5),
    "arm raised": Case(posed=True),
    "placed three times as badly": Case(noise=3.0),
    "drawn at other angles": Case(turned={"three_quarter": 20.0, "side": -8.0}),
    "a height drifts": Case(plant=height_drift(4.0)),
    "a drawing too large": Case(plant=whole_drawing(too_large=6.0)),
    "a ground too low": Case(plant=whole_drawing(ground_low=4.0)),
}
#: Degrees asked for, also of drawings that face left.
ASKED = {
    "four": {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0},
    "three": {"front": 0.0, "three_quarter": 45.0, "side": 90.0},
    "two": {"three_quarter": 45.0, "side": 90.0},
    "leftward": {"front": 0.0, "three_quarter": -45.0, "side": -90.0, "back": 180.0},
}


@pytest.mark.parametrize("case", CASES)
def test_a_random_body_gives_no_warning(case, monkeypatch):
    monkeypatch.setattr(sheet_bodies, "run_checks", lambda measured: find_slips(measured, {}))
    for seed in range(10):
        assert not trial(CASES[case], seed).rows


def t_pose(body: Body, _: np.random.Generator) -> Body:
    """The body with both arms straight out."""
    reach = {f"{name}_{side}": n for n, name in enumerate(ARM, 1) for side in "lr"}
    return {
        name: (10.0 * (1 if name.endswith("_l") else -1) * (1.0 + reach[name]), 77.0, z)
        if name in reach
        else (x, y, z)
        for name, (x, y, z) in body.items()
    }


@pytest.mark.parametrize("asked", ASKED)
@pytest.mark.parametrize("pose", [None, posed, t_pose, "quadruped"])
def test_a_random_body_in_any_pose_and_set_of_drawings_gives_no_warning(asked, pose):
    kind = "quadruped" if pose == "quadruped" else "biped"
    yaws = ASKED[asked]
    for seed in range(3):
        rng = np.random.default_rng((7, seed))
        body: Body = random_body(QUADRUPED if kind == "quadruped" else BIPED, rng)
        if callable(pose):
            body = pose(body, rng)
        sheet = blank_sheet(yaws, kind)
        placings = placed(sheet, body, yaws, rng)
        refuse_impossible(sheet, placings)
        assert not find_slips(measured(sheet, placings), {})

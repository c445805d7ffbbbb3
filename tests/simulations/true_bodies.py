"""Sheets of the open bodies in `tests/outside`, beside the generator of `sheet_bodies`."""

from __future__ import annotations

import numpy as np

from tests.outside.bodies import HUMAN_TARGETS, load_body, posed
from tests.simulations.sheet_bodies import HEIGHT, Body


def true_body(rng: np.random.Generator, asymmetry: float = 0.0, arm_raised: bool = False) -> Body:
    """One of the humans at random, as tall as all; its 33 landmarks.

    Raises
    ------
    BodiesUnavailableError
        As `load_body` does.
    """
    of = load_body(str(rng.choice(list(HUMAN_TARGETS))))
    joints = (posed(of) if arm_raised else of).joints
    found = {name: at * HEIGHT / of.height for name, at in joints.items()}
    for name in found:
        if name.endswith("_l"):
            found[name] = found[name] + rng.normal(0.0, 1.0, 3) * asymmetry * HEIGHT / 100.0
    return found

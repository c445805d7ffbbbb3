"""How often whole sheets of true bodies are told right: bodies that the trials' generator has not.

Humans of the wheel that `tests/outside/bodies.py` reads, which have 33 of the biped's landmarks.
The limits are the goals. Of n sheets a share p is known to sqrt(p (1 - p) / n): of 150 sheets 8 %
to 2.2 %, 85 % to 2.9 %.
"""

import pytest

from tests.outside.bodies import body_or_skip
from tests.simulations.sheet_bodies import FOUR
from tests.simulations.sheet_trials import figures
from tests.simulations.true_bodies import true_body

#: First seed. The constants are chosen on the generator of `sheet_trials`; sheets of true bodies
#: before this one were looked at between changes, none from here on. Of heavy tails other seeds
#: gave 7 to 11 % of sheets, of drifts of 1.5 % 75 to 86 % named.
FIRST = 120_000
#: Sheets of a case, and the least and the most that each of its figures may be.
LIMITS: dict[str, tuple[int, dict[str, tuple[float, float]]]] = {
    "clean": (
        100,
        {
            "sheets off": (0.0, 0.03),
            "covered": (0.94, 0.97),
            "undecided": (0.0, 0.06),
            "undecided: eye line": (0.0, 0.12),
            "undecided: pivots": (0.0, 0.08),
        },
    ),
    "heavy tails, same sd": (150, {"sheets off": (0.0, 0.10)}),
    "offset per view": (150, {"sheets off": (0.0, 0.10)}),
    "hidden four times worse": (120, {"sheets off": (0.0, 0.10)}),
    "noise twice": (60, {"sheets off": (0.0, 0.25)}),
    "stated and true 0.3 %": (80, {"sheets off": (0.0, 0.10)}),
    "drift 1.5 %": (200, {"named": (0.81, 1.0), "innocent": (0.0, 0.02)}),
    "drift 2 %": (100, {"named": (0.94, 1.0), "innocent": (0.0, 0.02)}),
    "front at 8 degrees": (80, {"named": (0.95, 1.0), "innocent": (0.0, 0.02)}),
    "front at 3 degrees": (
        60,
        {
            "innocent": (0.0, 0.02),
            **{f"yaw bias: {view}": (0.0, 0.3) for view in FOUR},
        },
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", LIMITS)
def test_a_case_keeps_its_limits(case):
    body_or_skip("adult_male")
    sheets, limits = LIMITS[case]
    found = figures(case, sheets, true_body, FIRST)
    kept = {name: least <= found[name] <= most for name, (least, most) in limits.items()}
    assert all(kept.values()), {name: found[name] for name in limits}

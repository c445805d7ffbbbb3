"""The page on where the drawings are seen from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import numpy as np

from tests.figures.constants import CAMERA
from tests.figures.markdown import table
from tests.figures.sweeping import Row, tried
from tests.outside.bodies import BODY_NAMES, body_or_skip
from tests.outside.outlined import drawn
from tests.simulations.test_camera_rates import SETS, Case, told, trials
from turncheck.geometry.camera import Camera
from turncheck.geometry.outlines import compare_outlines

LEVEL = {"clean": Case(), "noise twice the stated": Case(noise=2.0), "drifted": Case(drifts=3)}
SEEN = {
    "0.7° from above": Case(tilt=0.7),
    "1.5°": Case(tilt=1.5),
    "6°": Case(tilt=6.0),
    "6°, drifted": Case(tilt=6.0, drifts=3),
    "perspective 0.06": Case(near=0.06),
    "0.2": Case(near=0.2),
}
#: Bodies whose outlines are compared: seen from a little above, or a little in perspective.
LITTLE = ({"tilt": 0.7}, {"tilt": 1.0}, {"tilt": 1.5}, {"near": 0.03}, {"near": 0.05})


@cache
def cameras(case: Case) -> list[Camera]:
    return trials(case, 12 if case in LEVEL.values() else 5)


@cache
def bodies() -> list[tuple[Camera, bool, bool]]:
    """Return cameras, and whether outlines accuse, without and with heights in doubt by them."""
    found = []
    for name in BODY_NAMES:
        for seen_from in LITTLE:
            for views in ("three", "four", "five"):
                sheet = drawn(body_or_skip(name), SETS[views], seed=1, **seen_from)
                in_doubt = [replace(o, height_sd=sheet.camera.height_sd) for o in sheet.outlines]
                accused = [
                    bool(compare_outlines(outlines, sheet.height).contradictions)
                    for outlines in (sheet.outlines, in_doubt)
                ]
                found.append((sheet.camera, *accused))
    return found


def telling() -> Row:
    """Share of sheets told, and true bodies that are not told and accused by their outlines."""
    row: Row = {name: f"{told(cameras(case)):.1%}" for name, case in (LEVEL | SEEN).items()}
    accused = [doubted for camera, _, doubted in bodies() if not camera.looks]
    return row | {"accused": f"{sum(accused)} of {len(accused)}"}


def fits() -> Iterator[Row]:
    for views in SETS:
        for drifts in (0, 3):
            found = trials(Case(tilt=6.0, drifts=drifts), 8, (views,))
            off = np.array([camera.tilt - 6.0 for camera in found])
            sd = np.array([camera.tilt_sd for camera in found])
            yield {
                "drawings": views,
                "drifts": "a limb and 3 points" if drifts else "none",
                "rms, degrees": f"{np.sqrt(np.mean(off**2)):.2f}",
                "stated": f"{np.median(sd):.2f}",
                "95 % interval holds": f"{np.mean(np.abs(off) < 1.96 * sd):.0%}",
            }


def page() -> str:
    plain = sum(plain for _, plain, _ in bodies())
    return f"""# Where the drawings are seen from

All else takes the drawings to be seen level and from afar. Bodies seen from 6° above
(`tests/outside/bodies.py`), all landmarks placed to 0.15 % of the height:

{table(fits())}

How many sheets are said to be tilted or in perspective, and how many true bodies (seen from 0.7,
1.0 and 1.5° above, or in perspective of 0.03 and 0.05) are not told so and accused by their
outlines. Level sheets are clean, or placed with twice the noise that is stated, or with a whole
limb and three points drifted.

{tried(telling, CAMERA)}

Below 1° and 0.04 more are told than need be: heights count as in doubt by what is not told, and
with that no true body is accused (without, {plain} of {len(bodies())} would be). `CAMERA_COVERAGE`
3 calls more drawings tilted whose points are placed worse than stated. Front and side alone tell
nothing: there a limb that drifted looks like a tilt.
"""

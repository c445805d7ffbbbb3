"""What the figures owe to the constants: each at its value and at lower and higher ones.

`python -m tests.simulations.sweeps` prints the tables of DEVELOPERS.md; with a word such as
`outlines` only that one.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cache
from itertools import combinations
from time import process_time
from typing import Any

import numpy as np
import pandas as pd

from tests.images.papers import drawing, on_paper
from tests.outside.bodies import BODY_NAMES, body_or_skip, posed
from tests.outside.outlined import Sheet, drawn
from tests.simulations import test_blame_rates as blame
from tests.simulations import test_outline_rates as outline
from tests.simulations import test_palette_rates as palette
from tests.simulations import test_turning_rates as turning
from tests.simulations.tables import print_table
from tests.simulations.turning_bodies import biped
from tests.sweeping import sweep
from turncheck.checks import line_weight
from turncheck.geometry.outlines import Outline
from turncheck.geometry.turn import NOBODY
from turncheck.images.stroke_width import Strokes, measure_strokes

Row = Mapping[str, Any]


def table(measure: Callable[[], Row], constants: Mapping[str, Sequence[Any]]) -> pd.DataFrame:
    """Return what `measure` gives at each value of each constant, a row each."""
    tables = []
    for constant, values in constants.items():
        name = constant.rsplit(".", 1)[1]
        found = sweep(f"turncheck.{constant}", values, measure).rename(columns={name: "value"})
        found.insert(0, "constant", name)
        tables.append(found)
    return pd.concat(tables)


CHEATED = [
    turning.Case(biped(), symmetric=symmetric, cheats=7, spread=10.0, trials=60)
    for symmetric in (True, False)
]


def robust() -> Row:
    """How right the turn is where a third is cheated and yaws are 10 degrees (sd) off."""
    start = process_time()
    found = [turning.rates(case) for case in CHEATED]
    each = (process_time() - start) / sum(case.trials for case in CHEATED)
    off = [np.abs(one.error / one.sd) for one in found]
    return {
        "yaw rms, °": " ".join(f"{np.sqrt(np.mean(one.error**2)):.2f}" for one in found),
        "95 % holds": " ".join(f"{np.mean(z <= 1.96):.0%}" for z in off),
        "beyond 4 sd": " ".join(f"{np.mean(z > 4.0):.1%}" for z in off),
        "landmark named": " ".join(f"{one.landmark_named:.1%}" for one in found),
        "false alarms": " ".join(f"{one.false:.2%}" for one in found),
        "ms a sheet": f"{1000.0 * each:.0f}",
    }


TWO_CHEATS = [
    turning.Case(biped(), posed=posed_arm, cheats=2, trials=100) for posed_arm in (False, True)
]


def diagnosed() -> Row:
    """Who is named for two cheats of 3 %, at ease and with an arm posed."""
    found = [turning.rates(case) for case in TWO_CHEATS]
    return {
        "95 % holds": " ".join(f"{one.coverage.mean():.0%}" for one in found),
        "landmark named": " ".join(f"{one.landmark_named:.1%}" for one in found),
        "drawing named": " ".join(f"{one.view_named:.0%}" for one in found),
        "wrong drawing": " ".join(f"{one.wrong_view:.1%}" for one in found),
        "false alarms": " ".join(f"{one.false:.2%}" for one in found),
    }


SPARSE = [
    turning.Case(biped(2, 1), symmetric=False, cheats=1, trials=150),
    turning.Case(biped(2, 2), placing=0.4, cheats=1, trials=150),
    turning.Case(biped(), symmetric=False, cheats=1, trials=60),
]


def stated() -> Row:
    """What is stated of sheets that say little, and of one that says enough."""
    rng = np.random.default_rng(1)
    rows = []
    for case in SPARSE:
        known, right, given, unnamed = [], [], [], []
        for turn, yaws, bad in (turning.trial(case, rng) for _ in range(case.trials)):
            known += [not why for why in turn.yaw_unsolved_because[1:]]
            right += list((np.abs(turn.yaw - yaws) <= 1.96 * turn.yaw_sd)[1:])
            given += list(turn.measurable.ravel())
            # a cheat that is given a drift and goes unnamed looks like a placing that fits
            view, landmark = (int(i[0]) for i in np.nonzero(bad))
            if turn.measurable[view, landmark]:
                unnamed.append(turn.named[landmark] == NOBODY)
        rows.append(
            {
                "yaws stated": f"{np.mean(known):.0%}",
                "95 % holds": f"{np.mean(np.array(right)[known]):.0%}",
                "placings judged": f"{np.mean(given):.0%}",
                "cheats judged but unnamed": f"{np.sum(unnamed)}/{len(unnamed)}",
            }
        )
    return {key: " ".join(row[key] for row in rows) for key in rows[0]}


def outlines() -> Row:
    """False rows on true bodies, and planted errors found."""
    kinds = {
        "false rows": exact_sheets(),
        "unsteady": unsteady_sheets(),
        "twisted": outline.twisted_sheets(),
    }
    start = process_time()
    false = {
        kind: f"{outline.false_sheets(sheets)} of {len(sheets)}" for kind, sheets in kinds.items()
    }
    each = (process_time() - start) / sum(map(len, kinds.values()))
    found = [outline.rates(yaws, True, 2) for yaws in (outline.FIVE, outline.TURNED)]
    return {
        **false,
        "found": " ".join(f"{one.found:.0%}" for one in found),
        "up to 3 %": " ".join(f"{one.small_found:.0%}" for one in found),
        "beyond the power": " ".join(f"{one.beyond_found:.0%}" for one in found),
        "blamed": " ".join(f"{one.blamed:.0%}" for one in found),
        "ms a sheet": f"{1000.0 * each:.0f}",
    }


@cache
def exact_sheets() -> list[Sheet]:
    """Return five views of all bodies, and of humans with an arm raised a little or much."""
    raised = [
        drawn(posed(body_or_skip(name), degrees), outline.FIVE, seed=seed)
        for name in outline.HUMANS
        for degrees in (2.0, 5.0, 10.0, 25.0)
        for seed in range(3)
    ]
    return outline.true_sheets(outline.FIVE, 8) + outline.true_sheets(outline.TURNED, 8) + raised


UNSTEADY, STROKE = 0.002, 0.01
"""How far a hand strays from the outline, and along which length it does, figure heights.

Assumed: no drawings by hand were measured.
"""


@cache
def unsteady_sheets() -> list[Sheet]:
    """Return five sizes of a body by an unsteady hand, the ground placed to 0.15 % of it."""
    rng = np.random.default_rng(2)
    out = []
    for name in BODY_NAMES:
        for seed in range(8):
            sheet = drawn(
                body_or_skip(name), outline.TURNED, scales=(1.0, 0.9, 0.8, 0.95, 0.85), seed=seed
            )
            outlines = [_unsteady(one, sheet.height, rng) for one in sheet.outlines]
            out.append(replace(sheet, outlines=outlines))
    return out


def _unsteady(one: Outline, height: float, rng: np.random.Generator) -> Outline:
    ground_sd = 0.0015 * height
    long = STROKE * height * one.scale
    kernel = np.exp(-0.5 * (np.arange(-4 * long, 4 * long + 1) / long) ** 2)
    kernel *= UNSTEADY * height * one.scale / np.linalg.norm(kernel)
    left, right = (
        edge + np.convolve(rng.normal(size=len(edge)), kernel, "same")
        for edge in (one.left, one.right)
    )
    ground = one.ground + rng.normal(0.0, ground_sd) * one.scale
    return replace(one, left=left, right=right, ground=ground, height_sd=ground_sd)


def paints() -> Row:
    """Rows on clean sheets, and fills named that are painted over, seen through JPEG."""
    rows = [
        row.verdict
        for seen in (palette.as_drawn, palette.through_jpeg)
        for name in palette.SHEETS
        for row in palette.clean(name, seen)
    ]

    def named(numbers: range, apart: float) -> int:
        return sum(
            palette.repainted(name, palette.through_jpeg, number, apart)
            for name in palette.SHEETS
            for number in numbers
        )

    large, small = range(4), range(5, 9)
    return {
        "on model": rows.count("on_model"),
        "undecided": rows.count("undecided"),
        "off model": rows.count("off_model"),
        **{f"large, {apart:g} apart": named(large, apart) for apart in (3.0, 8.0, 12.0)},
        **{f"small, {apart:g} apart": named(small, apart) for apart in (5.0, 8.0)},
    }


def voted() -> Row:
    """Named, and clean ones blamed: with a wide tolerance, and one finer than the placings."""
    out = {}
    for tolerance, sizes in ((1.0, (2.0, 4.0)), (0.2, (2.0, 4.0)), (0.2, (0.6, 1.2))):
        # not the remembered one: the constant has changed
        found = blame.rates.__wrapped__(4, 0.2, "front", "front", 30, tolerance, sizes)
        kind = f"{sizes[0]:g} to {sizes[1]:g} %, tolerance {tolerance:g} %"
        out[kind] = f"{found.found:.1%}, {found.blamed:.2%}"
    return out


@cache
def strokes(name: str, view: str, paper: str) -> Strokes:
    """Return the outline of a sample drawing on a paper."""
    found = measure_strokes(*on_paper(drawing(f"{name}/{view}"), paper))
    assert found is not None
    return found


def weights() -> Row:
    """Differences of stroke width that are due to nobody's brush."""
    same, other = [], []
    for name in palette.SHEETS:
        views = palette.sheet(name).views
        for view in views:
            one, *again = (strokes(name, view, paper) for paper in PAPERS)
            same += [_weight_z(one, two) for two in again]
        pairs = combinations([strokes(name, view, PAPERS[0]) for view in views], 2)
        other += [_weight_z(one, two) for one, two in pairs]
    return {
        "one drawing on two papers": f"{np.mean(np.array(same) <= 1.96):.0%} of {len(same)}",
        "two drawings of a sheet": f"{np.mean(np.array(other) <= 1.96):.0%} of {len(other)}",
    }


PAPERS = ("white", "textured", "uneven", "jpeg")


def _weight_z(one: Strokes, two: Strokes) -> float:
    sds = [each.width_sd for each in (one, two)]
    return abs(one.width - two.width) / float(np.hypot(*np.hypot(sds, line_weight.LEAST_SD)))


SWEEPS: Mapping[str, tuple[Callable[[], Row], Mapping[str, Sequence[Any]]]] = {
    "robust": (
        robust,
        {
            "turning.anneal.COOLING": (0.3, 0.6, 0.8),
            "turning.anneal.MESSY": (0.02, 0.08, 0.15, 0.3),
            "turning.anneal.NEARBY": (2.0, 6.0, 12.0, 20.0),
            "turning.anneal.RELEASE": (1.2, 3.0, 6.0),
            "turning.rows.LARGEST_TURN": (3.0, 7.0, 15.0, 60.0),
        },
    ),
    "diagnosed": (
        diagnosed,
        {
            "turning.diagnosis.PRICE": (7.0, 9.0, 12.0, 16.0),
            "turning.diagnosis.ASYMMETRY_PRICE": (6.0, 9.0, 14.0),
            "turning.diagnosis.AS_GOOD": (2.0, 5.0, 7.0),
        },
    ),
    "stated": (
        stated,
        {
            "turning.solve.LEAST_REDUNDANCY": (0.02, 0.05, 0.1, 0.2),
            "turning.solve.LARGEST_YAW_SD": (2.0, 3.0, 6.0),
        },
    ),
    "outlines": (
        outlines,
        {
            "outlines.extents.ROWS_PER_HEIGHT": (100, 300, 1000),
            "outlines.extents.SLIP_PX": (0.0, 2.0, 4.0),
            "outlines.extents.SLIP_SHARE": (0.0, 0.002, 0.004),
            "outlines.extents.SURE": (0.0, 1.0, 2.0, 3.0),
            "outlines.inequalities.SAME_DIRECTION": (0.0, 1.0, 3.0),
            "outlines.inequalities.FAR_ENOUGH": (0.0, 10.0, 20.0, 40.0, 60.0),
            "outlines.slack.EXTENT_PX": (1.0, 2.0, 3.0, 5.0),
            "outlines.slack.EXTENT_SHARE": (0.0, 0.003, 0.006),
            "outlines.stretches.MENDED": (0.5, 0.75, 0.9, 1.0),
            "outlines.read.SHORTEST_SHARE": (0.0025, 0.005, 0.01, 0.02),
            "outlines.symmetry.FACING": (1.0, 5.0, 15.0),
            "outlines.symmetry.LOPSIDED_SHARE": (0.0, 0.02, 0.05, 0.08, 0.15, 0.5),
            "outlines.symmetry.LOPSIDED_MARGIN": (0.0, 0.02, 0.05),
        },
    ),
    "paints": (
        paints,
        {
            "swatches.SAME_PAINT": (4.0, 7.0, 10.0, 14.0, 20.0),
            "swatches.SAME_SMALL": (1.5, 3.0, 5.0, 10.0),
            "swatches.SMALL": (0.0, 0.003, 0.01, 0.03),
            "swatches.OWN_PAINT": (0.0, 0.002, 0.004, 0.01, 0.03),
        },
    ),
    "voted": (voted, {"agreement.AGREES_WITHIN": (1.0, 1.645, 1.96, 2.576, 3.29, 5.0)}),
    "weights": (weights, {"checks.line_weight.LEAST_SD": (0.0, 0.02, 0.05, 0.1, 0.2)}),
}


def main() -> None:
    for name in sys.argv[1:] or SWEEPS:
        measure, constants = SWEEPS[name]
        measure()  # so that no row's time is spent on drawing the sheets
        print_table(table(measure, constants))


if __name__ == "__main__":
    main()

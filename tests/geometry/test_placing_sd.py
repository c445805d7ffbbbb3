"""How sure placings are taken to be, from what is stated and from repeats."""

from __future__ import annotations

import json
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.simulations import figures
from tests.simulations.figures import placings, sheet
from turncheck.checks.register import run_checks
from turncheck.checks.table import as_table
from turncheck.geometry.placing_sd import (
    CLICK_SD,
    HIDDEN_FACTOR,
    POOL_REPEATS_LEAST,
    SHARED_DOF,
    PlacingSd,
    dof_of_sum,
    placing_sd,
)
from turncheck.instructions.result import Result
from turncheck.report.summary import summary_of

STATED = 0.15
PERCENT_PX = 10.0


def learned(
    apart: list[list[float]],
    percent_px: float | list[float] = PERCENT_PX,
    hidden: list[list[bool]] | None = None,
    sd: float = math.nan,
    stated: float = STATED,
) -> PlacingSd:
    """What is learned from pairs (views, landmarks) so many px apart each way; NaN: no repeat."""
    pairs = np.array(apart)
    return placing_sd(
        stated,
        np.broadcast_to(np.asarray(percent_px, dtype=float), len(pairs)),
        np.where(np.isnan(pairs), 1.0, 2.0),
        np.nan_to_num(pairs**2),  # Σ (d / 2)² over two placings and two axes
        np.full(pairs.shape[1], 2.0),
        np.full(pairs.shape, sd),
        np.zeros(pairs.shape, dtype=bool) if hidden is None else np.array(hidden),
    )


def test_without_repeats_all_is_as_stated():
    found = learned([[math.nan] * 3] * 2, percent_px=[10.0, 20.0])
    assert found.px == pytest.approx(np.array([[1.5] * 3, [3.0] * 3]))
    assert np.isinf(found.dof).all()
    assert (found.pct, found.learned) == (STATED, False)


@pytest.mark.parametrize("repeats", [POOL_REPEATS_LEAST - 1, POOL_REPEATS_LEAST])
def test_eight_repeats_speak_for_the_whole_sheet_and_seven_do_not(repeats):
    found = learned([[6.0] * repeats + [math.nan]])
    enough = repeats >= POOL_REPEATS_LEAST
    assert found.learned is enough
    shared = 6.0 / math.sqrt(2) / PERCENT_PX if enough else STATED
    assert found.pct == pytest.approx(shared)
    assert found.px[0, -1] == pytest.approx(shared * PERCENT_PX)
    assert found.dof[0, -1] == pytest.approx(2.0 * repeats if enough else math.inf)


def test_a_landmarks_own_error_is_drawn_towards_the_stated_one_by_its_degrees_of_freedom():
    found = learned([[6.0, math.nan]])
    own, stated = 18.0, (STATED * PERCENT_PX) ** 2
    expected = (SHARED_DOF * stated + 2.0 * own) / (SHARED_DOF + 2.0)
    assert found.px[0] == pytest.approx([math.sqrt(expected / 2.0), 1.5])
    # JCGM 100:2008, G.2b, in variances: the stated one is known, the landmark's own has two
    share = 2.0 * own / (SHARED_DOF + 2.0) / expected
    assert found.dof[0] == pytest.approx([2.0 / share**2, math.inf])


def test_repeats_that_fall_on_one_spot_leave_a_clicks_uncertainty():
    found = learned([[0.0] * 9 + [math.nan]])
    assert found.px[0, -1] == pytest.approx(CLICK_SD)
    assert found.px[0, 0] == pytest.approx(CLICK_SD / math.sqrt(2))
    assert pytest.approx(np.std(np.linspace(-0.5, 0.5, 100001)), abs=1e-5) == CLICK_SD


def test_a_click_on_a_small_drawing_is_not_learned_to_be_worse_than_is_stated():
    found = learned([[0.0] * 9], percent_px=0.5)  # a figure of 50 px
    assert found.pct == pytest.approx(STATED)


def test_repeats_on_drawings_of_other_sizes_are_pooled_in_per_cent():
    found = learned([[3.0] * 5, [12.0] * 5], percent_px=[10.0, 40.0])
    assert found.pct == pytest.approx(0.3 / math.sqrt(2))
    assert found.px[1] == pytest.approx(4.0 * found.px[0])


def test_hidden_repeats_do_not_make_the_seen_ones_less_sure():
    row = [False] * 5 + [True] * 5
    found = learned([[3.0] * 5 + [3.0 * HIDDEN_FACTOR] * 5], hidden=[row])
    assert found.pct == pytest.approx(0.3 / math.sqrt(2))
    assert found.px[0, 5:] == pytest.approx(HIDDEN_FACTOR * found.px[0, :5])


def test_a_placing_whose_precision_is_given_keeps_it_and_teaches_nothing():
    found = learned([[50.0] * 9], sd=4.0)
    assert found.px == pytest.approx(np.full((1, 9), 4.0 / math.sqrt(2)))
    assert np.isinf(found.dof).all() and not found.learned


def test_one_slip_of_the_hand_does_not_speak_for_every_placing():
    calm = learned([[3.0] * 9])
    slipped = learned([[3.0] * 8 + [600.0]])
    assert slipped.pct < 1.6 * calm.pct
    assert slipped.px[0, -1] > 100.0  # what slipped is itself known badly


def test_a_sum_has_no_more_degrees_of_freedom_than_welch_and_satterthwaite_give_it():
    rng = np.random.default_rng(3)
    for _ in range(50):
        variance, dof = rng.uniform(0.1, 5, 4), rng.uniform(1, 40, 4)
        independent = variance.sum() ** 2 / np.sum(variance**2 / dof)
        assert dof.min() - 1e-9 <= dof_of_sum(variance, dof) <= independent + 1e-9
    assert dof_of_sum(np.array([]), np.array([])) == math.inf


numbers = st.one_of(st.just(0.0), st.floats(-1e5, 1e5))


@settings(deadline=None, max_examples=60)
@given(
    offsets=st.lists(st.tuples(st.integers(0, 59), numbers, numbers), max_size=25),
    stated=st.sampled_from([0.001, 0.15, 10.0]),
    hidden=st.booleans(),
)
def test_any_repeats_leave_every_number_finite(offsets, stated, hidden):
    of = sheet(3, placing_sd=stated)
    table = placings(of, np.random.default_rng(1), {}).astype({"hidden": bool})
    again = [
        table.iloc[[at % len(table)]].assign(
            placed_by=f"bo#{i}",
            x=lambda one, right=right: one["x"] + right,
            y=lambda one, down=down: one["y"] + down,
            hidden=hidden,
        )
        for i, (at, right, down) in enumerate(offsets)
        # the figure must keep its height, and its drawings their ground
        if table.iloc[at % len(table)]["landmark"] not in ("ground", "crown") or abs(down) < 1.0
    ]
    table = pd.concat([table, *again], ignore_index=True)
    measured = figures.measured(of, table)
    assert np.isfinite(measured.sd).all() and (measured.sd > 0).all()
    assert (measured.placing.dof >= 1.0).all()
    rows = tuple(run_checks(measured))
    json.dumps(summary_of(Result(of, (), "", measured, rows, (), {})), allow_nan=False)
    for row in rows:
        assert not row.is_measured or math.isfinite(row.drift_pct)


@pytest.mark.parametrize("times", [2, 5])
def test_copies_of_placings_teach_nothing_and_change_nothing(times):
    of = sheet(4)
    table = placings(of, np.random.default_rng(4), {})
    copies = pd.concat([table.assign(placed_by=f"ana#{i}") for i in range(times)])
    once, again = figures.measured(of, table), figures.measured(of, copies)
    assert (again.placing.pct, again.placing.learned) == (STATED, False)
    assert again.sd == pytest.approx(once.sd)
    assert not again.placing_error
    pd.testing.assert_frame_equal(as_table(run_checks(again)), as_table(run_checks(once)))

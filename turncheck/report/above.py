"""Turn: a dial for each drawing, the figure seen from above with the viewer at the foot.

Frame of a dial: x to the picture's right, y toward the viewer, so that a nose that looks at the
viewer points down; the axis at (0, 0).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from types import SimpleNamespace

import numpy as np

from turncheck.assets.pages import heading
from turncheck.checks.finding import Cause, Kind
from turncheck.checks.verdicts import MISREAD
from turncheck.geometry.guard_bands import WIDTH, Verdict
from turncheck.geometry.turn.observability import YAW_SAME_LINE, line_gap
from turncheck.plain import degrees, number
from turncheck.report.facts import Facts, Row

#: Radii of a dial: its rim, where the band of what is allowed begins, and where the tick of what
#: is meant ends; chosen by eye.
RIM, BAND, TICK = 46.0, 23.0, 53.0
#: The least that is said after ±, degrees.
LEAST_SAID = 0.1


def build_above(facts: Facts) -> SimpleNamespace:
    """Return a dial for each drawing.

    `refusal` says why no turn is known and `settle` what would tell it; `points` are where each
    point lies across and in depth, each with its standard uncertainty, % of the figure height.
    """
    measured = facts.checked.measured
    turn = measured.turn
    placed = (turn.x, turn.x_sd, turn.z, turn.z_sd)
    known = np.flatnonzero(np.isfinite(turn.x) & np.isfinite(turn.z)).tolist() if turn else []
    return SimpleNamespace(
        refusal="" if turn else turn.refusal,
        settle="" if turn else _settle(facts),
        dials=list(_dials(facts)),
        points=[
            (measured.landmarks[i], *(measured.percent(float(values[i])) for values in placed))
            for i in known
        ],
        unknown=len(measured.landmarks) - len(known) if turn else 0,
    )


def _settle(facts: Facts) -> str:
    """Return what drawing would let the turn be solved."""
    sheet = facts.checked.sheet
    yaws = np.array([view.yaw for view in sheet.views.values()])
    if len(yaws) < 2:
        return "A second drawing, from the side or three-quarter, would settle it."
    if not (line_gap(yaws, np.array(sheet.views[sheet.base].yaw)) > YAW_SAME_LINE).any():
        return "A side or three-quarter drawing with the same points on it would settle it."
    return (
        "One more drawing from another direction would settle it, or the left and the right point "
        "of at least two pairs placed on the drawings that are there."
    )


def on_dial(yaw: float, radius: float = RIM) -> tuple[float, float]:
    """Return where a nose points that is turned by `yaw` degrees.

    At a positive yaw it looks to the picture's right.

    >>> x, y = on_dial(90.0, 1.0)
    >>> round(x, 6), round(abs(y), 6)
    (1.0, 0.0)
    """
    angle = math.radians(yaw)
    return radius * math.sin(angle), radius * math.cos(angle)


def _sector(yaw: float, half: float, inner: float, outer: float) -> str:
    """Return the path of a piece of a ring, `half` degrees to either side of a yaw."""
    (a, b), (c, d) = (on_dial(yaw + way * half, outer) for way in (-1.0, 1.0))
    (e, f), (g, h) = (on_dial(yaw + way * half, inner) for way in (1.0, -1.0))
    large = int(half > 90.0)
    return (
        f"M{a:.1f} {b:.1f}A{outer:g} {outer:g} 0 {large} 0 {c:.1f} {d:.1f}"
        f"L{e:.1f} {f:.1f}A{inner:g} {inner:g} 0 {large} 1 {g:.1f} {h:.1f}Z"
    )


def _dials(facts: Facts) -> Iterator[SimpleNamespace]:
    """Yield each drawing's dial, and what it says in words.

    `asked` and `reads` are yaws in degrees, `reads` None where it can't be told; `band` and `fan`
    paths of what is allowed and of what 95 % of readings stay within, or ''; `says` the finding,
    `figures` what was measured, `aside` its note.
    """
    measured = facts.checked.measured
    for view in facts.views:
        v = measured.views.index(view)
        asked = facts.checked.sheet.views[view].yaw
        row = facts.row_about(Kind.YAW, view)
        told = row if row is not None and row.is_measured else None
        is_base = view == facts.checked.sheet.base and told is None
        reads = told.measured if told else asked if is_base and measured.turn else None
        own = 0.0 if reads is None else WIDTH * float(np.nan_to_num(measured.turn.yaw_sd[v]))
        within = told.width_pct if told else own
        ends = (on_dial((reads or 0.0) + way * within, RIM - 2.0) for way in (-1.0, 1.0))
        yield SimpleNamespace(
            title=heading(view),
            verdict="reference" if is_base else row.verdict if row else Verdict.NOT_MEASURED,
            asked=asked,
            reads=reads,
            tick=(on_dial(asked, BAND), on_dial(asked, TICK)),
            needle=None if reads is None else on_dial(reads, RIM - 2.0),
            band=_sector(asked, told.tolerance_pct, BAND, RIM) if told else "",
            fan="M0 0" + "".join(f"L{x:.1f} {y:.1f}" for x, y in ends) + "Z" if within else "",
            says=_says(told, is_base, asked),
            figures=_figures(told, within),
            aside=row.aside if row and row.aside != measured.turn.refusal else "",
            row=row.id if row else "",
        )


def _says(row: Row | None, is_base: bool, asked: float) -> str:
    if is_base:
        return f"{degrees(asked)}, taken at its word"
    if row is None:
        return "can't be told"
    if row.cause in MISREAD:
        return f"looks {'left for right' if row.cause == Cause.SWAPPED else 'mirrored'}"
    if row.is_off_model:
        return f"is turned {degrees(round(row.measured))}, not {degrees(asked)}"
    return "too close to call" if row.verdict == Verdict.UNDECIDED else ""


def _figures(row: Row | None, within: float) -> str:
    """Return what was measured: '90.1° ± 0.5°', '' where nothing was."""
    if row is None:
        return ""
    within = max(within, LEAST_SAID)
    return f"{degrees(row.measured, 1)} ±\N{NO-BREAK SPACE}{number(within)}°"

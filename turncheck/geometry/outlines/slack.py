"""By how much each row keeps the inequalities, and how far a side may move before it does not."""

from typing import NamedTuple

import numpy as np

from turncheck.geometry.outlines.extents import OUTLINE_COVERAGE, Extents
from turncheck.geometry.outlines.inequalities import Inequalities
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Floats

#: What an extent may be off by: px of a drawing, or share of the figure height, the larger. The px
#: were chosen by the measurement in tests/figures/outlines.md, the share so that larger drawings
#: are not held to more: no drawings by hand were measured.
EXTENT_PX, EXTENT_SHARE = 3.0, 0.003


#: Degrees between neighbours from which their corner lies too far off to bound anything; common
#: practice, no source.
CORNER_GAP_WIDEST = 150.0

#: Numbers that are worked on at a time: many drawings have thousands of inequalities a row.
_AT_ONCE = 500_000


class Slack(NamedTuple):
    """By how many px, (C, R) of the reference, each row keeps each of some inequalities.

    At the kindest yaws and axes; negative where broken, NaN where an extent is missing.
    """

    system: Inequalities
    px: Floats


def slack_of(system: Inequalities, extents: Extents, yaw_sd: Floats, axis_sd: Floats) -> Slack:
    """Hold extents against inequalities.

    Parameters
    ----------
    yaw_sd, axis_sd
        (V,) standard uncertainties, degrees and reference px; `OUTLINE_COVERAGE` times these are
        allowed for, each drawing's at its own worst.
    """
    px = np.empty((len(system.side), len(extents.heights)))
    rows = max(1, _AT_ONCE // max(1, len(px)))
    for first in range(0, px.shape[1], rows):
        part = slice(first, first + rows)
        low, high = extents.low[:, part], extents.high[:, part]
        px[:, part] = _kept(system, low, high, np.radians(yaw_sd), axis_sd)
    return Slack(system, px)


def _kept(
    system: Inequalities, low: Floats, high: Floats, yaw_doubt: Floats, axis_sd: Floats
) -> Floats:
    """Return (C, R) px by which each row keeps each inequality; `yaw_doubt` in radians."""
    a, p, b = (system.side[:, i] for i in range(3))
    given = np.stack([high[a], low[p], high[b]])
    kept: Floats = np.einsum("ci,icr->cr", system.weight, given)
    kept += _for_yaws(system, given, yaw_doubt)
    # left sides grow as their axis moves, right sides shrink
    by_axis = system.weight * np.where(system.side % 2 == 0, 1.0, -1.0)
    kept += OUTLINE_COVERAGE * _by_view(system, by_axis, axis_sd)[:, None]
    equal = np.flatnonzero(system.same >= 0)
    if len(equal):
        depth = _depths(system, low, high)[system.same[equal]]
        gap = np.abs(wrapped(system.angle[equal, 1] - system.angle[equal, 0], 2 * np.pi))
        doubt = _by_view(system, system.turn * np.sign(system.weight), yaw_doubt)[equal]
        widest = np.minimum(gap + OUTLINE_COVERAGE * doubt, np.pi / 2)
        kept[equal] += depth * np.sin(widest)[:, None]
    return kept


def _by_view(system: Inequalities, slopes: Floats, sd: Floats) -> Floats:
    """Return (C,) sum over drawings of |slope| sd; a drawing met twice counts as one."""
    total = np.zeros((len(slopes), len(sd)))
    np.add.at(total, (np.arange(len(slopes))[:, None], system.side // 2), slopes)
    return np.asarray(np.abs(total) @ sd)


def _for_yaws(system: Inequalities, given: Floats, sd: Floats) -> Floats:
    """Return (C, R) px that neighbours gain at the kindest yaws, to the second order."""
    near = system.angle[:, 1] - system.angle[:, 0]
    far = system.angle[:, 2] - system.angle[:, 1]
    sines = np.abs(np.sin([near, far, near + far])).max(axis=0, initial=1e-12)
    factor = np.where(system.same >= 0, 0.0, 1.0 / sines)
    cos_near, cos_far, cos_both = ((factor * np.cos(x))[:, None] for x in (near, far, near + far))
    ha, hp, hb = given
    slopes = np.stack(
        [
            (hp * cos_both - hb * cos_near) * system.turn[:, :1],
            (hb * cos_near - ha * cos_far) * system.turn[:, 1:2],
            (ha * cos_far - hp * cos_both) * system.turn[:, 2:],
        ]
    )
    view = system.side // 2
    for i, j in ((0, 1), (0, 2), (1, 2)):
        twice = view[:, i] == view[:, j]
        slopes[j, twice] += slopes[i, twice]
        slopes[i, twice] = 0.0
    doubt = OUTLINE_COVERAGE * sd[view]
    gain = np.einsum("ci,icr->cr", doubt, np.abs(slopes))
    curved = 0.5 * (factor * doubt.sum(axis=1) ** 2)[:, None]
    return np.asarray(gain + curved * np.abs(given).max(axis=0))


def _depths(system: Inequalities, low: Floats, high: Floats) -> Floats:
    """Return (groups, R): how far from its ray each direction's outermost point may lie, px.

    A corner of two neighbouring lines lies (h(b) - h(p) cos g) / sin g along the line p, g being
    the angle between them. Without neighbours the widest extent of the row stands in.
    """
    sides = [list(group) for _, group in system.groups]
    outer = np.array([np.fmax.reduce(high[s]) for s in sides])
    inner = np.array([np.fmin.reduce(low[s]) for s in sides])
    widest = np.fmax.reduce(np.abs(outer))
    angle = np.array([at for at, _ in system.groups])
    count = len(sides)
    depth = np.zeros(outer.shape)
    for i in range(count):
        for j in ((i + 1) % count, (i - 1) % count):
            gap = abs(wrapped(float(angle[j] - angle[i]), 2 * np.pi))
            corner = widest
            if count > 2 and gap < np.radians(CORNER_GAP_WIDEST):
                corner = (outer[j] - inner[i] * np.cos(gap)) / np.sin(gap)
            depth[i] = np.maximum(depth[i], np.where(np.isfinite(corner), corner, widest))
    return depth


class Room(NamedTuple):
    """How far each move may go, each row by itself; (K, R), reference px, inf for ever."""

    outward: Floats
    inward: Floats


def room_of(moves: Floats, slack: Floats, tolerance: float) -> Room:
    """Return how far each move may go before an inequality that holds is broken.

    Those broken already are left out.

    Parameters
    ----------
    moves
        (C, K) how each inequality's sum grows with each move, per px outward.
    slack, tolerance
        (C, R) as in `Slack`, and the px below 0 that still hold.
    """
    left = np.where(slack >= -tolerance, slack + tolerance, np.inf)
    outward, inward = np.full((2, moves.shape[1], slack.shape[1]), np.inf)
    for k, slope in enumerate(moves.T):
        for reach, acts in ((outward, slope < 0), (inward, slope > 0)):
            each = left[acts] / np.abs(slope[acts, None])
            reach[k] = each.min(axis=0, initial=np.inf)
    return Room(outward, inward)

"""Broken rows gathered into stretches, and what one change would mend each."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from turncheck.geometry.outlines.extents import Extents
from turncheck.geometry.outlines.inequalities import Inequalities
from turncheck.geometry.outlines.slack import Room, room_of
from turncheck.numerics.arrays import Floats, Ints

#: Share of a stretch's rows that a change must mend to be named; at the ends of a stretch the
#: violation fades into the tolerance, and any side may seem to mend it. Chosen by the measurement
#: in tests/figures/outlines.md.
STRETCH_MENDED_SHARE = 0.9


@dataclass(frozen=True)
class Broken:
    """What is broken in one row among sides that share inequalities.

    Attributes
    ----------
    sides
        All that take part.
    needs
        (3V,) px by which each move alone would mend it, outward positive, NaN where it can't: first
        each side by itself, then both sides of each drawing together.
    amount
        The largest violation, px.
    opposite
        Whether two drawings from opposite sides differ.
    """

    row: int
    sides: frozenset[int]
    needs: Floats
    amount: float
    opposite: bool


#: Broken rows that hang together, ascending.
Stretch = list[Broken]


def needs_of(stretch: Stretch) -> Floats:
    """Return (3V,) px by which each move alone would mend it all; NaN where it can't."""
    each = np.array([b.needs for b in stretch])
    size = np.where(np.isnan(each), -1.0, np.abs(each))
    largest = np.take_along_axis(each, size.argmax(axis=0)[None], axis=0)[0]
    mends = np.isfinite(each) & (np.sign(each) == np.sign(largest))
    return np.where(mends.mean(axis=0) >= STRETCH_MENDED_SHARE, largest, np.nan)


def broken_rows(system: Inequalities, slack: Floats, tolerance: float, sides: int) -> list[Broken]:
    """Return what is broken in each row, and which side could mend it alone.

    Parameters
    ----------
    slack, tolerance
        (C, R) as in `Slack`, and the px below 0 that still hold.
    sides
        2V.
    """
    broken = slack < -tolerance
    rows = np.flatnonzero(broken.any(axis=0))
    if not len(rows):
        return []
    by_side = system.by_side(sides)
    moves = np.hstack([by_side, by_side[:, ::2] + by_side[:, 1::2]])
    room = room_of(moves, slack[:, rows], tolerance)
    alike: dict[bytes, list[int]] = {}
    for i, pattern in enumerate(broken[:, rows].T):
        alike.setdefault(pattern.tobytes(), []).append(i)
    out = []
    for each in alike.values():
        at = np.array(each)
        for part in _connected(np.flatnonzero(broken[:, rows[at[0]]]), by_side):
            taking_part = frozenset(np.flatnonzero(by_side[part].any(axis=0)).tolist())
            violation = -slack[np.ix_(np.array(part), rows[at])]
            needs = _needs(moves[part], violation, room, at, tolerance)
            opposite = bool(system.opposite[part].any())
            for j, row in enumerate(rows[at].tolist()):
                amount = float(violation[:, j].max())
                out.append(Broken(row, taking_part, needs[:, j], amount, opposite))
    return sorted(out, key=lambda b: b.row)


def _connected(broken: Ints, by_side: Floats) -> list[list[int]]:
    """Return the connected components of broken inequalities, two being joined by a side."""
    parts: list[tuple[set[int], list[int]]] = []
    for c in broken.tolist():
        sides, members = set(np.flatnonzero(by_side[c]).tolist()), [c]
        apart = []
        for other_sides, others in parts:
            if sides & other_sides:
                sides |= other_sides
                members = others + members
            else:
                apart.append((other_sides, others))
        parts = [*apart, (sides, members)]
    return [members for _, members in parts]


def _needs(moves: Floats, violation: Floats, room: Room, at: Ints, tolerance: float) -> Floats:
    """Return (3V, rows) how far each move alone must go to mend all of the broken ones."""
    out = np.full((moves.shape[1], len(at)), np.nan)
    for k, slope in enumerate(moves.T):
        if not (np.all(slope > 0) or np.all(slope < 0)):
            continue
        need = (violation / np.abs(slope)[:, None]).max(axis=0)
        outward = slope[0] > 0
        reach = (room.outward if outward else room.inward)[k, at]
        out[k] = np.where(need <= reach + tolerance, need if outward else -need, np.nan)
    return out


def gather(broken: list[Broken], gap: int, shortest: int) -> list[Stretch]:
    """Join broken rows that share a side, and leave out what is too short.

    Parameters
    ----------
    gap, shortest
        Rows that may hold in between, and that a stretch must have.
    """
    done: list[Stretch] = []
    growing: list[Stretch] = []
    for b in broken:
        done += [s for s in growing if b.row - s[-1].row > gap + 1]
        near = [s for s in growing if b.row - s[-1].row <= gap + 1]
        joined = sorted((x for s in near if _touches(s, b) for x in s), key=lambda x: x.row)
        growing = [*(s for s in near if not _touches(s, b)), [*joined, b]]
    return [s for s in done + growing if len({b.row for b in s}) >= shortest]


def _touches(stretch: Stretch, b: Broken) -> bool:
    last = stretch[-1].row
    return any(x.sides & b.sides for x in reversed(stretch[-8:]) if last - x.row <= 1)


def missing_rows(
    extents: Extents, shortest: int
) -> Iterator[tuple[int, int, list[int], list[int]]]:
    """Yield rows, first to last, that some drawings surely leave blank and others surely fill.

    With them those that leave them blank, and those that fill them.
    """
    filled = np.isfinite(extents.low[::2])
    states = np.where(extents.blank, -1, np.where(filled, 1, 0))
    differs = (states.min(axis=0) == -1) & (states.max(axis=0) == 1)
    edges = np.flatnonzero(np.diff(np.r_[0, differs.astype(np.int8), 0]))
    for first, after in edges.reshape(-1, 2).tolist():
        if after - first >= shortest:
            part = states[:, first:after]
            lacks = np.flatnonzero((part == -1).mean(axis=1) > 0.5)
            shows = np.flatnonzero((part == 1).mean(axis=1) > 0.5)
            if len(lacks) and len(shows):
                yield first, after - 1, lacks.tolist(), shows.tolist()

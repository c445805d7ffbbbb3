"""What chance alone would give, by turning the signs of whole characters around.

Where nothing is wrong, a character is as likely to lie some way too high as the same way too low,
in all of its drawings and points at once. So its signs may be turned around, and how large the
largest of all means becomes over many such turns is what chance gives: no normal errors and no
independence of the points of one drawing are asked for. Fisher 1935, The Design of Experiments,
section 21, for one mean; Westfall and Young 1993, Resampling-Based Multiple Testing, for the
largest of many (from memory); Hemerik, Goeman and Finos 2020, J. R. Stat. Soc. B 82:841, for
differences of two groups (from memory).
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from turncheck.geometry.guard_bands import width
from turncheck.numerics.arrays import Bools, Floats

Signs = np.ndarray[tuple[int, ...], np.dtype[np.int8]]

#: How many turns are tried: all there are for 12 characters; a share of 1 % is known to 0.2 %.
TURNS = 2048
_SEED = 1935
#: Signs that are reckoned with at once; common practice, no source.
_AT_ONCE = 50_000
#: How many medians of its size a value counts for at most, so that one fault is no habit; and how
#: many characters what the spread of all points says is worth beside a point's own. Chosen by the
#: measurement in tests/figures/habits.md.
COUNTS_TO, SPREAD_BELIEF = 4.0, 10.0


def signs_turned(count: int, most: int = TURNS) -> Signs:
    """Return (B, count) signs of that many characters; the first row turns none.

    All there are if they are not more than `most`, less those that turn all of another's; else so
    many by a fixed seed.

    Examples
    --------
    >>> signs_turned(3).tolist()
    [[1, 1, 1], [1, 1, -1], [1, -1, 1], [1, -1, -1]]
    """
    signs = np.ones((min(2 ** (count - 1), most), count), dtype=np.int8)
    if 2 ** (count - 1) <= most:
        bits = np.arange(len(signs))[:, None] >> np.arange(count)[::-1] & 1
        return signs - 2 * bits.astype(np.int8)
    rng = np.random.default_rng(_SEED)
    for block in _blocks(signs):
        block -= 2 * rng.integers(0, 2, block.shape).astype(np.int8)
    signs[0] = 1
    return signs


def largest_turned(parts: Floats, signs: Signs) -> Floats:
    """Return (..., B) the largest of M sums either way after each turn.

    Parameters
    ----------
    parts, signs
        (C, M, ...) what each character adds; (B, C).
    """
    sums = (np.tensordot(parts, block.astype(np.float64), (0, 1)) for block in _blocks(signs))
    return np.concatenate([np.abs(each, out=each).max(axis=0) for each in sums], axis=-1)


def _blocks(signs: Signs) -> Iterator[Signs]:
    """Yield turns a few at a time: as numbers that can be reckoned with all would be large."""
    count = max(_AT_ONCE // signs.shape[1], 1)
    return (signs[at : at + count] for at in range(0, len(signs), count))


def scores_of(values: Floats, own: Bools, rest: Bools, spread: float) -> Floats:
    """Return (C, ...) what each character adds to means, in units of about what chance makes them.

    A mean is that of some characters against that of the rest; against nought where there is none.

    Parameters
    ----------
    values
        (C, ...) a value a character.
    own, rest
        (C, ...) whose values are used.
    spread
        As of `spread_of` all points.
    """
    both = own | rest
    compared = rest.any(axis=0)
    middle = np.where(compared, medians(values, both), 0.0)
    inner = clipped(np.where(both, values - middle, np.nan))
    count = np.maximum(both.sum(axis=0), 1)
    square = (SPREAD_BELIEF * spread + (inner**2).sum(axis=0)) / (SPREAD_BELIEF + count)
    counts = [np.maximum(group.sum(axis=0), 1) for group in (own, rest)]
    unit = np.sqrt(square * (1.0 / counts[0] + np.where(compared, 1.0 / counts[1], 0.0)))
    parts: Floats = inner * (own / counts[0] - rest / counts[1]) / np.where(unit > 0.0, unit, 1.0)
    return parts


def spread_of(values: Floats) -> float:
    """Return the mean square of most points' values, (C, ...), NaN where there is none."""
    count = np.isfinite(values).sum(axis=0)
    squares = (clipped(values) ** 2).sum(axis=0)[count > 0] / count[count > 0]
    return float(np.median(squares)) if squares.size else 0.0


def clipped(values: Floats) -> Floats:
    """Return (C, ...) values that count no more than `COUNTS_TO` times their median size.

    Turning signs around changes no limit.

    Examples
    --------
    >>> clipped(np.array([[1.0], [-1.0], [2.0], [np.nan], [-90.0], [0.5]])).ravel().tolist()
    [1.0, -1.0, 2.0, 0.0, -4.0, 0.5]
    """
    sizes = np.abs(values)
    limit = COUNTS_TO * medians(sizes, np.isfinite(values))
    bounded: Floats = np.nan_to_num(np.clip(values, -limit, limit))
    return bounded


def mean_within(values: Floats) -> float:
    """Return half of the interval that holds the mean of some values in 95 % of cases.

    By Student's t, of values clipped about their median.

    Parameters
    ----------
    values
        (n,) at least two, no NaN.

    Examples
    --------
    >>> round(mean_within(np.array([1.0, -1.0] * 6)), 3)
    0.664
    """
    apart = clipped((values - np.median(values))[:, None])[:, 0]
    return float(width(len(values) - 1) * apart.std(ddof=1) / np.sqrt(len(values)))


def medians(values: Floats, there: Bools) -> Floats:
    """Return medians over characters, the first axis, of those that are there; 0 where none is."""
    ordered = np.sort(np.where(there, values, np.inf), axis=0)
    count = there.sum(axis=0, keepdims=True)
    low, high = (
        np.take_along_axis(ordered, np.maximum(at, 0), axis=0)
        for at in ((count - 1) // 2, count // 2)
    )
    middles: Floats = np.where(count > 0, (low + high) / 2.0, 0.0)[0]
    return middles

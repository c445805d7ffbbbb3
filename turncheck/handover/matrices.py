"""What takes the px of a drawing elsewhere: moved, scaled, flipped, stretched."""

from __future__ import annotations

import math

Spot = tuple[float, float]
#: (a, b, c, d, e, f) as SVG has it: x goes to a x + c y + e, y to b x + d y + f.
Matrix = tuple[float, float, float, float, float, float]

#: What leaves all where it is.
NOWHERE: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)


def applied(matrix: Matrix, spot: Spot) -> Spot:
    """Return where a spot goes.

    >>> applied((1.0, 0.0, 0.0, 1.0, 3.0, -2.0), (10.0, 20.0))
    (13.0, 18.0)
    """
    a, b, c, d, e, f = matrix
    x, y = spot
    return a * x + c * y + e, b * x + d * y + f


def shifted(dx: float, dy: float) -> Matrix:
    """Return what moves all by the same way."""
    return 1.0, 0.0, 0.0, 1.0, dx, dy


def scaled(times: float, about: Spot) -> Matrix:
    """Return what makes all so many times as large about a spot that stays."""
    x, y = about
    return times, 0.0, 0.0, times, x * (1.0 - times), y * (1.0 - times)


def mirrored(x: float) -> Matrix:
    """Return what flips all about an upright line."""
    return -1.0, 0.0, 0.0, 1.0, 2.0 * x, 0.0


def one_after_other(first: Matrix, then: Matrix) -> Matrix:
    """Return what does two after each other.

    >>> one_after_other(shifted(10.0, 0.0), scaled(2.0, (0.0, 0.0)))
    (2.0, 0.0, 0.0, 2.0, 20.0, 0.0)
    """
    a, b, c, d, _, _ = then
    p, q, r, s, e, f = first
    x, y = applied(then, (e, f))
    return a * p + c * q, b * p + d * q, a * r + c * s, b * r + d * s, x, y


def stretched(ends: tuple[Spot, Spot], to: tuple[Spot, Spot]) -> Matrix:
    """Return what takes a stretch of a limb to another, as thick as it was.

    Where it has no length it is moved as its end is.

    >>> applied(stretched(((0.0, 0.0), (0.0, 10.0)), ((0.0, 0.0), (0.0, 12.0))), (3.0, 10.0))
    (3.0, 12.0)
    """
    (x, y), (x1, y1) = ends
    (u, v), (u1, v1) = to
    long, new = math.hypot(x1 - x, y1 - y), math.hypot(u1 - u, v1 - v)
    if min(long, new) < 1.0:
        return shifted(u1 - x1, v1 - y1)
    along, across = (x1 - x) / long, (y1 - y) / long
    to_along, to_across = (u1 - u) / new, (v1 - v) / new
    times = new / long
    a = times * to_along * along + to_across * across
    b = times * to_across * along - to_along * across
    c = times * to_along * across - to_across * along
    d = times * to_across * across + to_along * along
    return a, b, c, d, u - a * x - c * y, v - b * x - d * y

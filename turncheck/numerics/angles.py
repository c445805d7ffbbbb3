"""Angles brought back to one turn around zero."""

from turncheck.numerics.arrays import FloatsOrOne


def wrapped(angle: FloatsOrOne, turn: float = 360.0) -> FloatsOrOne:
    """Return the same direction within half a turn of zero, -turn / 2 left out.

    Parameters
    ----------
    angle
        One or any array of them; NaN stays NaN.
    turn
        A full turn in the angle's unit: 360 in degrees, 2 pi in radians; 180 where a line is
        the same seen from its other end.

    Examples
    --------
    >>> wrapped(270.0), wrapped(-180.0), wrapped(95.0, 180.0)
    (-90.0, 180.0, -85.0)
    """
    half = turn / 2.0
    return half - (half - angle) % turn

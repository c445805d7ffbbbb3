"""Which drawings can give depth at all, decided before anything is solved."""

from collections.abc import Sequence

import numpy as np

from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Bools, Floats

#: Degrees within which two drawings look along one line; common practice, no source.
YAW_SAME_LINE = 15.0

#: A view with fewer shared landmarks has none left over once its axis and yaw are found.
YAW_LANDMARKS_LEAST = 3

#: One pair gives a yaw by symmetry, a second one checks it.
YAW_PAIRS_LEAST = 2


def line_gap(a: Floats, b: Floats) -> Floats:
    """Return the angle in degrees between two lines of sight, opposite ones counting as one line.

    >>> line_gap(np.array([0.0, 45.0]), np.array([180.0, -90.0]))
    array([ 0., 45.])
    """
    return np.abs(wrapped(np.asarray(a - b), 180.0))


def depth_outlook(
    seen: Bools, yaw_nominal: Floats, reference: int, pairs: Sequence[tuple[int, int]]
) -> tuple[str, list[str]]:
    """Say which yaws, and whether any depth, the views can give.

    Opposite views show the same widths, so front and back count as one line of sight. A yaw
    follows from three different lines of sight (for yaws a and b away from the reference the
    drawings fix sin(b - a) / sin b and sin a / sin b), or, on a symmetric body, from pairs seen
    both in that view and in the reference.

    Parameters
    ----------
    seen
        (V, N) which landmarks are placed on which view.
    yaw_nominal
        (V,) degrees.
    reference
        The view whose yaw is held.
    pairs
        Landmarks meant symmetric.

    Returns
    -------
    refusal
        Why nothing can be solved, for people; empty when something can.
    reasons
        (V,) why each yaw cannot be solved, for people; empty when it can.

    Examples
    --------
    >>> refusal, _ = depth_outlook(np.ones((2, 8), bool), np.array([0.0, 180.0]), 0, [])
    >>> refusal
    'the drawings all look along one line (front and back show the same widths): no depth'
    """
    shared = seen & (seen.sum(axis=0) >= 2)
    reasons = [""] * len(seen)
    for v in range(len(seen)):
        if v != reference and shared[v].sum() < YAW_LANDMARKS_LEAST:
            reasons[v] = f"fewer than {YAW_LANDMARKS_LEAST} points shared with other drawings"
    usable = [v for v in range(len(seen)) if not reasons[v] and shared[v].any()]
    if reference not in usable or len(usable) < 2:
        return "at least two drawings with points in common are needed", reasons

    apart = line_gap(yaw_nominal[:, None], yaw_nominal) > YAW_SAME_LINE
    aside = [v for v in usable if apart[v, reference]]
    if not aside:
        return (
            "the drawings all look along one line (front and back show the same widths): no depth",
            reasons,
        )
    if not apart[np.ix_(aside, aside)].any():
        for v in aside:
            both = sum(bool(seen[np.ix_([v, reference], pair)].all()) for pair in pairs)
            if both < YAW_PAIRS_LEAST:
                reasons[v] = (
                    "one view beside the reference, and too few left and right pairs seen in both"
                )
        if all(reasons[v] for v in aside):
            return (
                "the reference and one other line of sight, and too few left and right pairs "
                "seen in both: depth would rest on the nominal yaw alone",
                reasons,
            )
    return "", reasons

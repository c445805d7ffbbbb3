"""Bodies and drawings with a known truth for the trials of the turn."""

from dataclasses import dataclass

import numpy as np

HEIGHT = 1000.0

# X, Z in % of stature of a standing adult, arms a little away from the body; the left side of
# pairs, the likeliest to be placed first. From memory and common practice, no source: only the
# rough proportions matter here.
PAIRED = {
    "eye": (1.8, 5.2),
    "shoulder": (11.0, -1.2),
    "elbow": (14.5, -2.4),
    "wrist": (16.5, 1.8),
    "fingertip": (17.0, 5.5),
    "knee": (5.6, 1.2),
    "ankle": (5.0, -2.6),
    "toe": (7.0, 10.0),
    "heel": (4.6, -5.8),
    "hip": (5.2, 0.2),
    "ear": (4.4, -0.6),
    "cheek": (3.6, 3.4),
    "brow": (2.2, 5.8),
    "palm": (16.8, 3.4),
    "rib": (8.4, 3.0),
    "calf": (7.4, -3.0),
}
MIDLINE = {
    "nose_tip": (0.0, 8.0),
    "mouth": (0.0, 6.2),
    "chin": (0.0, 5.4),
    "neck": (0.0, -2.8),
    "spine": (0.0, -4.0),
    "crown": (0.0, -0.5),
    "waist": (0.0, 6.0),
    "crotch": (0.0, 1.0),
}
ARM = ("elbow", "wrist", "fingertip", "palm")


@dataclass(frozen=True)
class Body:
    """X and Z (N,) in px, which landmarks pair and which stand on the midline."""

    names: tuple[str, ...]
    x: np.ndarray
    z: np.ndarray
    pairs: list[tuple[int, int]]
    midline: list[int]


def biped(pairs: int = 8, midline: int = 4) -> Body:
    """The table above, cut to so many pairs and midline landmarks."""
    sides = list(PAIRED)[:pairs]
    middles = list(MIDLINE)[:midline]
    names = [f"{s}_{side}" for s in sides for side in "lr"] + middles
    x = [sign * PAIRED[s][0] for s in sides for sign in (1, -1)] + [MIDLINE[m][0] for m in middles]
    z = [PAIRED[s][1] for s in sides for _ in "lr"] + [MIDLINE[m][1] for m in middles]
    return Body(
        tuple(names),
        np.array(x) * HEIGHT / 100,
        np.array(z) * HEIGHT / 100,
        [(2 * i, 2 * i + 1) for i in range(len(sides))],
        list(range(2 * len(sides), len(names))),
    )


def draw(body: Body, yaws: np.ndarray, axes: np.ndarray | float = 0.0) -> np.ndarray:
    """Exact placings (V, N), px."""
    at = np.radians(yaws)[:, None]
    return np.reshape(axes, (-1, 1)) + body.x * np.cos(at) + body.z * np.sin(at)

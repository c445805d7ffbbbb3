"""Closed surfaces as grids of rings: the clay the characters are made of.

Every solid is an array (rings, segments, 3) in the body frame (X to the character's
left, Y up from the ground, Z to the front; reference pixels). The segments wrap round,
the first and the last ring have shrunk to a point.
"""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Grid = NDArray[np.float64]


def spline(points: ArrayLike, count: int, *, closed_ends: bool = False) -> Grid:
    """Catmull-Rom curve through the rows of `points`, sampled at `count` rows.

    With `closed_ends` the caller has already added one row of lead at either end.
    """
    p = np.asarray(points, float)
    if not closed_ends:
        p = np.vstack([2 * p[0] - p[1], p, 2 * p[-1] - p[-2]])
    t = np.linspace(0, len(p) - 3, count)
    i = np.minimum(t.astype(int), len(p) - 4)
    f = (t - i)[:, None]
    a, b, c, d = p[i], p[i + 1], p[i + 2], p[i + 3]
    return 0.5 * (
        2 * b + (c - a) * f + (2 * a - 5 * b + 4 * c - d) * f**2 + (3 * b - a - 3 * c + d) * f**3
    )


def _round_the_clock(segments: int, boxy: float) -> tuple[Grid, Grid]:
    """Cosine and sine of a superellipse: boxy 2 is an ellipse, 4 nearly a box."""
    a = np.linspace(0, 2 * np.pi, segments, endpoint=False)
    c, s = np.cos(a), np.sin(a)
    return np.sign(c) * np.abs(c) ** (2 / boxy), np.sign(s) * np.abs(s) ** (2 / boxy)


def stack(
    rows: Sequence[Sequence[float]],
    *,
    boxy: float = 2.0,
    rings: int = 64,
    segments: int = 72,
    x: float = 0.0,
    axis: str = "y",
) -> Grid:
    """Sections piled up along Y (or along Z): heads, torsos, hats, barrels.

    Each row is (height, centre, half width, front, back): half width along X, front and
    back measured from the centre. With ``axis="z"`` the pile runs along Z, `centre` is a Y,
    front means up and back means down. The first and last rows should have no width; the
    ends are rounded, because the profile is continued by its own mirror image.
    """
    r = np.asarray(rows, float)
    mirror = np.array([1, 1, -1, -1, -1])
    r = np.vstack([r[1] * mirror, r, r[-2] * mirror])
    h, centre, half, front, back = spline(r, rings, closed_ends=True).T[:, :, None]
    c, s = _round_the_clock(segments, boxy)
    across = x + half * c
    deep = centre + np.where(s > 0, front, back) * s
    along = np.broadcast_to(h, across.shape)
    return np.stack([across, along, deep] if axis == "y" else [across, deep, along], axis=2)


def tube(
    points: ArrayLike,
    radii: ArrayLike,
    *,
    flat: float = 1.0,
    side: Sequence[float] = (1, 0, 0),
    boxy: float = 2.0,
    rings: int = 40,
    segments: int = 36,
    cap: float = 1.0,
) -> Grid:
    """A limb, lock, strap or finger: round sections along a bent spine.

    `radii` is measured along `side`; across it the radius is `flat` times that. `cap` is
    the height of the rounded ends in radii (0.1 is nearly cut off).
    """
    p = np.asarray(points, float)
    r = np.broadcast_to(np.asarray(radii, float), (len(p),))
    both = spline(np.column_stack([p, r]), rings)
    spine, r = both[:, :3], np.maximum(both[:, 3], 0.05)
    along = np.gradient(spine, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    u = np.asarray(side, float) - along * (along @ np.asarray(side, float))[:, None]
    u /= np.linalg.norm(u, axis=1, keepdims=True)
    v = np.cross(along, u)
    q = np.linspace(0, np.pi / 2, 7)[:-1]
    lead, shrink = cap * np.cos(q), np.sin(q)
    spine = np.vstack(
        [
            spine[0] - along[0] * (r[0] * lead)[:, None],
            spine,
            spine[-1] + along[-1] * (r[-1] * lead[::-1])[:, None],
        ]
    )
    r = np.concatenate([r[0] * shrink, r, r[-1] * shrink[::-1]])
    u = np.vstack([np.repeat(u[:1], 6, 0), u, np.repeat(u[-1:], 6, 0)])
    v = np.vstack([np.repeat(v[:1], 6, 0), v, np.repeat(v[-1:], 6, 0)])
    c, s = _round_the_clock(segments, boxy)
    return (
        spine[:, None]
        + u[:, None] * (r[:, None] * c)[:, :, None]
        + v[:, None] * (flat * r[:, None] * s)[:, :, None]
    )


def ball(
    centre: Sequence[float], radii: Sequence[float], *, rings: int = 36, segments: int = 48
) -> Grid:
    """An ellipsoid with its poles up and down."""
    p = np.linspace(-np.pi / 2, np.pi / 2, rings)[:, None]
    a = np.linspace(0, 2 * np.pi, segments, endpoint=False)[None]
    unit = np.stack(
        [
            np.cos(p) * np.cos(a),
            np.broadcast_to(np.sin(p), (rings, segments)),
            np.cos(p) * np.sin(a),
        ],
        axis=2,
    )
    return np.asarray(centre, float) + unit * np.asarray(radii, float)


def pillow(
    outline: ArrayLike,
    thick: float,
    *,
    origin: Sequence[float],
    right: Sequence[float] = (1, 0, 0),
    up: Sequence[float] = (0, 1, 0),
    soft: float = 0.12,
    bulge: float = 0.0,
    smooth: bool = True,
) -> Grid:
    """An outline (n, 2), cut out of thick felt: ears, brims, flaps, badges.

    `soft` is the share of the outline that rounds off at the rim, `bulge` how much thicker
    the middle is than the rim, both relative.
    """
    o = np.asarray(outline, float)
    if smooth:
        o = spline(np.vstack([o[-1:], o, o[:2]]), 72, closed_ends=True)[:-1]
    middle = o.mean(0)
    q = np.linspace(0, np.pi / 2, 6)
    scale = np.concatenate([np.linspace(0, 1 - soft, 6)[:-1], 1 - soft + soft * np.sin(q)])
    depth = np.concatenate([1 + bulge * (1 - np.linspace(0, 1, 6)[:-1] ** 2), np.cos(q)])
    scale = np.concatenate([scale, scale[-2::-1]])
    depth = np.concatenate([depth, -depth[-2::-1]]) * thick / 2
    r, u = np.asarray(right, float), np.asarray(up, float)
    r, u = r / np.linalg.norm(r), u / np.linalg.norm(u)
    flat = middle + (o - middle)[None] * scale[:, None, None]
    return (
        np.asarray(origin, float)
        + flat[..., :1] * r
        + flat[..., 1:] * u
        + depth[:, None, None] * np.cross(r, u)
    )


def warp(grid: Grid, change: Callable[[Grid, Grid, Grid], tuple[Grid, Grid, Grid]]) -> Grid:
    """The grid with its points moved by ``change(x, y, z)``."""
    return np.stack(np.broadcast_arrays(*change(grid[..., 0], grid[..., 1], grid[..., 2])), axis=-1)


def turned(grid: Grid, degrees: float, about: Sequence[float], axis: str = "y") -> Grid:
    """The grid turned about an axis through `about`, by the right-hand rule."""
    i, j = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[axis]
    a = np.radians(degrees)
    d = grid - np.asarray(about, float)
    out = d.copy()
    out[..., i] = d[..., i] * np.cos(a) - d[..., j] * np.sin(a)
    out[..., j] = d[..., i] * np.sin(a) + d[..., j] * np.cos(a)
    return out + np.asarray(about, float)


def farthest(grid: Grid, toward: Sequence[float]) -> Grid:
    """The point (3,) of the solid that reaches farthest in a direction."""
    points = grid.reshape(-1, 3)
    return points[(points @ np.asarray(toward, float)).argmax()]


def widest_at(grid: Grid, height: float) -> Grid:
    """The point (3,) farthest to the character's left on the ring nearest to a height."""
    ring = grid[np.abs(grid[..., 1].mean(1) - height).argmin()]
    return ring[ring[:, 0].argmax()]


def mirrored(grid: Grid) -> Grid:
    """The same solid on the other side of the body."""
    return grid * np.array([-1.0, 1.0, 1.0])

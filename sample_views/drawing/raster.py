"""Hidden surfaces: which part is in front at every pixel, how near, and how it is turned."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from drawing.figure import View
    from drawing.solids import Grid

_FAR = np.float32(-1e6)
_SAMPLES_AT_ONCE, _BLENDED_AT_ONCE = 200_000, 20_000  # few enough for the processor's cache


@dataclass
class Buffers:
    """Pictures of shape (height, width), at `finer` samples a pixel each way.

    `part` is the index of the part in front (-1 for paper), `depth` its nearness in
    reference px, `normal` its direction (X, Y, Z of the body), `u` and `v` run from 0 to 1
    along and round the part's rings.
    """

    part: NDArray[np.int16]
    depth: NDArray[np.float32]
    normal: NDArray[np.float32]
    u: NDArray[np.float32]
    v: NDArray[np.float32]
    finer: int


def _outward(grid: "Grid") -> tuple[NDArray[np.int64], "Grid"]:
    """Triangles (t, 3) facing outward and the smooth normals of the vertices (r*s, 3)."""
    rings, segments, _ = grid.shape
    at = np.arange(rings * segments).reshape(rings, segments)
    a, b = at[:-1], at[1:]
    c, d = np.roll(b, -1, axis=1), np.roll(a, -1, axis=1)
    tri = np.concatenate(
        [np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)]
    )
    p = grid.reshape(-1, 3)
    q = p - p.mean(0)
    face = np.cross(p[tri[:, 1]] - p[tri[:, 0]], p[tri[:, 2]] - p[tri[:, 0]])
    if (face * q[tri[:, 0]]).sum() < 0:
        tri, face = tri[:, ::-1], -face
    normal = np.zeros_like(p)
    for k in range(3):
        for axis in range(3):
            normal[:, axis] += np.bincount(tri[:, k], face[:, axis], len(p))
    # The poles are many vertices at one place: give them one normal.
    n = normal.reshape(rings, segments, 3)
    n[0], n[-1] = n[0].sum(0), n[-1].sum(0)
    n /= np.linalg.norm(n, axis=2, keepdims=True) + 1e-12
    return tri, n.reshape(-1, 3)


@dataclass
class _Scene:
    """All solids as one heap of triangles that face the viewer, in samples of the picture."""

    x: "Grid"
    y: "Grid"
    near: "Grid"
    normal: "Grid"  # (n, 3), body frame
    along: "Grid"  # (n,), 0 to 1 over the rings
    around: "Grid"  # (n, 2), the way round as a direction, so that it has no seam
    tri: NDArray[np.int64]  # (t, 3)
    part: NDArray[np.int16]  # (t,)


def _scene(grids: "list[Grid]", view: "View", finer: int) -> _Scene:
    points: list[list[Grid]] = [[], [], [], [], [], []]
    tris, owner, start = [], [], 0
    for index, grid in enumerate(grids):
        tri, normal = _outward(grid)
        x, y, near = view.project(grid.reshape(-1, 3))
        # Sample k of a pixel row lies at (k + 0.5) / finer - 0.5 of the pixel centres.
        x, y = (x + 0.5) * finer - 0.5, (y + 0.5) * finer - 0.5
        a, b, c = tri.T
        tri = tri[(x[b] - x[a]) * (y[c] - y[a]) - (x[c] - x[a]) * (y[b] - y[a]) < -1e-9]
        rings, segments, _ = grid.shape
        turn = np.tile(np.linspace(0, 2 * np.pi, segments, endpoint=False), rings)
        along = np.repeat(np.linspace(0, 1, rings), segments)
        around = np.stack([np.cos(turn), np.sin(turn)], 1)
        for store, value in zip(points, (x, y, near, normal, along, around), strict=True):
            store.append(value)
        tris.append(tri + start)
        owner.append(np.full(len(tri), index, np.int16))
        start += len(x)
    return _Scene(*(np.concatenate(k) for k in points), np.concatenate(tris), np.concatenate(owner))


def _front(
    scene: _Scene, rows: int, columns: int
) -> tuple[NDArray[np.int16], NDArray[np.float32], NDArray[np.int32]]:
    """Part, depth and triangle in front at every sample, flat (rows * columns,)."""
    depth = np.full(rows * columns, _FAR, np.float32)
    winner = np.full(rows * columns, -1, np.int32)
    _fill(scene, rows, columns, depth, winner)
    part = np.where(winner >= 0, scene.part[winner], np.int16(-1))
    return part, depth, winner


def front(
    grids: "list[Grid]", view: "View", width: int, height: int, finer: int
) -> tuple[NDArray[np.int16], NDArray[np.float32]]:
    """Index of the part in front (-1 for paper) and its depth, (height, width) * finer."""
    rows, columns = height * finer, width * finer
    part, depth, _ = _front(_scene(grids, view, finer), rows, columns)
    return part.reshape(rows, columns), depth.reshape(rows, columns)


def rasterise(grids: "list[Grid]", view: "View", width: int, height: int, finer: int) -> Buffers:
    """See the solids from the view, on a picture of `width` by `height` pixels."""
    scene = _scene(grids, view, finer)
    rows, columns = height * finer, width * finer
    part, depth, winner = _front(scene, rows, columns)
    planes = _planes(scene)
    values = np.column_stack([scene.normal, scene.along, scene.around])[scene.tri]
    normal = np.zeros((rows * columns, 3), np.float32)
    u, v = (np.zeros(rows * columns, np.float32) for _ in range(2))
    seen = np.flatnonzero(winner >= 0)
    for at in np.split(seen, range(_BLENDED_AT_ONCE, len(seen), _BLENDED_AT_ONCE)):
        hit = winner[at]
        y, x = np.divmod(at, columns)
        wb, wc = (q[hit, 0] + q[hit, 1] * x + q[hit, 2] * y for q in planes)
        weights = np.stack([1 - wb - wc, wb, wc], 1)
        blended = np.einsum("nk,nkv->nv", weights, values[hit]).astype(np.float32)
        normal[at], u[at] = blended[:, :3], blended[:, 3]
        v[at] = np.mod(np.arctan2(blended[:, 5], blended[:, 4]) / (2 * np.pi), 1)
    shape = (rows, columns)
    return Buffers(
        part.reshape(shape),
        depth.reshape(shape),
        normal.reshape(*shape, 3),
        u.reshape(shape),
        v.reshape(shape),
        finer,
    )


def _planes(scene: _Scene) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The second and third barycentric weights as planes (t, 3) over 1, x and y."""
    (ax, bx, cx), (ay, by, cy) = scene.x[scene.tri].T, scene.y[scene.tri].T
    bx, by, cx, cy = bx - ax, by - ay, cx - ax, cy - ay
    double = bx * cy - cx * by
    second = np.stack([-ax * cy + ay * cx, cy, -cx], 1) / double[:, None]
    third = np.stack([ax * by - ay * bx, -by, bx], 1) / double[:, None]
    return second, third


def _fill(
    scene: _Scene,
    rows: int,
    columns: int,
    depth: NDArray[np.float32],
    winner: NDArray[np.int32],
) -> None:
    """Write the nearest triangle of every sample into `depth` and `winner`."""
    x, y, d = scene.x[scene.tri], scene.y[scene.tri], scene.near[scene.tri]
    left = np.ceil(x.min(1) - 1e-6).astype(int)
    top = np.ceil(y.min(1) - 1e-6).astype(int)
    wide = np.floor(x.max(1) + 1e-6).astype(int) - left + 1
    tall = np.floor(y.max(1) + 1e-6).astype(int) - top + 1
    keep = (wide > 0) & (tall > 0) & (left < columns) & (top < rows)
    keep &= (left + wide > 0) & (top + tall > 0)
    planes = _planes(scene)
    # Triangles of like box size are filled together, so that little is computed in vain.
    bw = 2 ** np.ceil(np.log2(np.maximum(wide, 1))).astype(int)
    bh = 2 ** np.ceil(np.log2(np.maximum(tall, 1))).astype(int)
    key = bw * 100_000 + bh
    for k in np.unique(key[keep]):
        w, h = int(k // 100_000), int(k % 100_000)
        members = np.flatnonzero(keep & (key == k))
        step = max(1, _SAMPLES_AT_ONCE // (w * h))
        for i in range(0, len(members), step):
            m = members[i : i + step]
            px, py = left[m, None] + np.arange(w), top[m, None] + np.arange(h)
            wb, wc = (
                (q[m, 0, None] + q[m, 1, None] * px)[:, None] + (q[m, 2, None] * py)[:, :, None]
                for q in planes
            )
            hit = (wb >= -1e-6) & (wc >= -1e-6) & (wb + wc <= 1 + 1e-6)
            hit &= ((px >= 0) & (px < columns))[:, None]
            hit &= ((py >= 0) & (py < rows))[:, :, None]
            one, row, column = np.nonzero(hit)
            which, pixel = m[one], py[one, row] * columns + px[one, column]
            a, b, c = d[which].T
            near = (a + wb[hit] * (b - a) + wc[hit] * (c - a)).astype(np.float32)
            better = near > depth[pixel]
            near, pixel, which = near[better], pixel[better], which[better]
            np.maximum.at(depth, pixel, near)
            first = near == depth[pixel]
            winner[pixel[first]] = which[first]

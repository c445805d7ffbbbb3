"""What a character is: parts of solid, paint on them, pen strokes, landmarks, a view."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from drawing.raster import front
from drawing.solids import Grid, mirrored

Colour = tuple[int, int, int]


def rgb(code: str) -> Colour:
    """``rgb("c8553d")`` is (200, 85, 61)."""
    return int(code[0:2], 16), int(code[2:4], 16), int(code[4:6], 16)


@dataclass(frozen=True)
class Material:
    """Flat fill, its shadow tone, and the turn from the light where the shadow begins."""

    base: Colour
    shade: Colour
    edge: float = 0.05


@dataclass(frozen=True)
class Part:
    """One solid.

    Parts of one `flow` join without a line unless one stands clearly in front of the
    other; between two flows there is always a seam. `seam` scales that seam's line.
    """

    name: str
    grid: Grid
    material: str
    flow: str
    seam: float = 1.0


@dataclass(frozen=True)
class Surface:
    """What the paint can ask about the pixels under it: place, grid coordinates, normal."""

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    z: NDArray[np.float64]
    u: NDArray[np.float64]
    v: NDArray[np.float64]
    normal: NDArray[np.float64]


@dataclass(frozen=True)
class Paint:
    """A flat colour over a region of some parts, with its own flow and seam."""

    targets: tuple[str, ...]
    region: Callable[[Surface], NDArray[np.bool_]]
    material: str
    flow: str
    seam: float = 0.0


@dataclass(frozen=True)
class Stroke:
    """A pen line on the surface of some parts, points (n, 3)."""

    targets: tuple[str, ...]
    points: Grid
    weight: float
    colour: Colour | None = None
    taper: float = 0.35


@dataclass(frozen=True)
class Landmark:
    """A true point of the body and the parts that own it."""

    xyz: tuple[float, float, float]
    owners: tuple[str, ...]
    behind: float = 30.0  # px that it may lie behind what is seen and still count as seen


@dataclass(frozen=True)
class View:
    """One drawing: where the solid stands and from where it is seen.

    ``x = axis + scale (X cos yaw + Z sin yaw)``, ``y = ground - scale Y``, yaw in degrees.
    """

    name: str
    yaw: float
    axis: float
    ground: float
    scale: float = 1.0

    def project(self, xyz: ArrayLike) -> tuple[Grid, Grid, Grid]:
        """Picture x, picture y (px) and depth toward the viewer (reference px)."""
        p = np.asarray(xyz, float)
        c, s = np.cos(np.radians(self.yaw)), np.sin(np.radians(self.yaw))
        return (
            self.axis + self.scale * (p[..., 0] * c + p[..., 2] * s),
            self.ground - self.scale * p[..., 1],
            -p[..., 0] * s + p[..., 2] * c,
        )


@dataclass
class Figure:
    """A whole character."""

    name: str
    materials: dict[str, Material]
    parts: list[Part] = field(default_factory=list)
    paints: list[Paint] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)
    landmarks: dict[str, Landmark] = field(default_factory=dict)

    def add(self, name: str, grid: Grid, material: str, flow: str, seam: float = 1.0) -> None:
        """Add one solid."""
        self.parts.append(Part(name, grid, material, flow, seam))

    def add_pair(self, name: str, grid: Grid, material: str, flow: str, seam: float = 1.0) -> None:
        """Add the character's left solid and its mirror image on the right."""
        self.add(f"{name}_l", grid, material, f"{flow}_l", seam)
        self.add(f"{name}_r", mirrored(grid), material, f"{flow}_r", seam)

    def paint(
        self,
        targets: Sequence[str],
        region: Callable[[Surface], NDArray[np.bool_]],
        material: str,
        flow: str,
        seam: float = 0.0,
    ) -> None:
        """Paint a region of the parts whose names begin with one of `targets`."""
        self.paints.append(Paint(tuple(targets), region, material, flow, seam))

    def stroke(
        self,
        targets: Sequence[str],
        points: Grid,
        weight: float,
        colour: Colour | None = None,
        taper: float = 0.35,
    ) -> None:
        """Draw a pen line through body points that lie on the parts named."""
        self.strokes.append(Stroke(tuple(targets), points, weight, colour, taper))

    def mark(
        self, name: str, xyz: Sequence[float] | Grid, *owners: str, behind: float = 30.0
    ) -> None:
        """Record a landmark; `owners` are the beginnings of its parts' names."""
        x, y, z = (float(v) for v in xyz)
        self.landmarks[name] = Landmark((x, y, z), owners, behind)

    def mark_pair(self, name: str, xyz: Sequence[float] | Grid, *owners: str) -> None:
        """Record a landmark on the left and its mirror image on the right."""
        x, y, z = xyz
        self.mark(f"{name}_l", (x, y, z), *(f"{o}_l" for o in owners))
        self.mark(f"{name}_r", (-x, y, z), *(f"{o}_r" for o in owners))

    def named(self, targets: Sequence[str]) -> list[Part]:
        """The parts whose names begin with one of `targets`."""
        return [p for p in self.parts if p.name.startswith(tuple(targets))]

    def drape(self, targets: Sequence[str], points: ArrayLike, yaw: float = 0.0) -> Grid:
        """Lay a flat line (n, 2) of picture-like (right, up) points onto the parts.

        The line is seen from `yaw`: right is ``X cos yaw + Z sin yaw``. Returns body points.
        """
        p = np.asarray(points, float)
        lo = np.floor(p.min(0)) - 3
        size = np.ceil(p.max(0)) + 4 - lo
        view = View("", yaw, -lo[0], lo[1] + size[1])
        grids = [part.grid for part in self.named(targets)]
        part, near = front(grids, view, int(size[0]), int(size[1]), 2)
        column = np.clip(np.rint((p[:, 0] - lo[0]) * 2), 0, near.shape[1] - 1).astype(int)
        row = np.clip(np.rint((lo[1] + size[1] - p[:, 1]) * 2), 0, near.shape[0] - 1).astype(int)
        depth = near[row, column].astype(float)
        missing = part[row, column] < 0
        if missing.all():
            raise ValueError(f"the line misses {', '.join(targets)}")
        at = np.arange(len(p))
        depth = np.interp(at, at[~missing], depth[~missing])
        c, s = np.cos(np.radians(yaw)), np.sin(np.radians(yaw))
        return np.column_stack([p[:, 0] * c - depth * s, p[:, 1], p[:, 0] * s + depth * c])


def inside(outline: ArrayLike, yaw: float = 0.0) -> Callable[[Surface], NDArray[np.bool_]]:
    """A region: what a stencil (n, 2) of (right, up) covers when seen from `yaw`."""
    o = np.asarray(outline, float)
    c, s = np.cos(np.radians(yaw)), np.sin(np.radians(yaw))

    def region(on: Surface) -> NDArray[np.bool_]:
        px, py = on.x * c + on.z * s, on.y
        hit = (px >= o[:, 0].min()) & (px <= o[:, 0].max())
        hit &= (py >= o[:, 1].min()) & (py <= o[:, 1].max())
        hit &= (-on.normal[:, 0] * s + on.normal[:, 2] * c) > 0
        at = np.flatnonzero(hit)
        odd = np.zeros(len(at), bool)
        qx, qy = px[at], py[at]
        for (x0, y0), (x1, y1) in zip(o, np.roll(o, -1, axis=0), strict=True):
            if y0 == y1:
                continue
            across = (qy < y0) != (qy < y1)
            odd ^= across & (qx < x0 + (qy - y0) * (x1 - x0) / (y1 - y0))
        hit[at] = odd
        return hit

    return region


def oval(x: float, y: float, rx: float, ry: float, tilt: float = 0.0) -> Grid:
    """An ellipse as an outline (48, 2), tilted by `tilt` degrees."""
    a = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    p = np.column_stack([rx * np.cos(a), ry * np.sin(a)])
    t = np.radians(tilt)
    return p @ np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]]) + (x, y)

"""Drawings of the open bodies, the truth that goes with them, and whole sheets of both."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import pandas as pd

from tests.outside.solid import Body

FILL = (226, 190, 160)
LINE = (38, 30, 34)
FINE = 4  # mask rows and columns in one pixel; cv2 widens a filled shape by up to one of them
SHIFT = 6  # fractional bits of the corners handed to cv2
JUMP = 0.015  # of the height: a step in depth that gets a line inside the figure
POINTS = ("view", "landmark", "x", "y", "visibility")
SURFACE = 0.025  # of the height: skin this near in front of a landmark does not hide it
EYE = 0.22  # of the head, crown to chin: the same for an eye, which lies in its socket
PART = 2.0  # of the longest way out of its own part: more skin than this hides a pivot


@dataclass(frozen=True)
class View:
    """What is true of one drawing: x = c + s (X cos yaw + Z sin yaw), y = g - s Y.

    `c` and `g` are px of the drawing with (0, 0) at the centre of the top-left pixel; `s` is px
    per unit of the body; `width` and `height` are the canvas's. Seen from `tilt` degrees above, Y
    and the depth toward the viewer are turned by as much; `near` is by which share a thing is
    drawn larger that lies `tall` px, the figure's height, nearer, the viewer's eye at half of it.
    """

    yaw: float
    c: float
    g: float
    s: float
    width: int
    height: int
    tilt: float = 0.0
    near: float = 0.0
    tall: float = 1.0


@dataclass(frozen=True)
class SheetTruth:
    """What is true of a whole sheet.

    Attributes
    ----------
    views
        By view name.
    figure_height
        H, ground to crown in the reference view, px.
    points
        Columns POINTS: where every landmark truly lies, before the planted drift and the placing
        noise.
    """

    views: Mapping[str, View]
    figure_height: float
    points: pd.DataFrame


def frame(
    body: Body,
    yaw: float,
    height_px: float,
    scale: float = 1.0,
    *,
    shift: tuple[float, float] = (0.0, 0.0),
    margin: int = 40,
    tilt: float = 0.0,
    near: float = 0.0,
) -> View:
    """Return the view of a body `height_px * scale` tall, moved by `shift` px (right, up).

    Every yaw of one body gets the same canvas, with room for the figure at `height_px`.
    """
    s = height_px / body.height
    radius = s * np.hypot(body.vertices[:, 0], body.vertices[:, 2]).max()
    top = s * body.vertices[:, 1].max()
    margin += int(np.ceil(radius * (abs(np.sin(np.radians(tilt))) + near)))
    width, height = int(np.ceil(2 * radius)) + 2 * margin, int(np.ceil(top)) + 2 * margin
    c, g = (width - 1) / 2 + shift[0], height - 1 - margin - shift[1]
    tall = height_px * scale
    return View(yaw, float(c), float(g), s * scale, width, height, tilt, near, tall)


def seen(points: np.ndarray, view: View) -> np.ndarray:
    """Return (N, 3): x and y in px of the drawing, and the depth toward the viewer in px."""
    turn = np.radians(view.yaw)
    x, y, z = points.T
    across = x * np.cos(turn) + z * np.sin(turn)
    toward = z * np.cos(turn) - x * np.sin(turn)
    tilt = np.radians(view.tilt)
    up = view.s * (y * np.cos(tilt) - toward * np.sin(tilt))
    toward = view.s * (toward * np.cos(tilt) + y * np.sin(tilt))
    larger = 1.0 / (1.0 - view.near * toward / view.tall)
    middle = view.tall / 2.0
    placed = [view.c + view.s * across * larger, view.g - middle - (up - middle) * larger, toward]
    return np.stack(placed, axis=1)


def draw(
    body: Body,
    yaw: float,
    height_px: float,
    scale: float = 1.0,
    *,
    shift: tuple[float, float] = (0.0, 0.0),
    margin: int = 40,
    line_px: float = 3.0,
    fill: tuple[int, int, int] = FILL,
    tilt: float = 0.0,
    near: float = 0.0,
) -> tuple[np.ndarray, View]:
    """Draw the body: flat fill, a dark line of `line_px` just inside the outline and at overlaps.

    Returns
    -------
    picture
        (rows, columns, 4) uint8 RGBA; alpha is the share of each pixel that the figure covers,
        its edge within a sixth of a pixel of the true one.
    view
        The truth of this drawing.

    Raises
    ------
    ValueError
        If scale or shift take the figure off the canvas that `margin` leaves it.
    """
    view = frame(body, yaw, height_px, scale, shift=shift, margin=margin, tilt=tilt, near=near)
    corners = _facing(body, view)
    alpha = _covered(corners, view)
    line_px = line_px * scale  # the line is scaled with its drawing
    ink = np.maximum(_outline(alpha, line_px), _overlaps(corners, view, body, line_px))
    shades = np.linspace(fill, LINE, 256).round().astype(np.uint8)
    return np.dstack([shades[(255 * ink).astype(np.uint8)], alpha]), view


def silhouette(
    body: Body,
    yaw: float,
    height_px: float,
    scale: float = 1.0,
    *,
    tilt: float = 0.0,
    near: float = 0.0,
) -> tuple[np.ndarray, View]:
    """Return the alpha of the drawing that `draw` makes, (rows, columns) uint8, and its truth."""
    view = frame(body, yaw, height_px, scale, tilt=tilt, near=near)
    return _covered(_facing(body, view), view), view


def _facing(body: Body, view: View) -> np.ndarray:
    """Return the triangles that face the viewer, (n, 3, 3) as `seen` has their corners."""
    points = seen(body.vertices, view)
    if np.any(points[:, :2] < 0) or np.any(points[:, :2] > [view.width - 1, view.height - 1]):
        raise ValueError("the figure leaves the canvas; draw it with a wider margin")
    corners = points[body.faces]
    edges = corners[:, 1:, :2] - corners[:, :1, :2]
    facing = edges[:, 0, 0] * edges[:, 1, 1] - edges[:, 0, 1] * edges[:, 1, 0] < 0
    return corners[facing]


def _covered(corners: np.ndarray, view: View) -> np.ndarray:
    """Return the share of each pixel that triangles cover, 0 to 255."""
    fine = np.zeros((view.height * FINE, view.width * FINE), np.uint8)
    for corner in _fixed(corners[..., :2] * FINE + (FINE - 1) / 2):
        cv2.fillConvexPoly(fine, corner, 255, cv2.LINE_8, SHIFT)
    fine = cv2.erode(fine, cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3)))
    return cv2.resize(fine, (view.width, view.height), interpolation=cv2.INTER_AREA)


def _fixed(points: np.ndarray) -> np.ndarray:
    return np.rint(points * 2**SHIFT).astype(np.int32)


def _outline(alpha: np.ndarray, line_px: float) -> np.ndarray:
    """Return the ink, 0 to 1, of a line that lies inside the figure's edge."""
    inside = cv2.distanceTransform((alpha > 127).astype(np.uint8), cv2.DIST_L2, 5)
    return np.clip(line_px + 0.5 - inside, 0, 1)


def _overlaps(corners: np.ndarray, view: View, body: Body, line_px: float) -> np.ndarray:
    """Return the ink, 0 to 1, where one part passes in front of another: depth steps there."""
    depth = corners[..., 2].mean(axis=1)
    order = np.argsort(depth)
    nearest = np.full((view.height, view.width), depth.min(), np.float32)
    painted = _fixed(corners[order][..., :2])
    for corner, value in zip(painted, depth[order].tolist(), strict=True):
        cv2.fillConvexPoly(nearest, corner, value, cv2.LINE_8, SHIFT)
    step = cv2.dilate(nearest, np.ones((3, 3), np.uint8)) - nearest
    jumps = (step > JUMP * body.height * view.s).astype(np.uint8)
    # Steep skin steps from triangle to triangle as well: specks, where an overlap is a line.
    _, labels, stats, _ = cv2.connectedComponentsWithStats(jumps, connectivity=8)
    long = stats[:, cv2.CC_STAT_AREA] > 0.02 * body.height * view.s
    long[0] = False
    lines = long[labels].astype(np.float32)
    size = max(1, round(line_px) - 1)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    return cv2.GaussianBlur(cv2.dilate(lines, disc), (3, 3), 0.6)


def project(body: Body, view: View) -> pd.DataFrame:
    """Return where the landmarks lie in a drawing: landmark, x, y (px), visibility.

    A landmark is `hidden` when skin lies farther in front of it than its own part is thick: for
    landmarks on the skin 2.5 % of the height; for eyes 22 % of the head; for a pivot twice the
    longest way out of the body to the front, to the back and to its own side (both sides for the
    midline).
    """
    names = list(body.joints)
    points = np.array(list(body.joints.values()))
    placed = seen(points, view)
    over = np.array([depths.max(initial=0) for depths in _skin_ahead(body, view, points)])
    thick = _thickness(body)
    hidden = over > [thick[name] for name in names]
    return pd.DataFrame(
        {
            "landmark": names,
            "x": placed[:, 0],
            "y": placed[:, 1],
            "visibility": np.where(hidden, "hidden", "visible"),
        }
    )


def _skin_ahead(body: Body, view: View, points: np.ndarray) -> list[np.ndarray]:
    """Return, for each point (N, 3) of the body, how far in front of it its sight line meets skin.

    Distances in the body's unit, only those in front; a point inside the body has at least one.
    """
    corners = seen(body.vertices, view)[body.faces] / view.s
    sides = np.ascontiguousarray(np.moveaxis(corners[..., :2], 0, -1))
    (left, down), (right, up) = sides.min(axis=0), sides.max(axis=0)
    ahead = []
    for point in seen(points, view) / view.s:
        x, y = point[:2]
        across = (left <= x) & (right >= x) & (down <= y) & (up >= y)
        a, b, c = np.moveaxis(corners[across] - point, 1, 0)
        # Shares of the three corners at the sight line: barycentric coordinates.
        shares = np.stack([_cross(b, c), _cross(c, a), _cross(a, b)], axis=1)
        whole = shares.sum(axis=1)
        through = (whole != 0) & (np.all(shares >= 0, axis=1) | np.all(shares <= 0, axis=1))
        depths = np.stack([a[:, 2], b[:, 2], c[:, 2]], axis=1)[through]
        depth = np.sum(shares[through] * depths, axis=1) / whole[through]
        ahead.append(depth[depth > 0])
    return ahead


def _cross(p: np.ndarray, q: np.ndarray) -> np.ndarray:
    return p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]


@lru_cache
def _thickness(body: Body) -> dict[str, float]:
    """Return, by landmark, how much skin in front leaves it visible (see `project`)."""
    least = SURFACE * body.height
    pivots = sorted(PIVOTS & set(body.joints))
    points = np.array([body.joints[name] for name in pivots])
    # The viewer of yaw -90 sees the left side, that of yaw 90 the right.
    ways = {yaw: _skin_ahead(body, View(yaw, 0, 0, 1, 0, 0), points) for yaw in (0, 180, -90, 90)}
    thick = dict.fromkeys(body.joints, least)
    if "chin" in body.joints:
        head = body.height - body.joints["chin"][1]
        thick |= dict.fromkeys(("eye_l", "eye_r"), EYE * head)
    for i, name in enumerate(pivots):
        if name[-2:] in ("_l", "_r"):
            outs = [ways[yaw][i].min(initial=np.inf) for yaw in (0, 180)]
            outs.append(ways[-90 if name.endswith("_l") else 90][i].min(initial=np.inf))
        else:  # past the hollows of mouth and throat, but not as far as an arm at the side
            outs = [ways[yaw][i].max(initial=0) for yaw in (0, 180)]
            outs += [ways[yaw][i].min(initial=np.inf) for yaw in (-90, 90)]
        thick[name] = max(least, PART * max(out for out in outs if np.isfinite(out)))
    return thick


_PAIRED_PIVOTS = (
    "shoulder elbow wrist hip knee ankle fore_elbow fore_knee fore_fetlock "
    "hind_stifle hind_hock hind_fetlock"
)
PIVOTS = frozenset(
    ["head", "neck_top", "neck", "spine", "jaw", "tail"]
    + [f"{name}_{side}" for name in _PAIRED_PIVOTS.split() for side in "lr"]
)


def write_sheet(
    folder: Path,
    body: Body,
    yaws: Mapping[str, float],
    *,
    drift: Mapping[tuple[str, str], tuple[float, float]] | None = None,
    view_scale: Mapping[str, float] | None = None,
    view_shift: Mapping[str, tuple[float, float]] | None = None,
    true_yaws: Mapping[str, float] | None = None,
    landmarks: tuple[str, ...] = (),
    reference: str = "front",
    placing: str = "ground",
    height_px: float = 1000.0,
    noise_sd_pct: float = 0.0,
    seed: int = 0,
    draw_pictures: bool = True,
    tilt: float = 0.0,
    near: float = 0.0,
) -> SheetTruth:
    """Write a complete sheet folder of a body and return what is true of it.

    Parameters
    ----------
    yaws
        View name to nominal yaw, degrees, as `sheet.toml` gives it.
    drift
        (view, landmark) to (right, up) in px of that view, added to the placing only.
    view_scale, view_shift
        View name to its size (1 as drawn) and its move (right, up) in px, of drawing and placings.
    true_yaws
        View name to the yaw really drawn, where it is not the nominal one.
    landmarks
        The landmarks to place; all that the body has if empty.
    noise_sd_pct
        Standard deviation of each placing in x and in y, % of the figure height; written as `sd`
        and as the sheet's `placing_sd` when not 0.
    tilt, near
        As in `View`.
    draw_pictures
        Without, the pictures are empty canvases: quick, for checks of landmarks alone.

    Raises
    ------
    KeyError
        If `drift`, `view_scale`, `view_shift` or `true_yaws` names an unknown view or landmark.
    """
    drift, view_scale, view_shift = drift or {}, view_scale or {}, view_shift or {}
    true_yaws = true_yaws or {}
    wanted = list(landmarks or body.joints)
    for view, landmark in drift:
        if view not in yaws or landmark not in wanted:
            raise KeyError(f"{view} has no landmark {landmark}")
    for view in {*view_scale, *view_shift, *true_yaws} - set(yaws):
        raise KeyError(f"there is no view {view}")

    growth = max(view_scale.values(), default=1.0) - 1
    farthest = max((abs(px) for move in view_shift.values() for px in move), default=0.0)
    reach = np.abs(body.vertices).max() / body.height * height_px
    margin = 40 + int(np.ceil(max(growth, 0) * reach + farthest))
    folder.mkdir(parents=True, exist_ok=True)
    views: dict[str, View] = {}
    tables: list[pd.DataFrame] = []
    for name, yaw in yaws.items():
        drawn = true_yaws.get(name, yaw)
        size, move = view_scale.get(name, 1.0), view_shift.get(name, (0.0, 0.0))
        seen_from = {"shift": move, "margin": margin, "tilt": tilt, "near": near}
        if draw_pictures:
            picture, views[name] = draw(body, drawn, height_px, size, **seen_from)
        else:
            views[name] = frame(body, drawn, height_px, size, **seen_from)
            picture = np.zeros((views[name].height, views[name].width, 4), np.uint8)
        saved = cv2.imwrite(str(folder / f"{name}.png"), cv2.cvtColor(picture, cv2.COLOR_RGBA2BGRA))
        assert saved
        tables.append(project(body, views[name]).assign(view=name))
    points = pd.concat(tables, ignore_index=True)
    points = points.loc[points["landmark"].isin(wanted), list(POINTS)].reset_index(drop=True)
    base = reference if reference in views else min(yaws, key=lambda view: abs(yaws[view]))
    figure_height = views[base].s * body.height

    keys = zip(points["view"], points["landmark"], strict=True)
    planted = [drift.get(key, (0.0, 0.0)) for key in keys]
    noise_px = noise_sd_pct / 100 * figure_height
    noise = np.random.default_rng(seed).normal(0.0, noise_px, (len(points), 2))
    shown = points[["x", "y"]].to_numpy() + np.array(planted) * [1, -1] + noise
    placed = points.assign(x=shown[:, 0], y=shown[:, 1], sd=noise_px or "", placed_by="")
    placed.to_csv(folder / "landmarks.csv", index=False, float_format="%.4f")
    (folder / "sheet.toml").write_text(
        _sheet_toml(body, yaws, reference, placing, noise_sd_pct), encoding="utf-8"
    )
    return SheetTruth(views, figure_height, points)


def _sheet_toml(
    body: Body, yaws: Mapping[str, float], reference: str, placing: str, noise_sd_pct: float
) -> str:
    lines = [
        f'character = "{body.name}"',
        'revision = "A"',
        f'reference = "{reference}"',
        f'placing = "{placing}"',
        f'vocabulary = "{body.vocabulary}"',
        *([f"placing_sd = {noise_sd_pct:g}"] if noise_sd_pct else []),
    ]
    for view, yaw in yaws.items():
        lines += ["", f"[views.{view}]", f'image = "{view}.png"', f"yaw = {yaw:g}"]
    return "\n".join(lines) + "\n"

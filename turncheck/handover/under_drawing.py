"""The under-drawing of an angle: the nearest drawing, bent into the outline and points of it.

The drawing that looks from nearest by, or its mirror image where the body is symmetric, is put on
the angle's canvas. Its points go to where the angle has them, its edges to the best guess of the
outline, smoothed along the height, and all between goes along with what is near; pieces that stand
apart keep their thickness, and the gaps between them close instead. What some drawing shows to be
empty stays empty, and what none shows is left plain.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

from turncheck.geometry.measurement import Measurement
from turncheck.handover.angle import Angle, Canvas
from turncheck.handover.guides_shapes import joined
from turncheck.images.features import row_extents
from turncheck.images.figure_mask import figure_mask, mask_from
from turncheck.images.picture_file import decode
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Bools, Floats, Ints
from turncheck.sheet.vocabulary import Vocabulary

Bytes = npt.NDArray[np.uint8]
Floats32 = npt.NDArray[np.float32]

#: A drawing further off than this, degrees, shows too little of what is seen; common practice, no
#: source.
CARRIED_WITHIN = 60.0
#: A mirror image, whose badges and bags are on the wrong side, must look from nearer by as much,
#: degrees; and what would be stretched to more than so many times its width is left plain. Common
#: practice, no source.
FLIPPED_COSTS, STRETCHED_MOST = 10.0, 3.0
#: What no drawing shows has this grey; chosen by eye.
PLAIN = 225
#: How much of the colours is left, the pencil's ink and how much of that; chosen by eye.
FAINT, PENCIL, PENCILLED = 0.4, (58, 108, 168), 0.7
#: A line is at most so wide, share of the figure height; chosen by eye.
_LINE = 0.006
#: Luma of red, green and blue (ITU-R BT.601, 2.5.1).
_LIGHT = np.array([0.299, 0.587, 0.114], np.float32)
#: Rows over which an edge's way is smoothed, and the width at the edges along which bending fades,
#: shares of the figure height; chosen by eye.
_STEADY, _FADES = 0.02, 0.03
#: An edge that goes further from one row to the next is another part's; chosen by eye.
_JUMP = 0.012
#: Points along a limb are this far apart, and bending is reckoned on a grid so fine, shares of the
#: figure height; chosen by eye.
_ALONG, _GRID = 0.01, 0.01
#: A limb reaches no further from its middle, share of the figure height; chosen by eye.
_THICK = 0.04
#: Of what no drawing shows to be empty, a pixel; share of the figure height; chosen by eye.
_HULL = 0.003


@dataclass(frozen=True)
class Source:
    """A drawing that may be carried: its row, whether as its mirror image, and its yaw, degrees."""

    view: int
    flipped: bool
    yaw: float


def under_drawing(measured: Measurement, angle: Angle) -> Bytes | None:
    """Return the nearest drawing bent to an angle, (H, W, 4) RGBA; None where none is near.

    Raises
    ------
    TurncheckError
        If the drawing's file has gone or is broken.
    """
    tall, canvas = measured.figure_height, angle.canvas
    sources = _sources(measured)
    nearest = _nearest(sources, canvas.yaw, flips=measured.sheet.symmetric)
    if nearest is None or not np.isfinite(angle.outline.best).any():
        return None
    picture = _picture(measured, canvas, nearest)
    starts, ends, limbs = _controls(measured, angle, nearest)
    if len(starts):
        up = _spread(starts, ends[:, 1] - starts[:, 1], canvas, tall)
        columns, rows = _places(canvas.width, canvas.height)
        picture = _remapped(picture, columns, rows - up.astype(np.float32))
        starts = np.stack([starts[:, 0], ends[:, 1]], axis=1)
    bent = _across(picture, angle, starts, ends[:, 0], limbs, tall)
    bent[~_allowed(measured, canvas, sources)] = 0
    return bent


def _sources(measured: Measurement) -> list[Source]:
    """Return the drawings of which it is known from where they look."""
    known = measured.turn.yaw_solved
    return [
        Source(v, False, yaw)
        for v, yaw in enumerate(measured.turn.yaw.tolist())
        if (known[v] or v == measured.base) and measured.features[v].found_by != "nothing"
    ]


def _nearest(sources: Sequence[Source], yaw: float, *, flips: bool) -> Source | None:
    """Return the drawing that looks from nearest by, if need be as its mirror image."""
    mirrored = [replace(one, flipped=True, yaw=-one.yaw) for one in sources if flips]

    def gap(one: Source) -> float:
        return abs(wrapped(one.yaw - yaw)) + FLIPPED_COSTS * one.flipped

    near = min([*sources, *mirrored], key=gap, default=None)
    return near if near and gap(near) <= CARRIED_WITHIN else None


def _picture(measured: Measurement, canvas: Canvas, source: Source) -> Bytes:
    """Return a drawing's figure on the canvas, (H, W, 4) RGBA, clear around it."""
    view = measured.sheet.views[measured.views[source.view]]
    pixels = decode(view.picture)
    mask = (
        mask_from(decode(view.figure), pixels.shape[:2], str(view.figure.path))
        if view.figure
        else figure_mask(pixels)
    )
    alpha = pixels[..., 3] if mask.found_by == "alpha" else np.uint8(255) * mask.pixels
    rgba = np.dstack([pixels[..., 2::-1], alpha])
    matrix = _placing(measured, canvas, source)
    size = canvas.width, canvas.height
    return np.asarray(cv2.warpAffine(rgba, matrix, size, flags=cv2.INTER_AREA), np.uint8)


def _allowed(measured: Measurement, canvas: Canvas, sources: Sequence[Source]) -> Bools:
    """Return (H, W) where something can be seen that no drawing shows to be empty.

    At each depth t along the line of sight a place x of the canvas lies at x cos(g) - t sin(g) of
    a drawing that looks from g further round; it is empty where any drawing is.
    """
    small = max(_HULL * measured.figure_height, 1.0)
    size = math.ceil(canvas.width / small), math.ceil(canvas.height / small)
    filled = [_filled(measured, canvas, one, small, size) for one in sources]
    axis = canvas.axis / small
    reach = math.ceil(max(axis, size[0] - axis))
    some = np.zeros(size[::-1], np.uint8)
    for depth in range(-reach, reach + 1):
        here = np.full(size[::-1], 255, np.uint8)
        for one, mask in zip(sources, filled, strict=True):
            turn = np.radians(one.yaw - canvas.yaw)
            along, shift = np.cos(turn), depth * np.sin(turn)
            to = np.array([[along, 0.0, axis - axis * along - shift], [0.0, 1.0, 0.0]])
            flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
            here = np.minimum(here, cv2.warpAffine(mask, to, size, flags=flags))
        some = np.maximum(some, here)
    whole = cv2.resize(some, (canvas.width, canvas.height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(whole > 64)


def _filled(
    measured: Measurement, canvas: Canvas, source: Source, small: float, size: tuple[int, int]
) -> Bytes:
    """Return the figure of a drawing on a smaller canvas, a pixel wider and two higher around."""
    matrix = _placing(measured, canvas, source) / small
    lines = [
        np.rint(line @ matrix[:, :2].T + matrix[:, 2]).astype(np.int32)
        for line in measured.features[source.view].contours
    ]
    mask = np.zeros(size[::-1], np.uint8)
    cv2.fillPoly(mask, lines, 255)  # even-odd, so gaps stay empty
    return np.asarray(cv2.dilate(mask, np.ones((5, 3), np.uint8)), np.uint8)


def _placing(measured: Measurement, canvas: Canvas, source: Source) -> Floats:
    """Return (2, 3) what takes a drawing's px to the canvas's."""
    scale, axis = measured.trusted_scales[source.view], measured.turn.axis[source.view]
    up = 1.0 / scale.scale
    across = -up if source.flipped else up
    return np.array(
        [
            [across, 0.0, canvas.axis - across * axis],
            [0.0, up, canvas.ground - up * scale.ground],
        ]
    )


def _controls(
    measured: Measurement, angle: Angle, source: Source
) -> tuple[Floats, Floats, list[str]]:
    """Return (n, 2) where points are drawn, and where they go; also points along the limbs.

    What is hidden in the drawing bends nothing, nor do pivots deep in the trunk: what is drawn
    over those lies nearer.
    """
    vocabulary, v = measured.sheet.vocabulary, source.view
    matrix = _placing(measured, angle.canvas, source)
    drawn = np.stack([measured.x[v], measured.y[v]], axis=1) @ matrix[:, :2].T + matrix[:, 2]
    seen = np.isfinite(drawn).all(axis=1) & ~measured.hidden[v]
    spots: dict[str, tuple[Floats, Floats]] = {}
    for name, to in zip(angle.landmarks, range(len(angle.landmarks)), strict=True):
        mark = vocabulary.landmarks[name]
        twin = mark.twin if source.flipped and mark.twin else name
        at = measured.columns(twin)
        deep = mark.kind == "pivot" and not mark.twin
        if at and seen[at[0]] and angle.spots.known[to] and name != "ground" and not deep:
            y = angle.y[to] if mark.has_height else drawn[at[0], 1]
            spots[name] = drawn[at[0]], np.array([angle.x[to], y])
    along = _along(vocabulary, spots, _ALONG * measured.figure_height)
    pairs = [(*spots[name], _limb(vocabulary, name)) for name in spots] + along
    starts, ends = np.array([pair[:2] for pair in pairs], float).reshape(-1, 2, 2).swapaxes(0, 1)
    return starts, ends, [limb for *_, limb in pairs]


def _limb(vocabulary: Vocabulary, name: str) -> str:
    """Return the limb that a point is of, '' of its first pivot, which lies in the trunk."""
    mark = vocabulary.landmarks[name]
    carrier = vocabulary.landmarks.get(mark.parent)
    first = mark.kind == "pivot" and (carrier is None or carrier.part != mark.part)
    return mark.part if mark.twin and not first else ""


def _along(
    vocabulary: Vocabulary, spots: Mapping[str, tuple[Floats, Floats]], step: float
) -> list[tuple[Floats, Floats, str]]:
    """Return points between those that a limb joins, where they are drawn and where they go."""
    found = []
    for a, b in joined(vocabulary):
        if {a, b} <= spots.keys():
            parts = int(np.hypot(*(spots[a][0] - spots[b][0])) / step)
            for share in np.arange(1, parts) / max(parts, 1):
                start, end = ((1 - share) * spots[a][k] + share * spots[b][k] for k in (0, 1))
                found.append((start, end, _limb(vocabulary, a)))
    return found


def _spread(points: Floats, values: Floats, canvas: Canvas, tall: float) -> Floats:
    """Return (H, W) values at points spread over a canvas, nearer ones counting for more.

    Inverse distance weights (Shepard 1968), of the fourth power.
    """
    step = max(_GRID * tall, 1.0)
    width, height = int(canvas.width / step) + 2, int(canvas.height / step) + 2
    grid = np.stack(np.meshgrid(np.arange(width) * step, np.arange(height) * step), axis=-1)
    total, weights = np.zeros((height, width)), np.zeros((height, width))
    for point, value in zip(points, values, strict=True):
        weight = 1.0 / (((grid - point) ** 2).sum(axis=-1) + step**2) ** 2
        total += weight * value
        weights += weight
    columns, rows = np.meshgrid(np.arange(canvas.width) / step, np.arange(canvas.height) / step)
    coarse = (total / weights).astype(np.float32)
    spread = cv2.remap(
        coarse, columns.astype(np.float32), rows.astype(np.float32), cv2.INTER_LINEAR
    )
    return np.asarray(spread, np.float64)


def _across(
    stood: Bytes, angle: Angle, starts: Floats, to: Floats, limbs: Sequence[str], tall: float
) -> Bytes:
    """Return a drawing whose edges are bent to the outline's, row by row, and points go along."""
    axis, columns = angle.canvas.axis, np.arange(stood.shape[1], dtype=float)
    edges, best = np.stack(row_extents(stood[..., 3] > 127)), angle.outline.best
    aims = np.stack([axis - best[0], axis + best[1]])
    ways = np.stack([_steadied(aims[k] - edges[k], edges[k], tall) for k in (0, 1)])
    rows = np.flatnonzero(np.isfinite(edges + ways).all(axis=0))
    some = rows[:: max(round(_ALONG * tall), 1)]
    bounds = np.concatenate([np.stack([edges[k, some], some], axis=1) for k in (0, 1)])
    bounds = np.concatenate([bounds, starts])
    shifts = np.r_[ways[0, some], ways[1, some], to - starts[:, 0]]
    field = _spread(bounds, shifts, angle.canvas, tall)
    gaps, goes = _gap_edges(stood[..., 3] > 127, some, field, (starts, to, limbs), _THICK * tall)
    if len(gaps):
        shifts = np.r_[shifts, goes]
        field = _spread(np.concatenate([bounds, gaps]), shifts, angle.canvas, tall)
    sought = np.full(field.shape, -1.0, np.float32)
    for y in rows:
        ahead = np.maximum.accumulate(columns + field[y]) + 1e-6 * columns
        sought[y] = np.interp(columns, ahead, columns, left=-1.0, right=-1.0)
    stretched = (np.gradient(sought, axis=1) * STRETCHED_MOST < 1.0).astype(np.uint8)
    wide = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * round(_STEADY * tall / 2.0) + 1,) * 2)
    hidden = cv2.morphologyEx(stretched, cv2.MORPH_OPEN, wide) > 0
    bent = _remapped(stood, sought, _places(len(columns), len(stood))[1])
    bent[hidden, :3] = PLAIN
    return bent


def _gap_edges(
    figure: Bools,
    rows: Ints,
    field: Floats,
    limbs: tuple[Floats, Floats, Sequence[str]],
    thick: float,
) -> tuple[Floats, Floats]:
    """Return (n, 2) the edges of gaps in some rows, and how far each goes sideways.

    Pieces that stand apart keep their thickness, and the gaps between them close instead: a limb's
    edges go along with its points, the trunk's as its middle does, as far as there is room.

    Parameters
    ----------
    field
        (H, W) how far all goes without this.
    limbs
        Where points are drawn, where they go, and the limb that each is of.
    """
    starts, to, parts = limbs
    of_limb = np.array([bool(part) for part in parts], bool)
    spots, goes = [], []
    for y in rows.tolist():
        edges = np.flatnonzero(np.diff(np.r_[0, figure[y].view(np.int8), 0])) - 0.5
        if len(edges) < 4:
            continue
        level = np.flatnonzero(of_limb & (np.abs(starts[:, 1] - y) < thick / 2.0))
        way = field[y, np.clip(edges.astype(int), 0, figure.shape[1] - 1)]
        way = np.repeat(way.reshape(-1, 2).mean(axis=1), 2)
        free = np.ones(len(edges), bool)
        for k, x in enumerate(edges.tolist()):
            left, right = edges[k - k % 2], edges[k - k % 2 + 1]
            across = starts[level, 0]
            near = (across >= left) & (across <= right) & (np.abs(across - x) < thick)
            if near.any():
                own = level[near][np.abs(starts[level[near], 1] - y).argmin()]
                way[k], free[k] = to[own] - starts[own, 0], False
        ends = edges + way
        for k in range(1, len(edges) - 1):
            other = k + 1 if k % 2 else k - 1
            beyond = (ends[k] - ends[other]) * (1.0 if k % 2 else -1.0)
            if free[k] and beyond > 0.0:
                ends[k] = ends[other] if not free[other] else (ends[k] + ends[other]) / 2.0
        spots += [(x, float(y)) for x in edges[1:-1].tolist()]
        goes += (ends - edges)[1:-1].tolist()
    return np.array(spots, float).reshape(-1, 2), np.array(goes, float)


def _steadied(ways: Floats, edge: Floats, tall: float) -> Floats:
    """Return an edge's ways, (R,), without what a few rows have for themselves; NaN stays.

    Where the edge jumps, as under a hand, nothing is smoothed across.
    """
    half = max(int(_STEADY * tall), 1)
    out = np.full(ways.shape, np.nan)
    known = np.flatnonzero(np.isfinite(edge))
    breaks = (
        np.flatnonzero((np.diff(known) > 1) | (np.abs(np.diff(edge[known])) > _JUMP * tall)) + 1
    )
    for stretch in np.split(known, breaks):
        there = stretch[np.isfinite(ways[stretch])]
        if not len(there):
            continue
        filled = np.pad(
            np.interp(stretch, there, ways[there]),
            half,
            "reflect" if len(stretch) > half else "edge",
        )
        middle = np.median(sliding_window_view(filled, 2 * half + 1), axis=1)
        out[stretch] = cv2.GaussianBlur(middle[:, None], (1, 2 * half + 1), half / 3.0)[:, 0]
    return out


def _places(width: int, height: int) -> tuple[Floats32, Floats32]:
    """Return (H, W) the columns and the rows of a canvas's px."""
    columns, rows = np.meshgrid(np.arange(width), np.arange(height))
    return columns.astype(np.float32), rows.astype(np.float32)


def _remapped(picture: Bytes, columns: Floats32, rows: Floats32) -> Bytes:
    # colours under clear pixels must not bleed in
    shade = picture[..., :3] * picture[..., 3:].astype(np.uint16) // 255
    whole = np.dstack([shade.astype(np.uint8), picture[..., 3]])
    moved = cv2.remap(whole, columns, rows, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT)
    alpha = np.maximum(moved[..., 3:], 1).astype(np.uint16)
    colours = np.minimum(moved[..., :3].astype(np.uint16) * 255 // alpha, 255)
    return np.dstack([colours.astype(np.uint8), moved[..., 3]])


def faint(picture: Bytes, share: float = FAINT) -> Bytes:
    """Return a picture, (H, W, 4) RGBA, of which so much is left."""
    alpha = np.rint(share * picture[..., 3:]).astype(np.uint8)
    return np.concatenate([picture[..., :3], alpha], axis=-1)


def pencilled(picture: Bytes, tall: float) -> Bytes:
    """Return the dark lines of a picture, (H, W, 4) RGBA, as a blue pencil draws them."""
    alpha = picture[..., 3:].astype(np.float32) / 255.0
    on_white = picture[..., :3] * alpha + 255.0 * (1.0 - alpha)
    light = np.rint(on_white @ _LIGHT).astype(np.uint8)
    size = 2 * math.ceil(_LINE * tall) + 1
    round_ = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    around = np.maximum(cv2.morphologyEx(light, cv2.MORPH_CLOSE, round_), 1).astype(np.float32)
    out = np.empty_like(picture)
    out[..., :3] = PENCIL
    out[..., 3] = np.rint(255.0 * PENCILLED * (1.0 - light / around))
    return out

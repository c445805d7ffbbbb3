"""From a solid figure to an inked drawing: flat fills, one shadow tone, a steady pen."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from drawing.figure import Colour, Figure, Stroke, Surface, View
from drawing.raster import Buffers, rasterise
from drawing.solids import Grid

FINER = 2  # samples per picture pixel each way while drawing
_SMALLEST_TONE = 130  # px of the picture
_SUB = 4  # binary places of a pixel that the pen can be set to


@dataclass(frozen=True)
class Pen:
    """Line weights in picture px, and how big a step in depth makes a full line."""

    ink: Colour = (42, 32, 41)
    outer: float = 7.0
    inner: float = 5.0
    seam: float = 3.6
    step_from: float = 5.0
    step_full: float = 16.0
    light: tuple[float, float, float] = (-0.50, 0.62, 0.60)  # picture right, up, to the viewer


@dataclass(frozen=True)
class Drawing:
    """A drawing and what stands behind it, one value a pixel (height, width)."""

    picture: NDArray[np.uint8]  # RGBA, transparent where there is paper
    part: NDArray[np.int16]  # the part in front, -1 for paper
    depth: NDArray[np.float32]  # its nearness, reference px


def draw(figure: Figure, view: View, width: int, height: int, pen: Pen = Pen()) -> Drawing:
    """Ink the figure as the view sees it, on a sheet of `width` by `height` px."""
    left, top, across, down = _frame(figure, view, width, height)
    local = View(view.name, view.yaw, view.axis - left, view.ground - top, view.scale)
    buffers = rasterise([p.grid for p in figure.parts], local, across, down, FINER)
    solid = buffers.part.copy()
    _paint(figure, buffers, local)
    colour = _fills(figure, buffers, solid, local, pen)
    outline = _outer_shape(buffers.part >= 0)
    ink = _lines(figure, buffers, outline, view.scale, pen)
    _laid(colour, np.minimum(ink, outline), pen.ink)
    for stroke in figure.strokes:
        line = _stroke(figure, stroke, solid, buffers, local)
        _laid(colour, np.minimum(line, outline), stroke.colour or pen.ink)
    whole = Drawing(
        np.zeros((height, width, 4), np.uint8),
        np.full((height, width), -1, np.int16),
        np.zeros((height, width), np.float32),
    )
    here = (slice(top, top + down), slice(left, left + across))
    whole.picture[here] = _shrunk(colour, outline)
    whole.part[here] = solid[::FINER, ::FINER]
    whole.depth[here] = buffers.depth[::FINER, ::FINER]
    return whole


def _frame(figure: Figure, view: View, width: int, height: int) -> tuple[int, int, int, int]:
    """Left, top, width and height (px) of the part of the sheet that the figure needs."""
    ends = []
    for part in figure.parts:
        x, y, _ = view.project(part.grid)
        ends.append((x.min(), y.min(), x.max(), y.max()))
    e, pad = np.array(ends), 8
    left, top = (max(0, int(k) - pad) for k in e[:, :2].min(0))
    right, bottom = (int(k) + pad for k in e[:, 2:].max(0))
    return left, top, min(right, width) - left, min(bottom, height) - top


def _paint(figure: Figure, buffers: Buffers, view: View) -> None:
    """Turn painted regions into parts of their own."""
    c, s = np.cos(np.radians(view.yaw)), np.sin(np.radians(view.yaw))
    solid = buffers.part.copy()
    brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * FINER + 1, 2 * FINER + 1))
    for k, paint in enumerate(figure.paints):
        ids = [i for i, p in enumerate(figure.parts) if p.name.startswith(paint.targets)]
        row, column = np.nonzero(_is_one_of(ids, len(figure.parts))[solid])
        right = ((column + 0.5) / FINER - 0.5 - view.axis) / view.scale
        near = buffers.depth[row, column].astype(float)
        surface = Surface(
            right * c - near * s,
            (view.ground - ((row + 0.5) / FINER - 0.5)) / view.scale,
            right * s + near * c,
            buffers.u[row, column],
            buffers.v[row, column],
            buffers.normal[row, column],
        )
        hit = paint.region(surface)
        if not hit.any():
            continue
        row, column = row[hit], column[hit]
        top, left = row.min(), column.min()
        mask = np.zeros((row.max() - top + 1, column.max() - left + 1), np.uint8)
        mask[row - top, column - left] = 1
        mask = np.pad(mask, 2 * FINER)
        mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, brush)  # a brush leaves no specks
        row, column = np.nonzero(mask)
        buffers.part[row + top - 2 * FINER, column + left - 2 * FINER] = len(figure.parts) + k


def _is_one_of(ids: list[int], parts: int) -> NDArray[np.bool_]:
    """A table (parts + 1,): whether a part is one of `ids`; paper, at -1, is none."""
    table = np.zeros(parts + 1, bool)
    table[ids] = True
    return table


def _fills(
    figure: Figure, buffers: Buffers, solid: NDArray[np.int16], view: View, pen: Pen
) -> NDArray[np.float32]:
    """Flat colours with the shadow tone, (rows, columns, 3), 0 to 255."""
    both = [*figure.parts, *figure.paints]
    used = [figure.materials[p.material] for p in both]
    base = np.array([m.base for m in used] + [(255, 255, 255)], np.float32)
    shade = np.array([m.shade for m in used] + [(255, 255, 255)], np.float32)
    edge = np.array([m.edge for m in used] + [0], np.float32)
    light = np.asarray(pen.light) / np.linalg.norm(pen.light)
    c, s = np.cos(np.radians(view.yaw)), np.sin(np.radians(view.yaw))
    to_body = np.array([light[0] * c - light[2] * s, light[1], light[0] * s + light[2] * c])
    lit = cv2.GaussianBlur((buffers.normal @ to_body).astype(np.float32), (0, 0), 2.2 * FINER)
    dark = (lit < edge[buffers.part]) | _cast(solid, buffers.depth, pen)
    dark = cv2.GaussianBlur(dark.astype(np.float32), (0, 0), 4.0 * FINER) > 0.5
    dark = _without_islands(dark)
    colour = np.concatenate([base, shade])[buffers.part + len(base) * (dark + (buffers.part < 0))]
    return cv2.GaussianBlur(colour, (0, 0), 0.45 * FINER)


def _without_islands(dark: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The shadow shapes without specks of light or shade too small to paint."""
    for tone in (True, False):
        mask = (dark == tone).astype(np.uint8)
        _, label, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=4)
        small = stats[:, cv2.CC_STAT_AREA] < _SMALLEST_TONE * FINER**2
        small[0] = False
        dark = dark ^ small[label]
    return dark


def _cast(solid: NDArray[np.int16], depth: NDArray[np.float32], pen: Pen) -> NDArray[np.bool_]:
    """Where another part, not far in front, stands between the pixel and the light."""
    z, part = depth[::FINER, ::FINER], solid[::FINER, ::FINER]
    right, up, toward = pen.light
    flat = np.hypot(right, up)
    dark = np.zeros(z.shape, bool)
    for k in range(3, 60, 4):
        dx, dy = round(right / flat * k), round(-up / flat * k)
        move = np.array([[1, 0, -dx], [0, 1, -dy]], np.float32)
        size = (z.shape[1], z.shape[0])
        there = cv2.warpAffine(z, move, size, flags=cv2.INTER_NEAREST, borderValue=-1e6)
        who = cv2.warpAffine(part, move, size, flags=cv2.INTER_NEAREST, borderValue=-1)
        above = there - (z + k * toward / flat)
        dark |= (above > 2) & (above < 70) & (who != part)
    dark &= part >= 0
    big = cv2.resize(
        dark.astype(np.uint8), (solid.shape[1], solid.shape[0]), interpolation=cv2.INTER_NEAREST
    )
    return big.astype(bool)


def _smooth(values: Grid, sigma: float) -> Grid:
    """Values (n, k) round a closed line, averaged along it."""
    reach = min(int(3 * sigma) + 1, (len(values) - 1) // 2)
    if reach < 1:
        return values
    at = np.arange(-reach, reach + 1)
    weight = np.exp(-0.5 * (at / sigma) ** 2)
    padded = np.concatenate([values[-reach:], values, values[:reach]])
    return np.stack(
        [np.convolve(padded[:, k], weight / weight.sum(), "valid") for k in range(values.shape[1])],
        axis=1,
    )


def _edges(mask: NDArray[np.bool_]) -> list[Grid]:
    """The rims (n, 2) of a region, x and y in samples, every sample once."""
    found, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    return [c[:, 0].astype(float) for c in found if len(c) >= 10 * FINER]


def _outer_shape(mask: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """The figure as one smooth shape, 0 to 255."""
    big = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 1.2 * FINER)
    # A ramp about one sample wide on either side of the half-way line.
    return np.clip((big - 0.5) * 255 * 1.6 * FINER + 127.5, 0, 255).astype(np.uint8)


def _dab(canvas: NDArray[np.uint8], points: Grid, weights: Grid) -> None:
    """Run a round pen along points (samples), of the diameters given (samples)."""
    one = 1 << _SUB
    at = np.rint(points * one).astype(int)
    radius = np.rint(np.maximum(weights / 2 - 0.5, 0) * one).astype(int)
    for (x, y), r, w in zip(at.tolist(), radius.tolist(), weights.tolist(), strict=True):
        if w >= 0.8:
            cv2.circle(canvas, (x, y), r, 255, -1, cv2.LINE_AA, _SUB)


def _lines(
    figure: Figure, buffers: Buffers, outline: NDArray[np.uint8], scale: float, pen: Pen
) -> NDArray[np.uint8]:
    """The pen lines between parts and round the figure, 0 to 255."""
    both = [*figure.parts, *figure.paints]
    flows = {name: i for i, name in enumerate(sorted({p.flow for p in both}))}
    flow = np.array([flows[p.flow] for p in both] + [-1])
    seam = np.array([p.seam for p in both] + [1.0])
    canvas = np.zeros(buffers.part.shape, np.uint8)
    rows, columns = canvas.shape
    for index in np.unique(buffers.part[buffers.part >= 0]):
        box = cv2.boundingRect((buffers.part == index).astype(np.uint8))
        x0, y0 = max(box[0] - 8, 0), max(box[1] - 8, 0)
        mask = buffers.part[y0 : box[1] + box[3] + 8, x0 : box[0] + box[2] + 8] == index
        soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 2.0)
        gx, gy = cv2.Sobel(soft, cv2.CV_32F, 1, 0), cv2.Sobel(soft, cv2.CV_32F, 0, 1)
        for rim in _edges(mask):
            i = rim.astype(int)
            out = -np.stack([gx[i[:, 1], i[:, 0]], gy[i[:, 1], i[:, 0]]], 1).astype(float)
            out /= np.linalg.norm(out, axis=1, keepdims=True) + 1e-9
            at = rim + np.array([x0, y0])
            far = np.rint(at + out * 1.6 * FINER).astype(int)
            near = np.rint(at - out * 1.2 * FINER).astype(int)
            far[:, 0], far[:, 1] = far[:, 0].clip(0, columns - 1), far[:, 1].clip(0, rows - 1)
            near[:, 0], near[:, 1] = near[:, 0].clip(0, columns - 1), near[:, 1].clip(0, rows - 1)
            other = buffers.part[far[:, 1], far[:, 0]]
            step = buffers.depth[near[:, 1], near[:, 0]] - buffers.depth[far[:, 1], far[:, 0]]
            step = step.astype(float) * scale
            full = np.clip((step - pen.step_from) / (pen.step_full - pen.step_from), 0, 1)
            full = full * full * (3 - 2 * full)
            thin = pen.seam * np.minimum(seam[index], seam[other])
            thin = np.where((flow[index] != flow[other]) & (step > -pen.step_from), thin, 0)
            weight = np.maximum(thin, pen.inner * full * min(1.0, seam[index] + 0.6))
            weight = np.where(other < 0, 0, weight)  # the outer line is drawn by itself
            weight = _smooth(weight[:, None], 2.5 * FINER)[:, 0] * FINER * scale
            line = _smooth(at, 2.2 * FINER)
            _dab(canvas, line[::2], weight[::2])
    for rim in _edges(outline > 127):
        line = _smooth(rim, 1.5 * FINER)
        _dab(canvas, line[::2], np.full(len(line[::2]), 2 * pen.outer * FINER * scale))
    return canvas


def _stroke(
    figure: Figure, stroke: Stroke, solid: NDArray[np.int16], buffers: Buffers, view: View
) -> NDArray[np.uint8]:
    """One pen line on the surface, where it can be seen, 0 to 255."""
    canvas = np.zeros(solid.shape, np.uint8)
    x, y, d = view.project(_dense(stroke.points, 0.5 / view.scale))
    at = np.stack([(x + 0.5) * FINER - 0.5, (y + 0.5) * FINER - 0.5], 1)
    i = np.rint(at).astype(int)
    ids = [k for k, p in enumerate(figure.parts) if p.name.startswith(stroke.targets)]
    ok = (i >= 0).all(1) & (i[:, 0] < solid.shape[1]) & (i[:, 1] < solid.shape[0])
    i[~ok] = 0
    row, column = i[:, 1], i[:, 0]
    ok &= _is_one_of(ids, len(figure.parts))[solid[row, column]]
    ok &= buffers.depth[row, column] - d < 7
    # No pen follows the surface round to where it is seen edge on.
    turn = np.radians(view.yaw)
    ok &= buffers.normal[row, column] @ np.array([-np.sin(turn), 0, np.cos(turn)]) > 0.33
    starts = np.flatnonzero(np.diff(np.concatenate([[0], ok.view(np.int8), [0]])) == 1)
    ends = np.flatnonzero(np.diff(np.concatenate([[0], ok.view(np.int8), [0]])) == -1)
    for a, b in zip(starts, ends, strict=True):
        if b - a < 6:
            continue
        t = np.linspace(0, 1, b - a)
        lift = np.clip(np.minimum(t, 1 - t) / max(stroke.taper, 1e-6), 0, 1) ** 0.6
        weight = stroke.weight * FINER * view.scale * (0.35 + 0.65 * lift)
        _dab(canvas, at[a:b], weight)
    return canvas


def _dense(points: Grid, spacing: float) -> Grid:
    """Points along the line at an even spacing."""
    run = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])
    at = np.arange(0, run[-1], spacing)
    return np.stack([np.interp(at, run, points[:, k]) for k in range(3)], axis=1)


def _laid(colour: NDArray[np.float32], cover: NDArray[np.uint8], ink: Colour) -> None:
    """Lay ink over the colours, in place."""
    x, y, w, h = cv2.boundingRect(cover)
    k = cover[y : y + h, x : x + w, None].astype(np.float32) / 255
    part = colour[y : y + h, x : x + w]
    part += (np.array(ink, np.float32) - part) * k


def _shrunk(colour: NDArray[np.float32], outline: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """RGBA at picture size; colours averaged with their alpha so that rims stay clean."""
    alpha = outline.astype(np.float32) / 255
    size = (colour.shape[1] // FINER, colour.shape[0] // FINER)
    packed = cv2.resize(
        np.dstack([colour * alpha[..., None], alpha]), size, interpolation=cv2.INTER_AREA
    )
    a = packed[..., 3:]
    out = np.dstack([packed[..., :3] / np.maximum(a, 1e-6), a * 255])
    out[(a < 1 / 510)[..., 0]] = 0
    return np.clip(np.rint(out), 0, 255).astype(np.uint8)

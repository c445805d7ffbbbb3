"""What a guide shows, as shapes: one list that is written both as SVG and as pixels."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any, Literal

import cv2
import numpy as np
import numpy.typing as npt

from turncheck.geometry.guard_bands import WIDTH
from turncheck.handover.angle import Angle
from turncheck.numerics.arrays import Bytes, Floats
from turncheck.sheet.vocabulary import Landmark, Vocabulary

Colour = tuple[int, int, int]

#: Inks of a guide, RGB: told apart by how light they are as well; chosen by eye.
RULED, NEAR, FAR, BAND, BEST = (29, 106, 138), (176, 52, 26), (201, 128, 108), *[(26, 90, 134)] * 2
PAPER = 255, 255, 255
#: Widths of lines, height of letters, radius of a dot, shares of the figure height; chosen by eye.
FINE, _LIMB, LETTERS, _DOT = 0.0008, 0.003, 0.013, 0.004
#: An edge that goes further from one row to the next is another part's; chosen by eye.
_JUMP = 0.012
_AROUND = np.linspace(0.0, 2.0 * np.pi, 33)
#: A circle, (n, 2).
RING = np.stack([np.cos(_AROUND), np.sin(_AROUND)], axis=1)
_SHIFT = 4  # fractional bits of the corners handed to cv2


@dataclass(frozen=True)
class Shape:
    """One shape of a guide, px of its canvas, y down.

    Attributes
    ----------
    kind
        'line', 'area' or 'words', which stand at their first point.
    points
        (n, 2).
    colour, opacity
        RGB, and 0 to 1.
    size
        Width of a line, height of letters.
    says
        The words, or what the shape is.
    """

    kind: Literal["line", "area", "words"]
    points: Floats
    colour: Colour
    opacity: float
    size: float = 0.0
    says: str = ""


def shapes_of(angle: Angle, vocabulary: Vocabulary, figure_height: float) -> list[Shape]:
    """Return what a guide shows, from the back to the front."""
    rows = zip(angle.landmarks, angle.y.tolist(), strict=True)
    return [
        *bounds(angle.rows, figure_height),
        *ruled(dict(rows), vocabulary, angle.canvas.width, figure_height),
        *limbs(angle, vocabulary, figure_height),
        *known_points(angle, vocabulary, figure_height),
    ]


def bounds(rows: Floats, tall: float) -> Iterator[Shape]:
    """Yield from the widest to the narrowest outline, and the best guess; rows as of `Angle`."""
    for stretch in np.split(rows, np.flatnonzero(np.diff(rows[:, 0]) != 1.0) + 1):
        if len(stretch) < 2:
            continue
        y, middle = stretch[:, 0], (stretch[:, 2] + stretch[:, 5]) / 2.0
        for wide, narrow, side in ((1, 3, "left"), (6, 4, "right")):
            there = np.stack([stretch[:, wide], y], axis=1)
            open_ = np.isfinite(stretch[:, narrow])
            back = np.stack([np.where(open_, stretch[:, narrow], middle), y], axis=1)[::-1]
            says = f"from widest to narrowest, {side}"
            yield Shape("area", np.concatenate([there, back]), BAND, 0.25, says=says)
        for column, side in ((2, "left"), (5, "right")):
            edge = np.stack([stretch[:, column], y], axis=1)
            jumps = np.abs(np.diff(edge[:, 0])) > _JUMP * tall  # to another part, through the air
            for piece in np.split(edge, np.flatnonzero(jumps) + 1):
                if len(piece) < _JUMP * tall / 2.0:  # crumbs on the way
                    continue
                says = f"best guess of the outline, {side}"
                yield Shape("line", piece, BEST, 0.9, 2.0 * FINE * tall, says)


def ruled(
    rows: Mapping[str, float], vocabulary: Vocabulary, width: int, tall: float
) -> Iterator[Shape]:
    """Yield a line for each height, of which the px rows are given by landmark.

    A pair's two are one line, in their middle.
    """
    levels: dict[str, list[float]] = {}
    for name, y in rows.items():
        mark = vocabulary.landmarks[name]
        if mark.has_height and np.isfinite(y):
            title = mark.title.split(" ", 1)[-1] if mark.twin else mark.title
            levels.setdefault(title, []).append(y)
    free = -np.inf
    for title, ys in sorted(levels.items(), key=lambda one: np.mean(one[1])):
        y = float(np.mean(ys))
        ends = np.array([[0.0, y], [width - 1.0, y]])
        yield Shape("line", ends, RULED, 0.35, FINE * tall, title)
        free = max(y, free + 1.15 * LETTERS * tall)  # names keep out of each other's way
        at = np.array([[0.4 * LETTERS * tall, free - 0.2 * LETTERS * tall]])
        yield Shape("words", at, RULED, 0.7, LETTERS * tall, title)


def limbs(angle: Angle, vocabulary: Vocabulary, tall: float) -> Iterator[Shape]:
    """Yield limbs and trunk as joined points, the far ones first and lighter."""
    spots = np.stack([angle.x, angle.y], axis=1)
    columns = {name: i for i, name in enumerate(angle.landmarks) if angle.spots.known[i]}
    joints = sorted(
        ((columns[a], columns[b]) for a, b in joined(vocabulary) if {a, b} <= columns.keys()),
        key=lambda ends: float(angle.spots.depth[list(ends)].sum()),
    )
    for a, b in joints:
        far = angle.sides[b] == "far"
        width = _LIMB * tall * (0.6 if far else 1.0)
        says = f"{angle.landmarks[a]} to {angle.landmarks[b]}"
        ink, opacity = (FAR, 0.5) if far else (NEAR, 0.75)
        yield Shape("line", spots[[a, b]], ink, opacity, width, says)


def joined(vocabulary: Vocabulary) -> list[tuple[str, str]]:
    """Return the points that a line joins: each pivot to its parent, a limb's end to its last."""
    found = []
    last: dict[str, Landmark] = {}
    for mark in vocabulary.landmarks.values():
        if mark.parent:
            found.append((mark.parent, mark.name))
        elif mark.kind != "pivot" and mark.twin and mark.part in last:
            found.append((last[mark.part].name, mark.name))
        if mark.kind == "pivot" and mark.twin:
            last[mark.part] = mark
    return found


def known_points(angle: Angle, vocabulary: Vocabulary, tall: float) -> Iterator[Shape]:
    """Yield each known point's 95 % ellipse and its middle, the nearest last."""
    for i, middle, ink in _far_to_near(angle):
        radii = WIDTH * np.array([angle.spots.across_sd[i], angle.spots.up_sd[i]])
        title = vocabulary.landmarks[angle.landmarks[i]].title
        yield Shape("area", middle + radii * RING, ink, 0.3, says=f"{title}, 95 % of the time")
        yield Shape("line", middle + radii * RING, ink, 0.9, FINE * tall)
        yield Shape("area", middle + 1.5 * FINE * tall * RING, ink, 1.0, says=title)


def dots(angle: Angle, tall: float) -> Iterator[Shape]:
    """Yield each known point as a dot that is seen from afar, the nearest last."""
    for _, middle, ink in _far_to_near(angle):
        yield Shape("area", middle + _DOT * tall * RING, ink, 1.0)


def _far_to_near(angle: Angle) -> Iterator[tuple[int, Floats, Colour]]:
    """Yield the known points: their number, where they fall, and their ink."""
    order = np.argsort(np.nan_to_num(angle.spots.depth, nan=-np.inf)).tolist()
    for i in order:
        if angle.spots.known[i] and angle.landmarks[i] != "ground":
            ink = FAR if angle.sides[i] == "far" else NEAR
            yield i, np.array([angle.x[i], angle.y[i]]), ink


def as_svg(width: int, height: int, shapes: Sequence[Shape], under: str = "") -> str:
    """Return shapes as an SVG file of a canvas's size; `under` is a data URI that lies below."""
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        # (0, 0) is the centre of the first pixel
        f'viewBox="-0.5 -0.5 {width} {height}">'
    ]
    if under:
        box = f'x="-0.5" y="-0.5" width="{width}" height="{height}"'
        lines.append(f'<image {box} href="{under}"/>')
    return "\n".join([*lines, *map(_element, shapes), "</svg>\n"])


def _element(shape: Shape) -> str:
    ink, says = "#" + "".join(f"{one:02x}" for one in shape.colour), escape(shape.says)
    if shape.kind == "words":
        x, y = shape.points[0]
        look = f'font-family="sans-serif" font-size="{shape.size:.1f}" fill="{ink}"'
        return f'<text x="{x:.1f}" y="{y:.1f}" {look} opacity="{shape.opacity:g}">{says}</text>'
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in shape.points)
    title = f"<title>{says}</title>" if says else ""
    if shape.kind == "area":
        return f'<path d="{path}Z" fill="{ink}" opacity="{shape.opacity:g}">{title}</path>'
    look = f'fill="none" stroke="{ink}" stroke-width="{shape.size:.2f}" stroke-linecap="round"'
    return f'<path d="{path}" {look} opacity="{shape.opacity:g}">{title}</path>'


def painted(picture: Bytes, shapes: Sequence[Shape]) -> Bytes:
    """Return a picture, (H, W, 4) RGBA, with shapes laid over it."""
    out = picture.copy()
    for shape in shapes:
        cover, left, top = _cover(shape, out.shape[1], out.shape[0])
        if cover.size:
            at = out[top : top + cover.shape[0], left : left + cover.shape[1]]
            lay_over(at, np.array(shape.colour), shape.opacity * cover.astype(np.float64) / 255.0)
    return out


def lay_over(picture: Bytes, colour: npt.NDArray[Any], cover: Floats) -> None:
    """Lay a colour, or a picture's, over an (H, W, 4) RGBA picture, as (H, W) says how densely.

    The over operator (T. Porter, T. Duff: Compositing digital images, 1984).
    """
    under = picture[..., 3] / 255.0 * (1.0 - cover)
    alpha = cover + under
    mixed = cover[..., None] * colour + under[..., None] * picture[..., :3]
    picture[..., :3] = np.rint(mixed / np.maximum(alpha, 1e-9)[..., None])
    picture[..., 3] = np.rint(255.0 * alpha)


def _cover(shape: Shape, width: int, height: int) -> tuple[Bytes, int, int]:
    """Return how much of each pixel of a box a shape covers, and where the box lies."""
    if shape.kind == "words":
        return _lettered(shape, width, height)
    reach = shape.size + 2.0
    low = np.maximum(np.floor(shape.points.min(axis=0) - reach), 0).astype(int)
    most = np.ceil(shape.points.max(axis=0) + reach).astype(int) + 1
    size = np.maximum(np.minimum(most, [width, height]) - low, 0)
    mask = np.zeros((size[1], size[0]), np.uint8)
    if mask.size:
        corners = [np.rint((shape.points - low) * 2**_SHIFT).astype(np.int32)]
        if shape.kind == "area":
            cv2.fillPoly(mask, corners, 255, cv2.LINE_AA, _SHIFT)
        else:
            thick = max(round(shape.size), 1)
            cv2.polylines(mask, corners, False, 255, thick, cv2.LINE_AA, _SHIFT)
    return mask, int(low[0]), int(low[1])


def _lettered(shape: Shape, width: int, height: int) -> tuple[Bytes, int, int]:
    from PIL import Image, ImageDraw, ImageFont

    font = ImageFont.load_default(max(shape.size, 1.0))
    across, down = int(font.getlength(shape.says)) + 2, int(2.0 * shape.size) + 2
    image = Image.new("L", (across, down))
    ImageDraw.Draw(image).text((0, 1.5 * shape.size), shape.says, 255, font, "ls")
    left, top = int(shape.points[0, 0]), int(shape.points[0, 1] - 1.5 * shape.size)
    mask = np.asarray(image)[max(-top, 0) :]
    top = max(top, 0)
    return mask[: max(height - top, 0), : max(width - left, 0)], left, top

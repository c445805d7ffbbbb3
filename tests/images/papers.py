"""The sample drawings laid on papers of many kinds, and inked strokes of known width.

`python -m tests.images.papers` prints how well figures and strokes are found on them.
"""

from __future__ import annotations

from functools import cache, lru_cache
from itertools import pairwise

import cv2
import numpy as np
import numpy.typing as npt

from tests.places import SAMPLES

CREAM = (221, 236, 243)  # BGR
GUIDE, PENCIL, INK = (190, 158, 126), (130, 138, 150), (60, 58, 70)
PAPERS = (
    "clean",
    "white",
    "uneven",
    "textured",
    "ruled",
    "construction",
    "labels",
    "shadow",
    "jpeg",
    "all",
)

Bytes = npt.NDArray[np.uint8]
Floats = npt.NDArray[np.float32]


@cache
def drawing(name: str) -> Bytes:
    """A sample drawing, (H, W, 4) BGRA."""
    found = cv2.imread(str(SAMPLES / f"{name}.png"), cv2.IMREAD_UNCHANGED)
    assert found is not None and found.shape[2] == 4
    return np.asarray(found, dtype=np.uint8)


def on_paper(pixels: Bytes, paper: str, seed: int = 0) -> tuple[Bytes, npt.NDArray[np.bool_]]:
    """The drawing on a paper, BGR with a margin, and which pixels truly are figure."""
    rng = np.random.default_rng(seed)
    wide = cv2.copyMakeBorder(pixels, 60, 120, 60, 60, cv2.BORDER_CONSTANT, value=(0, 0, 0, 0))
    height, width = wide.shape[:2]
    alpha = wide[:, :, 3].astype(np.float32) / 255.0
    page = np.empty((height, width, 3), np.float32)
    page[:] = (255, 255, 255) if paper == "white" else CREAM
    rows = np.flatnonzero((alpha > 0.5).any(axis=1))
    top, ground = int(rows[0]), int(rows[-1])
    if paper in ("ruled", "all"):
        _rule(page, top, ground)
    if paper in ("construction", "all"):
        _construct(page, top, ground)
    if paper in ("labels", "all"):
        layer = np.zeros((height, width), np.uint8)
        font = cv2.FONT_HERSHEY_SIMPLEX
        cv2.putText(
            layer, "FRONT 0", (width // 2 - 120, height - 25), font, 1.4, 255, 3, cv2.LINE_AA
        )
        cv2.putText(layer, "KETTLE PASS", (10, 40), font, 1.2, 255, 3, cv2.LINE_AA)
        _blend(page, layer, INK, 0.9)
    y = np.arange(height, dtype=np.float32)[:, None]
    x = np.arange(width, dtype=np.float32)
    if paper == "shadow":
        feet = np.flatnonzero((alpha > 0.5)[ground - 60 :].any(axis=0))
        reach = 0.7 * (feet[-1] - feet[0])
        away = ((x - feet.mean()) / reach) ** 2 + ((y - ground + 4) / 26) ** 2
        page *= (1.0 - 0.22 * np.clip(1.4 - away, 0.0, 1.0))[:, :, None]
    page = page * (1.0 - alpha[:, :, None]) + wide[:, :, :3] * alpha[:, :, None]
    if paper in ("uneven", "textured", "jpeg", "all"):
        light = 1.015 - 0.10 * (x / width) ** 1.6 - 0.05 * (y / height - 0.4) ** 2 * 2
        centre = (x - width / 2) ** 2 + (y - height / 2) ** 2
        light -= 0.08 * centre / (width**2 / 4 + height**2 / 4)
        page *= light[:, :, None]
    if paper in ("textured", "all"):
        page *= _tooth(rng, height, width)[:, :, None]
        page += rng.normal(0.0, 2.0, (height, width, 1)).astype(np.float32)
    ready = np.clip(np.rint(page), 0, 255).astype(np.uint8)
    if paper in ("jpeg", "all"):
        _, data = cv2.imencode(".jpg", ready, [cv2.IMWRITE_JPEG_QUALITY, 85])
        ready = np.asarray(cv2.imdecode(data, cv2.IMREAD_COLOR), dtype=np.uint8)
    return ready, alpha >= 128 / 255


def ruled_across(
    pixels: Bytes,
    longest: int,
    thickness: float,
    *,
    colour: tuple[int, int, int] = INK,
    tilt: float = 0.0,
    blur: float = 0.0,
) -> tuple[Bytes, npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """The drawing on clean paper with a ground line, an eye line and a line at the crown.

    The ground line touches the soles from below; the drawing lies over the other two.

    Parameters
    ----------
    longest
        The page's longer side, px.
    thickness
        Of the lines, px.
    tilt
        Of the lines, degrees; about the figure's middle.
    blur
        Standard deviation of the scan's softness, px.

    Returns
    -------
    page, figure, lines
        (H, W, 3) BGR, and (H, W) which pixels truly are figure and which are line work of the
        ruled lines, seen or not.
    """
    height, width = pixels.shape[:2]
    factor = longest / (max(height, width) + 160)
    ready = pixels.astype(np.float32)
    ready[:, :, :3] *= ready[:, :, 3:] / 255.0
    way = cv2.INTER_AREA if factor < 1.0 else cv2.INTER_LINEAR
    ready = cv2.resize(ready, None, fx=factor, fy=factor, interpolation=way)
    rim = round(80 * factor)
    ready = cv2.copyMakeBorder(ready, rim, rim, rim, rim, cv2.BORDER_CONSTANT, value=(0, 0, 0, 0))
    alpha = ready[:, :, 3:] / 255.0
    rows, columns = np.nonzero(alpha[:, :, 0] > 0.5)
    top, ground = int(rows.min()), int(rows.max())
    y = np.arange(ready.shape[0], dtype=np.float32)[:, None]
    x = np.arange(ready.shape[1], dtype=np.float32)
    lower = np.tan(np.radians(tilt)) * (x - np.float32(columns.mean()))
    reach = float(np.abs(lower).max()) + thickness
    lines = np.zeros(ready.shape[:2], np.float32)
    for middle in (top, top + 0.12 * (ground - top), ground + 0.5 + thickness / 2.0):
        band = slice(max(int(middle - reach) - 1, 0), int(middle + reach) + 2)
        off = np.abs(y[band] - lower - np.float32(middle))
        lines[band] = np.maximum(lines[band], np.clip(thickness / 2.0 + 0.5 - off, 0.0, 1.0))
    page = np.full((*lines.shape, 3), CREAM, np.float32)
    _blend(page, np.rint(255.0 * lines).astype(np.uint8), colour, 1.0)
    page *= 1.0 - alpha
    page += ready[:, :, :3]
    if blur:
        page = cv2.GaussianBlur(page, (0, 0), blur)
    return np.rint(page).astype(np.uint8), alpha[:, :, 0] >= 128 / 255, lines > 0.5


def _rule(page: Floats, top: int, ground: int) -> None:
    """Guide lines across the figure, a little askew, the lowest one its ground line."""
    height, width = page.shape[:2]
    for share in (0.0, 0.1, 0.3, 0.5, 0.75, 1.0):
        layer = np.zeros((height, width), np.uint8)
        y = ground - share * (ground - top)
        cv2.line(layer, (20, int(y - 2)), (width - 20, int(y + 2)), 255, 2, cv2.LINE_AA)
        _blend(page, layer, GUIDE, 0.85)
    layer = np.zeros((height, width), np.uint8)
    cv2.line(layer, (width // 2, 10), (width // 2 + 3, height - 10), 255, 2, cv2.LINE_AA)
    _blend(page, layer, PENCIL, 0.4)


def _construct(page: Floats, top: int, ground: int) -> None:
    """Faint ovals and a centre line of the rough."""
    height, width = page.shape[:2]
    tall = ground - top
    for at, reach in ((0.12, (0.13, 0.14)), (0.5, (0.2, 0.3))):
        layer = np.zeros((height, width), np.uint8)
        centre = (width // 2, int(top + at * tall))
        axes = (int(reach[0] * tall), int(reach[1] * tall))
        cv2.ellipse(layer, centre, axes, 8, 0, 360, 255, 2, cv2.LINE_AA)
        _blend(page, layer, PENCIL, 0.35)
    layer = np.zeros((height, width), np.uint8)
    cv2.line(layer, (width // 2, 5), (width // 2, height - 5), 255, 2, cv2.LINE_AA)
    _blend(page, layer, PENCIL, 0.35)


def _blend(page: Floats, layer: Bytes, colour: tuple[int, int, int], strength: float) -> None:
    left, top, width, height = cv2.boundingRect(layer)
    box = (slice(top, top + height), slice(left, left + width))
    share = layer[box][:, :, None].astype(np.float32) / 255.0 * strength
    page[box] += (np.array(colour, np.float32) - page[box]) * share


def _tooth(rng: np.random.Generator, height: int, width: int) -> Floats:
    tooth = np.ones((height, width), np.float32)
    for cell, amount in ((160, 0.010), (24, 0.006), (4, 0.010)):
        grain = rng.normal(0.0, 1.0, (height // cell + 3, width // cell + 3)).astype(np.float32)
        tooth += amount * cv2.resize(grain, (width, height), interpolation=cv2.INTER_CUBIC)
    return tooth


def agreement(found: npt.NDArray[np.bool_], true: npt.NDArray[np.bool_]) -> tuple[float, float]:
    """Intersection over union, and the 95th percentile of the border's error either way, px.

    The border leaves out slivers of gaps, smaller than 0.1 % of the figure's height squared.
    """
    edges = []
    for mask in (_without_slivers(found), _without_slivers(true)):
        edges.append(mask & ~(cv2.erode(mask.astype(np.uint8), np.ones((3, 3))) > 0))
    errors = [
        np.percentile(cv2.distanceTransform((~b).astype(np.uint8), cv2.DIST_L2, 5)[a], 95)
        for a, b in (edges, edges[::-1])
    ]
    return float((found & true).sum() / (found | true).sum()), float(max(errors))


def _without_slivers(mask: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
    height = np.ptp(np.flatnonzero(mask.any(axis=1)))
    _, labels, stats, _ = cv2.connectedComponentsWithStats((~mask).astype(np.uint8), connectivity=4)
    small = stats[:, cv2.CC_STAT_AREA] < 0.001 * float(height) ** 2
    return np.asarray(mask | small[labels])


def stroke_drawing(lines: list[npt.NDArray[np.float64]], width: float, size: int = 400) -> Bytes:
    """Black round-ended strokes through (n, 2) points on white, (size, size, 3), anti-aliased.

    Coverage is the share of 8 x 8 sample points of a pixel within half the width of the line:
    no drawing library's idea of a line's width comes in.
    """
    fine = ((np.arange(8 * size) + 0.5) / 8.0 - 0.5).astype(np.float32)
    inked = np.zeros((8 * size, 8 * size), dtype=bool)
    for line in lines:
        for start, end in pairwise(line):
            low = np.floor((np.minimum(start, end) - width) * 8).astype(int).clip(0)
            high = np.ceil((np.maximum(start, end) + width + 1) * 8).astype(int).clip(0, 8 * size)
            box = (slice(low[1], high[1]), slice(low[0], high[0]))
            x, y = fine[box[1]] - start[0], fine[box[0]][:, None] - start[1]
            along = end - start
            share = np.clip((x * along[0] + y * along[1]) / float(along @ along), 0.0, 1.0)
            away = (x - share * along[0]) ** 2 + (y - share * along[1]) ** 2
            inked[box] |= away <= (width / 2.0) ** 2
    cover = inked.reshape(size, 8, size, 8).mean(axis=(1, 3))
    return np.repeat(np.rint(255.0 * (1.0 - cover)).astype(np.uint8)[:, :, None], 3, axis=2)


def main() -> None:
    from turncheck.images.figure_mask import figure_mask
    from turncheck.images.stroke_width import measure_strokes

    names = sorted(
        f"{path.parent.name}/{path.stem}"
        for sheet in ("odo", "pim", "brindle")
        for path in (SAMPLES / sheet).glob("*.png")
    )
    print(f"{len(names)} drawings a row\n")
    print("| paper | overlap: least | median | border's error, 95 %: worst, px |")
    print("|---|---|---|---|")
    for paper in PAPERS:
        found = []
        for seed, name in enumerate(names):
            page, true = on_paper(drawing(name), paper, seed)
            found.append(agreement(figure_mask(page).pixels, true))
        overlaps, borders = zip(*found, strict=True)
        print(f"| {paper} | {min(overlaps):.4f} | {np.median(overlaps):.4f} | {max(borders):.1f} |")
    print("\n| strokes of, px | straight | curved | crossing |")
    print("|---|---|---|---|")
    from tests.images.test_stroke_width import LINES, WIDTHS

    for width in WIDTHS:
        errors = []
        for lines in LINES.values():
            page = stroke_drawing(lines, width)
            strokes = measure_strokes(page, page[:, :, 0] < 128)
            errors.append("-" if strokes is None else f"{strokes.width - width:+.2f}")
        print(f"| {width:g} | {' | '.join(errors)} |")


if __name__ == "__main__":
    main()


def stroked(
    alpha: Bytes, height: int, width: float, fill: float = 127.0, ink: float = 36.0
) -> tuple[Bytes, npt.NDArray[np.bool_]]:
    """A silhouette about `height` px tall with a stroke of `width` px inside its edge, and where.

    Coverage is counted on 8 x 8 sample points of a pixel, the stroke by their exact distance from
    the edge.
    """
    solid, depth = _depths(alpha.tobytes(), alpha.shape, height)
    page = np.where(solid == 0, 255.0, np.where(depth <= 8.0 * width, ink, fill))
    shape = (len(solid) // 8, 8, solid.shape[1] // 8, 8)
    luma = np.rint(page.reshape(shape).mean(axis=(1, 3))).astype(np.uint8)
    return np.dstack([luma] * 3), solid.reshape(shape).mean(axis=(1, 3)) >= 0.5


@lru_cache(maxsize=1)
def _depths(alpha: bytes, shape: tuple[int, int], height: int) -> tuple[Bytes, Floats]:
    """Where a silhouette is on the sample points, and how deep each lies in it, sample points."""
    whole = np.frombuffer(alpha, np.uint8).reshape(shape)
    rows, columns = (np.flatnonzero(whole.any(axis=axis)) for axis in (1, 0))
    box = np.pad(whole[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1], 10)
    size = 8.0 * height / len(box)
    fine = cv2.resize(box, None, fx=size, fy=size, interpolation=cv2.INTER_CUBIC)
    fine = cv2.GaussianBlur(fine, (0, 0), 6.4)
    fine = fine[: len(fine) // 8 * 8, : fine.shape[1] // 8 * 8]
    solid = (fine > 127).astype(np.uint8)
    depth = cv2.distanceTransform(solid, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return solid, np.asarray(depth)

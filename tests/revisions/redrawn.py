"""Drawings made anew: with a part moved, at another scale, a little turned, on paper, as JPEG."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

from tests.images.papers import on_paper
from tests.outside.bodies import body_or_skip
from tests.outside.rendering import draw as draw_body
from tests.outside.rendering import frame, project
from tests.places import SAMPLES

sys.path.insert(0, str(SAMPLES))

from drawing import brindle, odo, pim
from drawing.figure import Figure, View
from drawing.inking import draw
from drawing.pim import Drift

#: Scale, turn in degrees, paper: the first as it was saved, the others as scanned or exported.
CONDITIONS = (
    (1.0, 0.0, ""),
    (0.8, 1.5, ""),
    (1.15, -2.0, "jpeg"),
    (1.0, 1.0, "textured"),
    (0.9, 0.0, "all"),
)
#: Px around what moved that are drawn with it, and of them the outermost, where lines are cut off.
AROUND, EDGE = 60, 20
PAPER = 60  # px that `on_paper` puts beside the drawing
Spots = Mapping[str, tuple[float, float]]
#: (x, y, z) of the body to how far it goes up, both (..., 3) and (...).
Way = Callable[[np.ndarray], np.ndarray]


def made_anew(
    pixels: np.ndarray, scale: float, degrees: float, paper: str, seed: int = 0
) -> tuple[np.ndarray, np.ndarray]:
    """Return a BGRA drawing made anew, and the (2, 3) matrix that takes its places there."""
    height, width = pixels.shape[:2]
    matrix = cv2.getRotationMatrix2D((width / 2, height / 2), degrees, scale)
    size = round(1.06 * width * scale), round(1.06 * height * scale)
    matrix[:, 2] += [(size[0] - width) / 2, (size[1] - height) / 2]
    alpha = pixels[..., 3:] / np.float32(255)
    thick = np.dstack([pixels[..., :3] * alpha, 255 * alpha]).astype(np.float32)
    moved = cv2.warpAffine(thick, matrix, size, flags=cv2.INTER_LINEAR)
    moved[..., :3] /= np.maximum(moved[..., 3:] / 255, 1e-3)
    ready = np.clip(np.rint(moved), 0, 255).astype(np.uint8)
    if paper:
        ready, _ = on_paper(ready, paper, seed)
        matrix[:, 2] += PAPER
    return ready, matrix


@dataclass(frozen=True)
class Redrawn:
    """A sheet's drawings made anew: by view the picture, its matrix, and where points lie.

    `before` and `after` are px of the earlier drawing, had it not been made anew.
    """

    height: float
    pictures: Mapping[str, np.ndarray]
    matrices: Mapping[str, np.ndarray]
    before: Mapping[str, Spots]
    after: Mapping[str, Spots]

    def write(self, folder: Path, settings: str) -> Path:
        """Write the new sheet without a point in it."""
        folder.mkdir(parents=True, exist_ok=True)
        for view, pixels in self.pictures.items():
            assert cv2.imwrite(str(folder / f"{view}.png"), pixels)
        (folder / "sheet.toml").write_text(settings, "utf-8")
        return folder

    def moved(self, view: str, name: str) -> float:
        """How far a point moved, px of the earlier drawing."""
        if name == "ground":
            return 0.0
        return float(np.hypot(*np.subtract(self.before[view][name], self.after[view][name])))


def _raised(figure: Figure, way: Way) -> Figure:
    """Return a sample figure of which a part goes up."""

    def to(points: np.ndarray) -> np.ndarray:
        points = np.asarray(points, float)
        return points + way(points)[..., None] * (0.0, 1.0, 0.0)

    return replace(
        figure,
        parts=[replace(part, grid=to(part.grid)) for part in figure.parts],
        strokes=[replace(stroke, points=to(stroke.points)) for stroke in figure.strokes],
        landmarks={
            name: replace(mark, xyz=tuple(to(np.array(mark.xyz))))
            for name, mark in figure.landmarks.items()
        },
    )


def _ramp(values: np.ndarray, low: float, high: float) -> np.ndarray:
    return np.clip((values - low) / (high - low), 0.0, 1.0)


def odos_arm(points: np.ndarray) -> np.ndarray:
    """The left forearm hangs 2.5 % lower."""
    return -33.0 * _ramp(points[..., 0], 130.0, 165.0) * (points[..., 1] < 1000.0)


def brindles_head(points: np.ndarray) -> np.ndarray:
    """The head is 2.5 % higher."""
    return 26.0 * _ramp(points[..., 2], 300.0, 420.0)


def _drawn_anew(pixels: np.ndarray, was: Figure, figure: Figure, at: View) -> np.ndarray:
    """Return a BGRA drawing of one figure as a drawing of another: what moved is drawn, no more."""
    there, here = ([part.grid for part in one.parts] for one in (was, figure))
    there += [np.asarray(one.points, float) for one in was.strokes]
    here += [np.asarray(one.points, float) for one in figure.strokes]
    ends = []
    for old, new in zip(there, here, strict=True):
        moved = (old != new).any(axis=-1)
        ends += [np.stack(at.project(one[moved])[:2], axis=-1) for one in (old, new)]
    spots = np.concatenate(ends)
    size = np.array(pixels.shape[1::-1])
    first = np.maximum(spots.min(axis=0).astype(int) - AROUND, 0)
    last = np.minimum(spots.max(axis=0).astype(int) + AROUND, size)
    window = replace(at, axis=at.axis - first[0], ground=at.ground - first[1])
    anew = cv2.cvtColor(draw(figure, window, *(last - first)).picture, cv2.COLOR_RGBA2BGRA)
    start = np.where(first > 0, EDGE, 0)
    stop = last - first - np.where(last < size, EDGE, 0)
    whole = pixels.copy()
    inside = (slice(a, b) for a, b in zip(first + start, first + stop, strict=True))
    columns, rows = inside
    whole[rows, columns] = anew[start[1] : stop[1], start[0] : stop[0]]
    return whole


def _samples(name: str, views: Mapping[str, tuple[Figure, Figure]]) -> Redrawn:
    """Return drawings of a sample with other figures than were drawn; the truth of both.

    `views` has the figure that was drawn and the one that is.
    """
    truth = json.loads((SAMPLES / name / "truth.json").read_text("utf-8"))
    found: list[dict[str, object]] = [{}, {}, {}, {}]
    for number, (view, (drawn, figure)) in enumerate(views.items(), 1):
        was = truth["views"][view]
        at = View(view, was["yaw"], was["axis"], was["ground"], was["scale"])
        own = cv2.imread(str(SAMPLES / name / f"{view}.png"), cv2.IMREAD_UNCHANGED)
        pixels = _drawn_anew(own, drawn, figure, at)
        before = {n: (spot["x"], spot["y"]) for n, spot in was["landmarks"].items()}
        places = {n: at.project(mark.xyz)[:2] for n, mark in figure.landmarks.items()}
        after = {n: (float(x), float(y)) for n, (x, y) in places.items()}
        anew = made_anew(pixels, *CONDITIONS[number % len(CONDITIONS)], seed=number)
        for store, value in zip(found, (*anew, before, after), strict=True):
            store[view] = value
    return Redrawn(truth["figure_height"], *found)  # type: ignore[arg-type]


def redrawn_pim() -> Redrawn:
    """Pim's drawings, in each another part moved than is in the samples' own."""
    px = pim.CROWN / 100.0
    low, high, true = -2.5 * px, 2.0 * px, pim.build()
    views = {
        "front": (true, pim.build(Drift(arm_l=low))),
        "three_quarter": (pim.build(Drift(arm_l=low)), true),  # the arm as it should be
        "side": (pim.build(Drift(eyes=-1.8 * px)), true),  # the eyes as they should be
        "back": (pim.build(Drift(knee_r=high)), pim.build(Drift(arm_l=low, knee_r=high))),
    }
    return _samples("pim", views)


def redrawn_odo() -> Redrawn:
    """Odo with a lower forearm."""
    figures = odo.build(), _raised(odo.build(), odos_arm)
    return _samples("odo", dict.fromkeys(("front", "three_quarter", "back"), figures))


def redrawn_brindle() -> Redrawn:
    """Brindle with a higher head."""
    figures = brindle.build(), _raised(brindle.build(), brindles_head)
    return _samples("brindle", dict.fromkeys(("side", "three_quarter"), figures))


REDRAWN = {"pim": redrawn_pim, "odo": redrawn_odo, "brindle": redrawn_brindle}
OUTSIDE = {"adult_female": "arm", "dog": "head"}
YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0}


def redrawn_body(name: str, height_px: float) -> Redrawn:
    """An open body: a person with a lower left forearm, a dog with a higher head."""
    body = body_or_skip(name)
    joints, tall = body.joints, body.height
    if OUTSIDE[name] == "arm":
        start, end = joints["shoulder_l"][0], joints["elbow_l"][0]
        wide = start + np.array([0.35, 0.9]) * (end - start)

        def way(points: np.ndarray) -> np.ndarray:
            return -0.025 * tall * _ramp(points[..., 0], *wide)
    else:
        base, head = (joints["neck"][2] + joints["head"][2]) / 2.0, joints["head"][2]

        def way(points: np.ndarray) -> np.ndarray:
            return 0.03 * tall * _ramp(points[..., 2], base, head)

    def to(points: np.ndarray) -> np.ndarray:
        return points + way(points)[..., None] * (0.0, 1.0, 0.0)

    other = replace(
        body, vertices=to(body.vertices), joints={n: to(at) for n, at in joints.items()}
    )
    found: list[dict[str, object]] = [{}, {}, {}, {}]
    for number, (view, yaw) in enumerate(YAWS.items()):
        where = frame(body, yaw, height_px)
        anew, there = draw_body(other, yaw, height_px * other.height / tall, margin=60)
        spots = [
            dict(zip(t["landmark"], zip(t["x"], t["y"], strict=True), strict=True))
            for t in (project(body, where), project(other, there))
        ]
        shift = where.c - there.c, where.g - there.g
        spots[1] = {n: (x + shift[0], y + shift[1]) for n, (x, y) in spots[1].items()}
        pixels = cv2.cvtColor(anew, cv2.COLOR_RGBA2BGRA)
        pixels, matrix = made_anew(pixels, *CONDITIONS[(number + 1) % len(CONDITIONS)])
        matrix[:, 2] -= matrix[:, :2] @ shift
        for store, value in zip(found, (pixels, matrix, *spots), strict=True):
            store[view] = value
    return Redrawn(height_px, *found)  # type: ignore[arg-type]

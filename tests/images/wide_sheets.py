"""Wide sheets with known boxes, composed from single drawings on clear ground or on paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np

from tests.images.papers import drawing

PAPER = (226, 238, 245)  # BGR
INK = (40, 34, 38)
CASES = {
    "clear": {"ground": "clear"},
    "flat": {"ground": "flat"},
    "uneven": {"ground": "uneven"},
    "labels": {"ground": "uneven", "labels": True},
    "guides": {"ground": "uneven", "guides": True, "labels": True},
    "guides, clear": {"ground": "clear", "guides": True},
    "props": {"ground": "uneven", "props": True},
    "props, clear": {"ground": "clear", "props": True},
    "gaps of 5": {"ground": "uneven", "gap": (5, 6)},
    "gaps of 15": {"ground": "flat", "gap": (15, 16)},
    "pale": {"ground": "flat", "pale": True},
    "pale, uneven": {"ground": "uneven", "pale": True},
    "frame": {"ground": "flat", "frame": True},
    "shadows": {"ground": "flat", "shadows": True},
}


@dataclass(frozen=True)
class WideSheet:
    """Pixels, BGR or BGRA, and the true (left, top, right, bottom) of each figure."""

    pixels: np.ndarray
    boxes: list[tuple[int, int, int, int]]


def wide_file(
    folder: Path, seed: int = 4, first: int | None = None, **how: object
) -> tuple[Path, int]:
    """Write a wide sheet of the first figures of a sample character; its path and their number."""
    data, count = _wide_png(seed, first, **how)
    file = folder / "wide.png"
    file.write_bytes(data)
    return file, count


@cache
def _wide_png(seed: int, first: int | None, **how: object) -> tuple[bytes, int]:
    rng = np.random.default_rng(seed)
    figures = sample_figures(rng, 200)[:first]
    return cv2.imencode(".png", compose(figures, rng, **how).pixels)[1].tobytes(), len(figures)


def sample_figures(rng: np.random.Generator, height: int) -> list[np.ndarray]:
    """Four or five drawings, BGRA and cut to their figure, of one sample character."""
    views = {
        "odo": ["front", "three_quarter", "side", "back_three_quarter", "back"],
        "pim": ["front", "three_quarter", "side", "back"],
        "brindle": ["front", "three_quarter", "side", "back"],
    }
    character = rng.choice(["odo", "odo", "pim", "brindle"])
    names = views[character]
    if len(names) == 5 and rng.random() < 0.5:
        names = names[:3] + names[4:]
    return _cut_to_figures(str(character), tuple(names), height)


@cache
def _cut_to_figures(character: str, names: tuple[str, ...], height: int) -> list[np.ndarray]:
    drawings = [drawing(f"{character}/{name}") for name in names]
    tallest = max(np.ptp(np.flatnonzero((d[..., 3] > 127).any(1))) for d in drawings)
    return [scaled(d, height / tallest) for d in drawings]


def scaled(drawing: np.ndarray, factor: float) -> np.ndarray:
    """A BGRA drawing at another size, cut to what is at least half covered."""
    clear = drawing.astype(np.float32)
    clear[..., :3] *= clear[..., 3:] / 255
    small = cv2.resize(clear, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    small[..., :3] /= np.maximum(small[..., 3:] / 255, 1e-3)
    small = np.clip(np.rint(small), 0, 255).astype(np.uint8)
    solid = small[..., 3] > 127
    rows, columns = np.flatnonzero(solid.any(1)), np.flatnonzero(solid.any(0))
    small = small[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return np.pad(small, ((1, 1), (1, 1), (0, 0)))


def compose(
    figures: Sequence[np.ndarray],
    rng: np.random.Generator,
    *,
    ground: str = "flat",
    gap: tuple[int, int] = (30, 90),
    labels: bool = False,
    guides: bool = False,
    props: bool = False,
    pale: bool = False,
    frame: bool = False,
    shadows: bool = False,
) -> WideSheet:
    """Stand the figures on one ground line, their nearest pixels `gap` px apart."""
    tall = max(f.shape[0] for f in figures)
    margin = round(0.2 * tall)
    ready = [_with_props(f, rng, tall) if props else f for f in figures]
    if pale:
        ready = [_pale(f) for f in ready]
    lefts = _lefts(ready, rng, gap, margin)
    width = lefts[-1] + ready[-1].shape[1] + margin
    height = tall + 2 * margin
    base = margin + tall - 1
    sheet = np.empty((height, width, 3), np.float32)
    sheet[:] = PAPER
    alpha = np.zeros((height, width), np.float32)
    if guides:
        for share in (0.0, 0.28, 0.55, 0.84, 1.0):
            y = round(base - share * tall)
            tilt = int(rng.integers(-2, 3))
            for layer, colour in ((sheet, (190, 160, 130)), (alpha, 1.0)):
                cv2.line(layer, (4, y), (width - 5, y + tilt), colour, 2, cv2.LINE_AA)
    if frame:
        for layer, colour in ((sheet, INK), (alpha, 1.0)):
            cv2.rectangle(layer, (6, 6), (width - 7, height - 7), colour, 2)
    boxes = []
    for left, figure in zip(lefts, ready, strict=True):
        top = base - figure.shape[0] + 2
        if shadows:
            middle = (left + figure.shape[1] // 2, base)
            dark = np.zeros((height, width), np.float32)
            axes = (round(0.55 * figure.shape[1]), round(0.02 * tall))
            cv2.ellipse(dark, middle, axes, 0, 0, 360, 0.16, -1)
            sheet *= 1 - cv2.GaussianBlur(dark, (0, 0), 3)[..., None]
        area = (slice(top, top + figure.shape[0]), slice(left, left + figure.shape[1]))
        cover = figure[..., 3:].astype(np.float32) / 255
        sheet[area] = sheet[area] * (1 - cover) + figure[..., :3] * cover
        alpha[area] = np.maximum(alpha[area], cover[..., 0])
        rows = np.flatnonzero((figure[..., 3] > 127).any(1))
        columns = np.flatnonzero((figure[..., 3] > 127).any(0))
        boxes.append(
            (
                left + int(columns[0]),
                top + int(rows[0]),
                left + int(columns[-1]),
                top + int(rows[-1]),
            )
        )
        if labels:
            at = (left + figure.shape[1] // 2 - 30, base + round(0.07 * tall) + 10)
            word = np.zeros((height, width), np.uint8)
            cv2.putText(word, "VIEW 3", at, cv2.FONT_HERSHEY_SIMPLEX, 0.5, 255, 1, cv2.LINE_AA)
            sheet += (np.array(INK, np.float32) - sheet) * (word[..., None] / 255)
            alpha = np.maximum(alpha, word / 255)
    if ground == "clear":
        pixels = np.dstack([sheet, 255 * np.clip(alpha, 0, 1)])
    else:
        pixels = _lit(sheet, rng) if ground == "uneven" else sheet
    return WideSheet(np.clip(np.rint(pixels), 0, 255).astype(np.uint8), boxes)


def _lefts(
    figures: Sequence[np.ndarray], rng: np.random.Generator, gap: tuple[int, int], margin: int
) -> list[int]:
    """Where each figure starts: the nearest pixels of neighbours, not their boxes, decide."""
    tall = max(f.shape[0] for f in figures)
    lefts, reach = [margin], np.full(tall, -(10**6))
    for k, figure in enumerate(figures):
        solid = np.pad(figure[..., 3] > 30, ((tall - figure.shape[0], 0), (0, 0)))
        marked = solid.any(1)
        first = np.where(marked, solid.argmax(1), 10**6)
        last = np.where(marked, solid.shape[1] - 1 - solid[:, ::-1].argmax(1), -(10**6))
        if k:
            apart = int(rng.integers(*gap)) - (gap[0] <= 0)
            near = cv2.dilate(
                reach.astype(np.float64)[:, None], np.ones((2 * max(apart, 1) + 1, 1))
            )
            lefts.append(int((near[:, 0] - first).max()) + apart + 1)
        reach = np.where(marked, lefts[-1] + last, -(10**6))
    return lefts


def _pale(figure: np.ndarray) -> np.ndarray:
    """The same line work filled with hardly more than the paper's colour."""
    grey = figure[..., :3].max(2)
    share = np.clip((grey.astype(np.float32) - 40) / 60, 0, 1)[..., None]
    filled = figure.astype(np.float32)
    filled[..., :3] = INK + (np.array(PAPER) - 4 - np.array(INK)) * share
    return np.rint(filled).astype(np.uint8)


def _with_props(figure: np.ndarray, rng: np.random.Generator, tall: int) -> np.ndarray:
    """The figure with a staff or a bundle beside it and a tuft of hair above, none touching."""
    room = round(0.16 * tall)
    page = np.pad(figure, ((room, 0), (room, room), (0, 0)))
    height, width = page.shape[:2]
    colour = (*(int(c) for c in rng.integers(20, 160, 3)), 255)
    side = 1 if rng.random() < 0.5 else -1
    if rng.random() < 0.5:
        x = width - room + round(0.02 * tall) if side > 0 else room - round(0.02 * tall)
        cv2.line(page, (x, height - 4), (x, round(0.3 * height)), colour, max(3, tall // 90))
    else:
        size = round(0.045 * tall)
        x = width - room + size + 6 if side > 0 else room - size - 6
        cv2.circle(page, (x, height - size - 4), size, colour, -1)
    top = np.flatnonzero(page[room + 1, :, 3] > 127)
    if len(top):
        y = room - max(3, round(0.012 * tall))
        x = int(np.median(top))
        cv2.line(page, (x, y), (x + 8, y - round(0.03 * tall)), (*INK, 255), 2)
    return scaled(page, 1.0)


def _lit(sheet: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Paper lit from one side, with tooth, a crease and scan noise."""
    height, width = sheet.shape[:2]
    x = np.linspace(0, 1, width)[None, :]
    y = np.linspace(0, 1, height)[:, None]
    light = 1.01 - rng.uniform(0.06, 0.14) * (x if rng.random() < 0.5 else 1 - x) ** 1.5
    light = light - 0.06 * (y - 0.4) ** 2
    light -= 0.03 * np.exp(-(((x - rng.uniform(0.3, 0.7)) * width / 10) ** 2))
    for cell, amount in ((90, 0.010), (18, 0.006), (4, 0.007)):
        coarse = rng.normal(0, 1, (height // cell + 3, width // cell + 3)).astype(np.float32)
        light += amount * cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
    return sheet * light[..., None] + rng.normal(0, 1.2, sheet.shape)

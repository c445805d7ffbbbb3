"""How often a fill that is painted otherwise in one drawing is named, and a clean one blamed.

The sample sheets, as drawn and through JPEG; in one drawing one large fill is painted over.
The figures stand in tests/figures/colours.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from tests.images.papers import SAMPLES, Bytes, drawing
from tests.placings import read_placings
from turncheck.checks.check import Tolerances
from turncheck.checks.finding import Finding
from turncheck.checks.palette import CHECK
from turncheck.checks.register import open_sheet
from turncheck.geometry.measurement import measure
from turncheck.images.colour import difference
from turncheck.images.features import ImageFeatures, read_features
from turncheck.images.flat_colours import Fill
from turncheck.images.paper.paper import to_lab
from turncheck.sheet.landmark_table import Placing, landmarks_path
from turncheck.sheet.model import Sheet

SHEETS = ("odo", "pim", "brindle")


def as_drawn(pixels: Bytes) -> Bytes:
    return pixels


def through_jpeg(pixels: Bytes) -> Bytes:
    """The drawing on white, quality 85, its transparency kept."""
    share = pixels[:, :, 3:] / 255.0
    page = np.rint(pixels[:, :, :3] * share + 255.0 * (1.0 - share)).astype(np.uint8)
    _, data = cv2.imencode(".jpg", page, [cv2.IMWRITE_JPEG_QUALITY, 85])
    return np.dstack([cv2.imdecode(data, cv2.IMREAD_COLOR), pixels[:, :, 3]])


def painted_over(pixels: Bytes, fill: Fill, apart: float) -> tuple[Bytes, float]:
    """The drawing with one fill lighter or darker, and by how much (CIEDE2000)."""
    lab = to_lab(np.ascontiguousarray(pixels[:, :, :3]))
    same = np.linalg.norm(lab - np.array(fill.lab, np.float32), axis=2) < 2.0
    way = 1.0 if fill.lab[0] < 50.0 else -1.0
    steps = [(fill.lab[0] + way * step, *fill.lab[1:]) for step in np.arange(0.0, 15.0, 0.1)]
    wanted = min(steps, key=lambda colour: abs(difference(fill.lab, colour) - apart))
    page = cv2.cvtColor(np.float32([[wanted]]), cv2.COLOR_LAB2BGR)
    colour = np.rint(np.clip(page[0, 0], 0.0, 1.0) * 255.0).astype(np.uint8)
    changed = pixels.copy()
    changed[same, :3] = colour
    return changed, difference(fill.lab, to_lab(colour.reshape(1, 1, 3))[0, 0])


@cache
def sheet(name: str) -> tuple[Sheet, tuple[Placing, ...]]:
    read = replace(open_sheet(SAMPLES / name), tolerances={}, waivers=())
    return read, read_placings(landmarks_path(read), read)


def views_of(name: str) -> tuple[str, ...]:
    return tuple(sheet(name)[0].views)


@cache
def features_of(name: str, view: str, seen: Callable[[Bytes], Bytes]) -> ImageFeatures:
    return read_features(seen(drawing(f"{name}/{view}")))


def rows(name: str, features: dict[str, ImageFeatures]) -> list[Finding]:
    return list(CHECK.run(measure(*sheet(name), features), Tolerances(CHECK.tolerance, {})))


def clean(name: str, seen: Callable[[Bytes], Bytes]) -> list[Finding]:
    return rows(name, {view: features_of(name, view, seen) for view in views_of(name)})


def view_of(name: str, number: int) -> str:
    """The drawing whose `number`-th largest fill is painted over; never the reference."""
    views = views_of(name)
    return views[-1 - number % (len(views) - 1)]


@cache
def repainted_features(
    name: str, seen: Callable[[Bytes], Bytes], number: int, apart: float
) -> ImageFeatures:
    view = view_of(name, number)
    fill = features_of(name, view, as_drawn).fills[number]
    changed, _ = painted_over(drawing(f"{name}/{view}"), fill, apart)
    return read_features(seen(changed))


def repainted(name: str, seen: Callable[[Bytes], Bytes], number: int, apart: float) -> bool:
    """Whether the drawing whose `number`-th largest fill is painted over is named for it."""
    view = view_of(name, number)
    features = {other: features_of(name, other, seen) for other in views_of(name)}
    features[view] = repainted_features(name, seen, number, apart)
    return any(row.verdict == "off_model" and row.view == view for row in rows(name, features))


@pytest.mark.parametrize("seen", [as_drawn, through_jpeg])
@pytest.mark.parametrize("name", SHEETS)
def test_a_clean_sheets_fills_are_not_called_off_model(name, seen):
    found = clean(name, seen)
    assert sum(row.verdict == "on_model" for row in found) >= 30
    assert [row for row in found if row.verdict == "off_model"] == []


@pytest.mark.parametrize("name", SHEETS)
def test_a_fill_painted_five_apart_is_named(name):
    assert repainted(name, through_jpeg, 1, 5.0)


def test_a_fill_painted_one_apart_is_let_pass():
    assert not repainted("odo", as_drawn, 1, 1.0)

"""Outlines of the open bodies with their turn solved from noisy placings, and errors in them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from tests.outside.bodies import Body
from tests.outside.rendering import View, project, silhouette
from turncheck.geometry.camera import Camera, fit_camera
from turncheck.geometry.outlines import Outline, OutlineComparison
from turncheck.geometry.turn import Turn, solve_turn
from turncheck.images.features import row_extents

#: Where errors are planted: a landmark near each place, for bipeds and quadrupeds.
PLACES = {
    "biped": {
        "arm": "elbow_l",
        "belly": "spine",
        "face": "mouth",
        "foot": "ankle_l",
        "head": "eye_l",
        "hips": "hip_l",
    },
    "quadruped": {
        "arm": "fore_elbow_l",
        "belly": "brisket",
        "face": "jaw",
        "foot": "fore_fetlock_l",
        "head": "eye_l",
        "hips": "hip_l",
    },
}


@dataclass(frozen=True)
class Sheet:
    """Drawings of one body: what turncheck is given, and the truth."""

    outlines: list[Outline]
    turn: Turn
    camera: Camera
    views: list[View]
    height: float


@lru_cache(maxsize=200)
def _silhouette(body: Body, yaw: float, height_px: float, scale: float, tilt: float, near: float):
    alpha, view = silhouette(body, yaw, height_px, scale, tilt=tilt, near=near)
    left, right = row_extents(alpha > 127)
    truth = project(body, view).set_index("landmark").drop("ground")
    points = *truth[["x", "y"]].to_numpy().T, (truth["visibility"] == "hidden").to_numpy()
    return left + 0.5, right - 0.5, view, points


def drawn(
    body: Body,
    yaws: Sequence[float],
    *,
    nominal: Sequence[float] = (),
    symmetric: bool = True,
    noise_pct: float = 0.15,
    seed: int = 0,
    height_px: float = 800.3,
    scales: Sequence[float] = (),
    tilt: float = 0.0,
    near: float = 0.0,
) -> Sheet:
    """Draw a body at the given yaws and solve the turn from its landmarks, placed with noise.

    Hidden landmarks are placed twice as badly.
    """
    scale = np.array(scales or [1.0] * len(yaws))
    seen = [
        _silhouette(body, yaw, height_px, size, tilt, near)
        for yaw, size in zip(yaws, scale.tolist(), strict=True)
    ]
    names = [name for name in body.joints if name != "ground"]
    x, y, hidden = (np.array(each) for each in zip(*(points for *_, points in seen), strict=True))
    sd = noise_pct / 100 * height_px * scale[:, None] * np.where(hidden, 2.0, 1.0)
    rng = np.random.default_rng(seed)
    noise, noise_y = (rng.normal(0, 1, sd.shape) * sd for _ in "xy")
    pairs = [(names.index(n), names.index(n[:-1] + "r")) for n in names if n.endswith("_l")]
    midline = [i for i, n in enumerate(names) if n[-2:] not in ("_l", "_r")]
    turn = solve_turn(
        x + noise,
        sd,
        scale,
        np.array(nominal or np.round(np.array(yaws) / 45) * 45),
        figure_height=height_px,
        pairs=pairs if symmetric else [],
        midline=midline if symmetric else [],
    )
    ground = np.array([view.g for *_, view, _ in seen])[:, None]
    heights = ground - y + noise_y
    size = scale[:, None]
    camera = fit_camera(heights / size, sd / size, turn, height_px)
    outlines = [
        Outline(left, right, s, view.g, *(float(x[v]) for x in numbers_of(turn)))
        for v, ((left, right, view, _), s) in enumerate(zip(seen, scale.tolist(), strict=True))
    ]
    return Sheet(outlines, turn, camera, [view for _, _, view, _ in seen], height_px)


def numbers_of(turn: Turn) -> tuple[np.ndarray, ...]:
    """Return what an `Outline` wants of a turn, in its order."""
    return turn.yaw, turn.yaw_sd, turn.axis, turn.axis_sd


@dataclass(frozen=True)
class Error:
    """A smooth bump (px > 0) or dent in one side of one drawing."""

    view: int
    side: str
    height: float
    length: float
    px: float

    def shape(self, heights: np.ndarray) -> np.ndarray:
        """Return the px that the outline moves outward at these heights."""
        at = np.clip((heights - self.height) / self.length, -0.5, 0.5)
        return self.px * np.cos(np.pi * at) ** 2


def planted(outlines: Sequence[Outline], error: Error) -> list[Outline]:
    """Return the outlines with the error in them; reference px at scale 1."""
    out = list(outlines)
    old = out[error.view]
    moved = error.shape(old.ground - np.arange(len(old.left)))
    side = {"left": {"left": old.left - moved}, "right": {"right": old.right + moved}}[error.side]
    out[error.view] = replace(old, **side)
    return out


def found(reading: OutlineComparison, error: Error) -> bool:
    """Whether a contradiction lies on the error's rows, and its drawing takes part in it."""
    low, high = error.height - error.length / 2, error.height + error.length / 2
    return any(
        error.view in c.views and c.heights[0] < high and c.heights[1] > low
        for c in reading.contradictions
    )

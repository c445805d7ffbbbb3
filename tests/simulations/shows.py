"""Simulated shows: how far the points of many characters' drawings lie from where they belong."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import stats

from tests.simulations.figures import HEIGHTS
from turncheck.numerics.robust import MAD_SD, TUKEY_C, biweights
from turncheck.show.drifts import Drifts
from turncheck.show.habits import Habits, Show, habits_in
from turncheck.show.record import Record

VIEWS = ("front", "side", "back", "three_quarter", "back_tq")
#: By landmark: its height, % of the figure height.
POINTS = {n.replace("eye_l", "eye_line"): h for n, h in HEIGHTS.items() if n != "ground"}
#: What hangs together within a drawing, from the top down; invented.
PARTS = (
    ("crown", "nose_tip", "chin", "eye_line", "head"),
    ("neck", "shoulder_l", "shoulder_r", "spine", "waist"),
    ("elbow_l", "elbow_r", "wrist_l", "fingertip_l"),
    ("crotch", "hip_l", "knee_l", "knee_r", "ankle_l"),
)
ARTISTS = ("Ama", "Bo", "Cy")


@dataclass(frozen=True)
class Noise:
    """What is wrong with drawings by chance, % of the figure height.

    Placings and points are independent; what a part has wrong, all its points have. `tails` are
    normal, Student's t with 3 degrees of freedom at the same sd, or slips: one point in 20 is
    drawn 2 to 4 % off besides.
    """

    placing: float = 0.15
    point: float = 0.05
    part: float = 0.1
    tails: str = "normal"


PLACING_ALONE = Noise(point=0.0, part=0.0)
USUAL = Noise()
LOOSE = Noise(point=0.15, part=0.2)

#: By artist, or '' for everyone: the view and landmark drawn off, and by how much.
Planted = Mapping[str, tuple[str, str, float]]


def show(
    rng: np.random.Generator,
    characters: int,
    *,
    noise: Noise = USUAL,
    planted: Planted | None = None,
    views: int = 4,
    artists: Sequence[str] = (),
) -> Show:
    """A sheet a character; artists take turns. Each drawing's own size and position is out."""
    names, marks = VIEWS[:views], list(POINTS)
    shape = (characters, views, len(marks))
    drawn_by = np.array([(artists or ("",))[c % max(len(artists), 1)] for c in range(characters)])
    off = _noise(rng, shape, noise)
    for artist, (view, landmark, amount) in (planted or {}).items():
        who = (drawn_by == artist) | (not artist)
        off[who, names.index(view), marks.index(landmark)] += amount
    off = _less_size_and_position(off, noise.placing)
    off -= off.mean(axis=1, keepdims=True)
    return Show(names, tuple(marks), off, np.repeat(drawn_by[:, None], views, axis=1))


def _less_size_and_position(off: np.ndarray, placing: float) -> np.ndarray:
    """Take out the line of each drawing that its points agree on, by Tukey's weights.

    As the height scale does: what is far off has no part in its line, and what has is given back
    its own part of it.
    """
    heights = np.array(list(POINTS.values())) / 100.0
    weights = np.ones(off.shape)
    for _ in range(8):
        total = weights.sum(axis=2, keepdims=True)
        middle = (weights * heights).sum(axis=2, keepdims=True) / total
        arm = heights - middle
        turn = (weights * arm**2).sum(axis=2, keepdims=True)
        slope = (weights * arm * off).sum(axis=2, keepdims=True) / turn
        left = off - (weights * off).sum(axis=2, keepdims=True) / total - slope * arm
        own = 1.0 - weights * (1.0 / total + arm**2 / turn)
        sd = MAD_SD * np.median(np.abs(left), axis=2, keepdims=True)
        weights = biweights(left / np.maximum(sd, placing), TUKEY_C)
    return left / own


def _noise(rng: np.random.Generator, shape: tuple[int, int, int], noise: Noise) -> np.ndarray:
    def draw(size: tuple[int, ...]) -> np.ndarray:
        if noise.tails == "t3":
            return rng.standard_t(3, size) / np.sqrt(3.0)
        return rng.normal(size=size)

    off = rng.normal(0.0, noise.placing, shape) + noise.point * draw(shape)
    marks = list(POINTS)
    for part in PARTS:
        at = [marks.index(name) for name in part]
        off[:, :, at] += noise.part * draw(shape[:2])[:, :, None]
    if noise.tails == "slips":
        slips = rng.random(shape) < 0.05
        off += slips * rng.uniform(2.0, 4.0, shape) * rng.choice([-1.0, 1.0], shape)
    return off


def drifts_of(*shown: Show, revisions: str = "A") -> Drifts:
    """The same as a survey gathers it; several shows of the same characters are their revisions."""
    (first, *_), views = shown, len(shown[0].views)
    sheets = tuple(
        Record(
            f"show/{c:03}/{revision}",
            f"character {c}",
            revision,
            drawn_by=dict(zip(one.views, one.drawn_by[c].tolist(), strict=True)),
        )
        for one, revision in zip(shown, revisions.split(), strict=True)
        for c in range(len(one.places))
    )
    places = np.concatenate([one.places for one in shown])
    return Drifts(sheets, first.views, first.landmarks, places * views / (views - 1))


@dataclass(frozen=True)
class Rates:
    """Shares of simulated shows.

    Attributes
    ----------
    found
        Where what is planted is told, and of the right drawing and artist.
    paired
        Where it is told as one of two drawings.
    false
        Where anything else is told.
    """

    found: float
    paired: float
    false: float


def rates(
    shows: int,
    characters: int,
    *,
    planted: Planted | None = None,
    seed: int = 7,
    **how: object,
) -> Rates:
    """What is told of so many shows."""
    rng = np.random.default_rng(seed)
    found = paired = false = 0
    (artist, (view, landmark, _)), *_ = (planted or {"": ("", "", 0.0)}).items()
    for _ in range(shows):
        told = habits_in(show(rng, characters, planted=planted, **how)).told  # type: ignore[arg-type]
        right = [one for one in told if (one.artist, one.landmark) == (artist, landmark)]
        named = [one for one in right if one.view == view and not one.than]
        pairs = [one for one in right if one.than and view in (one.view, one.than)]
        found += bool(named)
        paired += bool(pairs and not named)
        false += len(told) > len(named[:1] or pairs[:1])
    return Rates(found / shows, paired / shows, false / shows)


def told(of: Habits) -> list[tuple[str, str, str]]:
    """Who draws which point of which view off."""
    return [(one.artist, one.view, one.landmark) for one in of.told]


@dataclass(frozen=True)
class CryingWolf:
    """Shares of parts of views with nothing wrong that fail a test which one in a hundred should.

    By Student's t over the points of a part in a view: every row as if it were independent, the
    wrong way; and one value a drawing.
    """

    rows: float
    drawings: float


def crying_wolf(shows: int, characters: int, *, noise: Noise = USUAL, seed: int = 7) -> CryingWolf:
    """How often a part of a drawing, such as the head of the back view, is called off, of all."""
    rng = np.random.default_rng(seed)
    marks = list(POINTS)
    rows, drawings = [], []
    for _ in range(shows):
        places = show(rng, characters, noise=noise).places
        for part in PARTS:
            values = places[:, :, [marks.index(name) for name in part]]
            each = values.transpose(1, 0, 2).reshape(places.shape[1], -1)
            rows.append(stats.ttest_1samp(each, 0.0, axis=1).pvalue < 0.01)
            drawings.append(stats.ttest_1samp(values.mean(axis=2), 0.0, axis=0).pvalue < 0.01)
    return CryingWolf(float(np.mean(rows)), float(np.mean(drawings)))

"""Each mistake is named in one sentence, on bodies of the samples and from outside; others none."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest

from tests.conftest import described_once
from tests.mistakes import planting as p
from tests.mistakes.planting import Drawn
from tests.outside.bodies import body_or_skip, posed
from tests.outside.rendering import write_sheet
from tests.outside.solid import Body
from tests.places import SAMPLES
from tests.placings import read_placings
from turncheck import TurncheckError
from turncheck.checks.register import open_sheet
from turncheck.mistakes.impossible import refuse_impossible
from turncheck.mistakes.register import find_slips
from turncheck.mistakes.slip import Slip
from turncheck.sheet.landmark_table import landmarks_path

SAMPLE_NAMES = ("odo", "brindle", "pim")
OUTSIDE = ("adult_male", "child", "dog")
YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
#: Small drawings are enough for silhouettes, px.
TALL = 300.0

#: Whose lowest points lie so high that a ground 3 % too high might be right, with cloth below it.
HIGH_SHOES = ("Pim",)

Plant = Callable[[Drawn], Drawn]
Views = Callable[[Drawn], Collection[str]]


def read(folder: Path) -> Drawn:
    sheet = open_sheet(folder)
    placings = read_placings(landmarks_path(sheet), sheet)
    seen = described_once(sheet.views)
    sha256 = {name: one.sha256 for name, one in seen.thumbnails.items()}
    return Drawn(sheet, placings, seen.features, sha256)


def outside(body: Body, seed: int = 0, **drawn: float) -> Drawn:
    with TemporaryDirectory() as folder:
        write_sheet(Path(folder), body, YAWS, height_px=TALL, noise_sd_pct=0.15, seed=seed, **drawn)
        return read(Path(folder))


@cache
def correct(name: str) -> Drawn:
    """A sheet without a mistake; Pim's drawings drift, but nobody slipped."""
    return read(SAMPLES / name) if name in SAMPLE_NAMES else outside(body_or_skip(name))


def slips(drawn: Drawn) -> tuple[Slip, ...]:
    refuse_impossible(drawn.sheet, drawn.placings)
    return find_slips(drawn.measured(), drawn.sha256)


def leg(drawn: Drawn) -> tuple[str, str]:
    biped = drawn.sheet.vocabulary.name == "biped"
    return ("knee", "ankle") if biped else ("hind_hock", "hind_fetlock")


def every(drawn: Drawn) -> Collection[str]:
    return drawn.yaws


def none(_: Drawn) -> Collection[str]:
    return ()


def at(*yaws: float) -> Views:
    return lambda drawn: [drawn.at(yaw) for yaw in yaws]


#: By what is done: the code it is told by, how it is done and the drawings it is said of.
MISTAKES: dict[str, tuple[str, Plant, Views]] = {
    "left and right as a viewer sees them": ("left_and_right", p.names_exchanged, every),
    "left and right exchanged on the side": (
        "left_and_right",
        lambda d: p.names_exchanged(d, d.at(90)),
        at(90),
    ),
    "left and right exchanged on the front": (
        "left_and_right",
        lambda d: p.names_exchanged(d, d.at(0)),
        at(0),
    ),
    "turned drawings face left": ("facing", p.drawn_facing_left, lambda d: d.turned),
    "the three-quarter faces left": (
        "facing",
        lambda d: p.drawn_facing_left(d, d.at(45)),
        at(45),
    ),
    "every picture mirrored with its points": ("mirrored", p.mirrored, every),
    "three-quarter and side flipped, names kept": (
        "flipped",
        lambda d: p.mirrored(d, d.at(45), d.at(90)),
        at(45, 90),
    ),
    "the side flipped since": (
        "flipped_since",
        lambda d: p.flipped_since(d, d.at(90)),
        at(90),
    ),
    "front and back drawn in each other's place": (
        "front_and_back",
        lambda d: p.drawings_exchanged(d, d.at(0), d.at(180)),
        at(0, 180),
    ),
    "front and back yaws exchanged": (
        "front_and_back",
        lambda d: p.yaws_exchanged(d, d.at(0), d.at(180)),
        at(0, 180),
    ),
    "one file for front and back": (
        "same_drawing",
        lambda d: p.same_file(d, d.at(0), d.at(180)),
        at(0, 180),
    ),
    "knee and ankle exchanged everywhere": (
        "points_exchanged",
        lambda d: p.landmarks_exchanged(d, *leg(d)),
        every,
    ),
    "knee and ankle exchanged on one drawing": (
        "points_exchanged",
        lambda d: p.landmarks_exchanged(d, *leg(d), d.at(45)),
        at(45),
    ),
    "the ground too high everywhere": (
        "ground_high",
        lambda d: p.ground_raised(d, 0.05 if d.sheet.character in HIGH_SHOES else 0.03),
        every,
    ),
    "points of an export at 95 %": (
        "another_size",
        lambda d: p.from_another_export(d, 0.95),
        every,
    ),
    "points of an export at 102 %": (
        "another_size",
        lambda d: p.from_another_export(d, 1.02),
        every,
    ),
    "side and three-quarter exchanged": (
        "drawings_exchanged",
        lambda d: p.drawings_exchanged(d, d.at(45), d.at(90)),
        at(45, 90),
    ),
    "side and three-quarter yaws exchanged": (
        "drawings_exchanged",
        lambda d: p.yaws_exchanged(d, d.at(45), d.at(90)),
        at(45, 90),
    ),
    "side and three-quarter files exchanged since": (
        "files_exchanged",
        lambda d: p.files_exchanged(d, d.at(45), d.at(90)),
        at(45, 90),
    ),
    "placing_sd in px": ("placing_sd", p.placing_sd_in_px, none),
}
IMPOSSIBLE: dict[str, tuple[str, Plant]] = {
    "yaws in radians": ("look like radians", p.yaws_in_radians),
    "every point of a drawing on one pixel": (
        "on one spot",
        lambda d: p.on_one_spot(d, d.at(90)),
    ),
    "every point on one pixel": ("on one spot", lambda d: p.on_one_spot(d, *d.yaws)),
}


@pytest.mark.parametrize("name", [*SAMPLE_NAMES, "adult_male", "dog"])
@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_told_in_one_sentence_that_names_its_drawings(name, mistake):
    code, plant, views = MISTAKES[mistake]
    drawn = correct(name)
    told = slips(plant(drawn))
    assert [slip.code for slip in told] == [code]
    assert {*told[0].views} == {*views(drawn)}
    says = told[0].says
    assert says.isprintable() and ". " not in says and not says.endswith(".")
    assert all(view.replace("_", " ") in says.lower() for view in views(drawn)) or len(
        told[0].views
    ) == len(drawn.yaws)


@pytest.mark.parametrize("name", [*SAMPLE_NAMES, "adult_male", "dog"])
@pytest.mark.parametrize("mistake", IMPOSSIBLE)
def test_what_can_not_be_meant_is_refused(name, mistake):
    words, plant = IMPOSSIBLE[mistake]
    wrong = plant(correct(name))
    with pytest.raises(TurncheckError, match=words):
        refuse_impossible(wrong.sheet, wrong.placings)


@pytest.mark.parametrize("name", [*SAMPLE_NAMES, *OUTSIDE])
def test_a_correct_sheet_gives_no_warning(name):
    assert not slips(correct(name))


@pytest.mark.parametrize("name", [*SAMPLE_NAMES, *OUTSIDE])
def test_a_correct_sheet_placed_anew_with_gaps_gives_no_warning(name):
    drawn = correct(name)
    sd = drawn.sheet.placing_sd / 100.0 * drawn.measured().figure_height
    for seed in range(2):
        rng = np.random.default_rng((5, seed))
        gone = {
            q.key: rng.random() < 0.3 and q.landmark not in ("ground", "crown")
            for q in drawn.placings
        }
        again = drawn.placed(
            lambda q, rng=rng: replace(q, x=q.x + rng.normal(0, sd), y=q.y + rng.normal(0, sd))
        )
        kept = tuple(q for q in again.placings if not gone[q.key])
        assert not slips(replace(again, placings=kept))


@pytest.mark.parametrize("name", [*SAMPLE_NAMES, *OUTSIDE])
@pytest.mark.parametrize("yaws", [(0, 45, 90), (0, 90, 180), (45, 90), (0, 180)])
def test_a_correct_sheet_of_fewer_drawings_gives_no_warning(name, yaws):
    drawn = correct(name)
    views = {drawn.at(yaw) for yaw in yaws}
    assert not slips(p.of_views(drawn, views))


@pytest.mark.parametrize("drawn", [{"tilt": 6.0}, {"tilt": 12.0}, {"near": 0.15}], ids=str)
@pytest.mark.parametrize("name", ["adult_male", "dog"])
def test_a_body_seen_from_above_or_near_gives_no_warning(name, drawn):
    assert not slips(outside(body_or_skip(name), **drawn))


def test_a_raised_arm_gives_no_warning():
    assert not slips(outside(posed(body_or_skip("adult_male"), 70.0)))
    assert not slips(outside(posed(body_or_skip("adult_male"), 130.0)))


def test_a_turnaround_to_the_other_side_gives_no_warning():
    """The drawings face left, and the yaws say so."""
    for name in ("odo", "dog"):
        drawn = p.drawn_facing_left(correct(name))
        asked = {view: -drawn.yaws[view] for view in drawn.turned}
        assert not slips(drawn.with_yaws(asked))


@pytest.mark.parametrize("name", [*SAMPLE_NAMES, *OUTSIDE])
def test_front_and_back_files_exchanged_since_are_told_by_the_outline_or_the_eyes(name):
    """Odo's outline is its own mirror image, his face is not behind. What shows no eyes can't tell.

    The bodies from outside have no drawn eyes but for the dog's, in which folds of the skin are
    drawn; Brindle's lie at the sides of its head.
    """
    drawn = correct(name)
    told = [s.code for s in slips(p.files_exchanged(drawn, drawn.at(0), drawn.at(180)))]
    assert told == (["files_exchanged"] if name in ("odo", "pim", "dog") else [])


def test_eyes_that_are_not_drawn_or_seen_behind_too_tell_nothing():
    """A draft without a face, and hair that is drawn all over."""
    drawn = correct("odo")
    front, back = drawn.at(0), drawn.at(180)
    for of, full in ((front, False), (back, True)):
        own = drawn.features[of]
        cells = replace(own.detail, drawn=np.full_like(own.detail.drawn, full))
        other = replace(drawn, features={**drawn.features, of: replace(own, detail=cells)})
        assert not slips(other)
    unplaced = tuple(q for q in drawn.placings if q.landmark != "eye_l")
    assert not slips(p.files_exchanged(replace(drawn, placings=unplaced), front, back))


def test_cloth_or_a_shadow_below_the_soles_in_every_drawing_gives_no_warning():
    """As a ground too high, but that the feet's points lie above it."""
    assert not slips(p.ground_raised(correct("pim"), 0.03))

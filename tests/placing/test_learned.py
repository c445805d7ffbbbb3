"""The shape model by itself, and its files: numbers that are told apart from all else."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest

from turncheck.placing.learned.model import ShowModel
from turncheck.placing.learned.model_file import (
    ABOUT_FILE,
    FORMAT_VERSION,
    NUMBERS_FILE,
    About,
    Share,
    Source,
    find_model,
    save_model,
)
from turncheck.placing.learned.outline import BANDS, PER_BAND, Frame, outline_numbers
from turncheck.placing.learned.shapes import Scores, ShapeSpace

RNG = np.random.default_rng(5)
POINTS = ((0, "chin"), (0, "crown"), (90, "chin"))


def space(size: int, scores: int) -> ShapeSpace:
    axes = np.linalg.qr(RNG.normal(size=(size, scores)))[0].T
    return ShapeSpace(
        RNG.normal(size=size), axes, RNG.uniform(1, 9, scores), RNG.uniform(0.1, 0.4, size)
    )


def test_what_is_known_tells_the_rest_as_the_normal_distribution_does() -> None:
    """Against the textbook formula, which inverts the covariance of all that is known."""
    of = space(12, 3)
    whole = of.axes.T @ np.diag(of.spread) @ of.axes + np.diag(of.noise)
    values = RNG.normal(size=12)
    known = np.arange(12) < 7
    gain = whole[np.ix_(~known, known)] @ np.linalg.inv(whole[np.ix_(known, known)])
    mean = of.mean[~known] + gain @ (values - of.mean)[known]
    covariance = whole[np.ix_(~known, ~known)] - gain @ whole[np.ix_(known, ~known)]
    told = of.vector(of.scores(np.where(known, values, np.nan), of.unknown))
    np.testing.assert_allclose(told[0][~known], mean, atol=1e-9)
    np.testing.assert_allclose(told[1][~known], np.diag(covariance), atol=1e-9)


def test_one_after_the_other_tells_the_same_as_both_at_once() -> None:
    of = space(12, 3)
    values = RNG.normal(size=12)
    first, second = (np.where(mask, values, np.nan) for mask in np.arange(12) // 6 == [[0], [1]])
    stepwise = of.scores(second, of.scores(first, of.unknown))
    at_once = of.scores(values, of.unknown)
    np.testing.assert_allclose(stepwise.mean, at_once.mean, atol=1e-9)
    np.testing.assert_allclose(stepwise.covariance, at_once.covariance, atol=1e-9)


def test_nothing_placed_tells_nothing_and_the_unsure_less_than_the_sure() -> None:
    of = space(6, 2)
    before = of.unknown
    assert of.scores(np.full(6, np.nan), before) is before
    sure, unsure = (of.scores(of.mean + 1.0, of.unknown, more) for more in (0.0, 4.0))
    assert np.trace(sure.covariance) < np.trace(unsure.covariance) < np.trace(of.unknown.covariance)


def test_what_lies_off_the_plane_is_told_by_its_misfit() -> None:
    of = space(300, 2)
    own = of.mean + RNG.normal(size=2) * np.sqrt(of.spread) @ of.axes
    own += RNG.normal(size=300) * np.sqrt(of.noise)
    assert 0.8 < of.misfit(own) < 1.2
    assert of.misfit(own + RNG.normal(size=300) * 4 * np.sqrt(of.noise)) > 3
    assert of.misfit(np.full(300, np.nan)) == 0.0


def test_a_frame_goes_both_ways() -> None:
    frame = Frame(50.0, 210.0, 200.0)
    assert frame.inside(60.0, 110.0) == (5.0, 50.0)
    assert frame.outside(5.0, 50.0) == (60.0, 110.0)


@pytest.mark.parametrize("times", [1, 3])
def test_an_outline_s_numbers_are_those_of_its_bands_at_any_size(times: int) -> None:
    """A post of a tenth of its height with an arm held out, from half way to three fifths."""
    mask = np.zeros((240, 200), bool)
    mask[20:220, 90:110] = True
    mask[120:140, 90:150] = True
    mask = mask.repeat(times, 0).repeat(times, 1)
    found = outline_numbers(mask).reshape(BANDS, PER_BAND)
    assert found.shape == (BANDS, PER_BAND)
    np.testing.assert_allclose(found[:20], [[-5, 5, 10, -5, 5]] * 20)
    np.testing.assert_allclose(found[20:24], [[-5, 25, 30, -5, 25]] * 4)


@pytest.fixture
def model() -> ShowModel:
    scores = 2
    return ShowModel(
        POINTS,
        space(2 * BANDS * PER_BAND, scores),
        space(2 * len(POINTS), scores),
        RNG.normal(size=(scores, scores)),
        RNG.normal(size=scores),
        np.eye(scores),
        np.array([[1.0, np.nan, 2.0]] * 3),
        np.ones((3, 3), bool),
        np.array([False, False, True]),
        3.0,
    )


@pytest.fixture
def folder(tmp_path: Path, model: ShowModel) -> Path:
    (tmp_path / "odo").mkdir()
    (tmp_path / "odo" / "sheet.toml").write_text("", "utf-8")
    share = Share(
        placed="nothing", points=3, offered=3, within_1=50.0, within_2=100.0,
        before_offered=0, before_within_1=None, before_within_2=None, silent=0,
    )  # fmt: skip
    about = About(
        format_version=FORMAT_VERSION, vocabulary="biped", characters=20,
        sheets=[Source(path="odo/sheet.toml", character="Odo", revision="A")], left_out=[],
        left_out_points=[], drawings={"0": "front"}, points=list(POINTS), figures=[share],
        by_point=[],
    )  # fmt: skip
    save_model(tmp_path, model, about)
    return tmp_path


def test_what_is_written_is_read_again(folder: Path, model: ShowModel) -> None:
    found = find_model(folder / "odo", "biped")
    assert found is not None and found.model is not None
    assert str(folder / NUMBERS_FILE) in found.says and "20 marked characters" in found.says
    assert found.model.points == model.points
    before = Scores(np.zeros(2), np.eye(2))
    for mine, theirs in zip(
        model.expected(before, np.full(6, np.nan)),
        found.model.expected(before, np.full(6, np.nan)),
        strict=True,
    ):
        np.testing.assert_array_equal(mine, theirs)


def rewritten(folder: Path, **changed: object) -> None:
    """Write changed arrays, and the hash that goes with them."""
    with np.load(folder / NUMBERS_FILE) as kept:
        arrays = {name: kept[name] for name in kept.files}
    arrays |= {name: np.asarray(one) for name, one in changed.items()}
    held = io.BytesIO()
    np.savez(held, **arrays)
    (folder / NUMBERS_FILE).write_bytes(held.getvalue())
    told(folder, numbers_sha256=sha256(held.getvalue()).hexdigest())


def told(folder: Path, **changed: object) -> None:
    about = json.loads((folder / ABOUT_FILE).read_text("utf-8"))
    (folder / ABOUT_FILE).write_text(json.dumps(about | changed), "utf-8")


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda f: (f / NUMBERS_FILE).unlink(), "can't be read"),
        (lambda f: (f / NUMBERS_FILE).write_bytes(b"PK\x03\x04"), "does not go with"),
        (lambda f: rewritten(f, slopes=np.full((2, 2), np.nan)), "does not go with"),
        (lambda f: rewritten(f, slopes=np.ones((2, 2), dtype=object)), "does not go with"),
        (lambda f: rewritten(f, start=np.ones(3)), "does not go with"),
        (lambda f: rewritten(f, left=0.0), "does not go with"),
        (lambda f: rewritten(f, strangest=np.nan), "does not go with"),
        (lambda f: rewritten(f, shapes_noise=-np.ones(6)), "does not go with"),
        (lambda f: rewritten(f, doubt=-np.ones((3, 3))), "does not go with"),
        (lambda f: told(f, points=[[0, "chin"]]), "does not go with"),
        (lambda f: told(f, format_version=FORMAT_VERSION + 1), "another version"),
        (lambda f: told(f, sheets=[]), "is no file that turncheck learn wrote"),
        (lambda f: told(f, characters="many"), "is no file that turncheck learn wrote"),
        (lambda f: (f / ABOUT_FILE).write_text("[" * 9000, "utf-8"), "is no file that"),
        (lambda f: (f / ABOUT_FILE).write_bytes(b"\xff\xfe\x00"), "is not UTF-8"),
        (lambda f: (f / "odo" / "sheet.toml").unlink(), "do not lie here"),
    ],
)
def test_files_that_are_broken_foreign_or_old_are_one_sentence(folder: Path, spoil, says) -> None:
    spoil(folder)
    found = find_model(folder / "odo", "biped")
    assert found is not None and found.model is None
    assert says in found.says and "not used" in found.says
    assert "\n" not in found.says and found.says.endswith(".")


def test_the_nearest_folder_s_files_count(folder: Path) -> None:
    told(folder, format_version=0)
    (folder / "odo" / ABOUT_FILE).write_text("{}", "utf-8")
    found = find_model(folder / "odo", "biped")
    assert found is not None and str(folder / "odo" / ABOUT_FILE) in found.says


def test_a_point_that_was_not_measured_is_not_told(model: ShowModel) -> None:
    at, sd = model.expected(model.shapes.unknown, np.full(6, np.nan))
    assert np.isnan(sd * model.doubt[0]).tolist() == [False, True, False]
    assert at.shape == (3, 2)
    surer = replace(model, shapes=replace(model.shapes, noise=model.shapes.noise / 4))
    assert (surer.expected(model.shapes.unknown, np.full(6, np.nan))[1] < sd).all()

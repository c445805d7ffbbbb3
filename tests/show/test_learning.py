"""What a show's marked sheets teach is proposed, where it lies nearer, and nowhere else."""

from __future__ import annotations

import json
import shutil
import time
from pathlib import Path

import cv2
import numpy as np
import pytest
from click.testing import CliRunner

from tests.places import loaded_by
from tests.show.drawn_show import TALL, write_character
from turncheck.cli import main
from turncheck.errors import TurncheckError
from turncheck.placing.learned.model_file import (
    ABOUT_FILE,
    NUMBERS_FILE,
    About,
    find_model,
    save_model,
)
from turncheck.placing.session import Change, Session, Step
from turncheck.show.learning import learn


@pytest.fixture(scope="module")
def show(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """22 characters, one of them in two revisions, and another with a drawing of its own.

    Besides, what nothing can be learned from: drawn from elsewhere, on four legs, broken, and one
    that is not marked yet.
    """
    folder = tmp_path_factory.mktemp("show")
    for seed in range(22):
        write_character(folder / "cast" / f"c{seed:02}", seed)
    write_character(folder / "cast" / "c05_b", 5, revision="B")
    write_character(folder / "new", 77, marked=False)
    write_character(folder / "low_too", 78, views={"front": 0, "low": 17})
    write_character(folder / "low_alone", 79, views={"low": 17, "lower": 19})
    shutil.copytree("sample_views/brindle", folder / "goat")
    (folder / "broken").mkdir()
    (folder / "broken" / "sheet.toml").write_text("character = 3", "utf-8")
    return folder


@pytest.fixture(scope="module")
def printed(show: Path) -> str:
    ran = CliRunner().invoke(main, ["learn", str(show)])
    assert ran.exit_code == 0, ran.output
    return ran.output


def test_files_of_these_names_that_are_another_s_are_not_overwritten(
    show: Path, about: dict, tmp_path: Path
) -> None:
    found = find_model(show / "cast", "biped")
    assert found is not None and found.model is not None
    what = found.model, About.model_validate(about)
    (tmp_path / ABOUT_FILE).write_text('{"mine": 1}', "utf-8")
    with pytest.raises(TurncheckError, match="was not written by turncheck"):
        save_model(tmp_path, *what)
    assert [file.name for file in tmp_path.iterdir()] == [ABOUT_FILE]
    assert (tmp_path / ABOUT_FILE).read_text("utf-8") == '{"mine": 1}'
    read = []
    with pytest.raises(TurncheckError, match="was not written by turncheck"):
        learn(tmp_path, progress=lambda *told: read.append(told))
    assert not read, "before anything is learned"
    (tmp_path / ABOUT_FILE).unlink()
    assert save_model(tmp_path, *what) == save_model(tmp_path, *what), "its own are"


@pytest.fixture
def about(show: Path, printed: str) -> dict:
    return json.loads((show / ABOUT_FILE).read_text("utf-8"))


def test_the_table_says_how_near_proposals_come_and_it_is_kept(printed: str, about: dict) -> None:
    assert "Learned from 23 marked characters, 24 sheets." in printed
    rows = {row["placed"]: row for row in about["figures"]}
    assert list(rows) == ["nothing", "front", "front and side"]
    for row in rows.values():
        shown = next(line for line in printed.splitlines() if f"  {row['placed']} " in line)
        assert f" {row['points']} " in shown
        assert f"{row['within_1']:.0f} %" in shown and f"{row['before_within_2']:.0f} %" in shown
    bare = rows["nothing"]
    assert bare["offered"] > 3 * bare["before_offered"]
    assert bare["within_2"] > 80 and rows["front"]["within_2"] >= bare["within_2"]


def test_what_was_left_out_is_said_with_the_reason(printed: str, about: dict) -> None:
    reasons = {one["path"]: one["reason"] for one in about["left_out"]}
    assert set(reasons) == {f"{name}/sheet.toml" for name in ("broken", "goat", "low_alone", "new")}
    assert "another kind of body" in reasons["goat/sheet.toml"]
    assert "turned as those of the others" in reasons["low_alone/sheet.toml"]
    assert "ground is not placed on front" in reasons["new/sheet.toml"]
    assert all(f"left out: {path}: {reason}" in printed for path, reason in reasons.items())
    rows = about["left_out_points"]
    assert rows == ["8 points on low: placed on 1 character at most"]


def test_nothing_in_the_files_tells_where_the_show_lies(show: Path, about: dict) -> None:
    assert str(show) not in json.dumps(about)
    assert {one["path"] for one in about["sheets"]} >= {"cast/c00/sheet.toml"}


def proposals(folder: Path) -> dict[tuple[str, str], dict]:
    return {(p["view"], p["landmark"]): p for p in Session(folder).proposals()}


@pytest.mark.parametrize("placed", [(), ("front",)])
def test_the_page_proposes_what_was_learned_near_the_truth(
    show: Path, printed: str, tmp_path: Path, placed: tuple[str, ...]
) -> None:
    here = show / "later"
    true = write_character(here, 501, marked=False)
    try:
        session = Session(here)
        assert "learned from 23 marked characters" in session.learned_says
        steps = [
            Step(view=view, landmark=name, x=x, y=y)
            for (view, name), (x, y) in true.items()
            if view in placed
        ]
        if steps:
            session.change(Change(base=session.hash(), steps=steps))
        found = [p for p in session.proposals() if p["source"] == "the show's sheets"]
        assert len(found) >= 8 * (3 - len(placed)) - 4  # the neck shows by itself in two drawings
        far = [
            np.hypot(p["x"] - x, p["y"] - y)
            for p in found
            for x, y in [true[p["view"], p["landmark"]]]
        ]
        assert np.mean(np.array(far) <= 0.02 * TALL) >= 0.8
        inside = [d <= 1.96 * p["sd"] for d, p in zip(far, found, strict=True)]
        assert np.mean(inside) >= 0.9
    finally:
        shutil.rmtree(here)


def test_learned_proposals_take_no_time(show: Path, printed: str) -> None:
    session = Session(show / "new")
    session.proposals()
    learned = session._learned
    assert learned is not None
    started = time.process_time()
    for _ in range(20):
        assert learned.spots({})
    assert (time.process_time() - started) / 20 <= 0.005


def test_a_sheet_of_another_show_is_not_told_by_it(
    show: Path, printed: str, tmp_path: Path
) -> None:
    """Copied beside other sheets the files are not used, and the other show has none."""
    write_character(tmp_path / "mine", 3, marked=False)
    assert find_model(tmp_path / "mine", "biped") is None
    for name in (ABOUT_FILE, NUMBERS_FILE):
        shutil.copy(show / name, tmp_path / name)
    found = find_model(tmp_path / "mine", "biped")
    assert found is not None and found.model is None and "do not lie here" in found.says
    assert not any(
        p["source"] == "the show's sheets" for p in Session(tmp_path / "mine").proposals()
    )


def test_a_moved_show_keeps_its_proposals(show: Path, printed: str, tmp_path: Path) -> None:
    shutil.copytree(show, tmp_path / "moved")
    found = find_model(tmp_path / "moved" / "cast" / "c01", "biped")
    assert found is not None and found.model is not None


def test_a_character_drawn_unlike_the_others_is_not_told_by_them(show: Path, printed: str) -> None:
    here = show / "robed"
    write_character(here, 502, marked=False)
    picture = cv2.imread(str(here / "front.png"), cv2.IMREAD_UNCHANGED)
    picture[60:TALL, 20:140] = (90, 140, 190, 255)
    assert cv2.imwrite(str(here / "front.png"), picture)
    found = Session(here).proposals()
    shutil.rmtree(here)
    assert found and not any(p["source"] == "the show's sheets" for p in found)


def test_another_kind_of_body_is_not_told_by_it(show: Path, printed: str) -> None:
    found = find_model(show / "goat", "quadruped")
    assert found is not None and found.model is None and "another kind of body" in found.says


def test_the_same_sheets_give_the_same_files(show: Path, printed: str) -> None:
    before = [(show / name).read_bytes() for name in (ABOUT_FILE, NUMBERS_FILE)]
    learn(show)
    assert [(show / name).read_bytes() for name in (ABOUT_FILE, NUMBERS_FILE)] == before


def test_too_few_characters_are_refused_in_one_sentence(tmp_path: Path) -> None:
    for seed in range(3):
        write_character(tmp_path / f"c{seed}", seed)
    write_character(tmp_path / "c0_b", 0, revision="B")
    with pytest.raises(
        TurncheckError, match="3 marked characters are here, and at least 20"
    ) as told:
        learn(tmp_path)
    assert len(told.value.faults) == 1
    assert not list(tmp_path.glob("proposals.*"))


def test_only_learning_needs_the_library_that_fits() -> None:
    """Neither the page nor the command line imports scikit-learn, pandas nor scipy for it."""
    loaded = loaded_by("turncheck.cli, turncheck.placing.learned.model_file")
    assert "numpy" in loaded and not loaded & {"sklearn", "scipy", "pandas"}

"""`new`: views guessed from file names, a sheet that is valid, and nothing touched besides."""

from __future__ import annotations

import shutil
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.sheets import faults_of, picture
from tests.strategies import thorough
from turncheck import new
from turncheck.checks.register import open_sheet
from turncheck.errors import UNSHOWN, FileFaults
from turncheck.sheet.create import GuessedView, name_views, sheet_text
from turncheck.sheet.model import Sheet
from turncheck.sheet.sheet_file import parse_sheet

NAMES = ("front.png", "side.png", "back.png")


def tree(folder: Path) -> dict[str, bytes | None]:
    """Every file and folder, links included."""
    found = sorted(folder.rglob("*"))
    return {str(path): path.read_bytes() if path.is_file() else None for path in found}


@pytest.fixture
def drawings(tmp_path: Path) -> list[Path]:
    paths = [tmp_path / "desk" / name for name in NAMES]
    paths[0].parent.mkdir()
    for path in paths:
        path.write_bytes(picture())
    return paths


def read(folder: Path) -> Sheet:
    return open_sheet(folder)


def test_a_new_sheet_is_read_and_holds_the_drawings(tmp_path: Path, drawings: list[Path]) -> None:
    started = new(tmp_path / "kettle", drawings)
    sheet = read(started.file)
    assert {name: view.yaw for name, view in sheet.views.items()} == {
        "front": 0.0, "side": 90.0, "back": 180.0
    }  # fmt: skip
    assert (sheet.character, sheet.revision, sheet.reference) == ("kettle", "A", "front")
    assert {path.name for path in (tmp_path / "kettle").iterdir()} == {*NAMES, "sheet.toml"}
    assert all(path.read_bytes() == picture() for path in drawings), "the drawings stay"


def test_drawings_in_the_folder_are_not_copied(tmp_path: Path, drawings: list[Path]) -> None:
    folder = tmp_path / "desk"
    (folder / "more").mkdir()
    inner = shutil.move(drawings[1], folder / "more" / "side.png")
    started = new(folder, [drawings[0], inner])
    assert GuessedView("side", "more/side.png", 90.0) in started.views
    assert read(folder).views["side"].picture.path == folder / "more" / "side.png"
    assert {path.name for path in folder.iterdir()} == {
        "front.png",
        "back.png",
        "more",
        "sheet.toml",
    }


def test_a_sheet_that_is_there_is_never_overwritten(tmp_path: Path, drawings: list[Path]) -> None:
    (tmp_path / "kettle").mkdir()
    (tmp_path / "kettle" / "sheet.toml").write_text("mine")
    before = tree(tmp_path)
    assert "there is a sheet already" in faults_of(lambda: new(tmp_path / "kettle", drawings))[0]
    assert tree(tmp_path) == before


def test_a_drawing_that_is_there_is_never_overwritten(tmp_path: Path, drawings: list[Path]) -> None:
    (tmp_path / "kettle").mkdir()
    (tmp_path / "kettle" / "side.png").write_bytes(b"mine")
    before = tree(tmp_path)
    (fault,) = faults_of(lambda: new(tmp_path / "kettle", drawings))
    assert "side.png" in fault and "rename" in fault
    assert tree(tmp_path) == before


def test_a_link_in_the_sheet_s_place_is_left(tmp_path: Path, drawings: list[Path]) -> None:
    (tmp_path / "desk" / "sheet.toml").symlink_to(tmp_path / "nowhere")
    before = tree(tmp_path)
    faults_of(lambda: new(tmp_path / "desk", drawings))
    assert tree(tmp_path) == before


def test_a_link_to_a_drawing_elsewhere_is_copied(tmp_path: Path, drawings: list[Path]) -> None:
    link = tmp_path / "profile.png"
    link.symlink_to(drawings[1])
    new(tmp_path / "kettle", [drawings[0], link])
    copied = tmp_path / "kettle" / "profile.png"
    assert copied.read_bytes() == picture() and not copied.is_symlink()


def test_every_drawing_that_can_not_be_used_is_named_and_nothing_written(
    tmp_path: Path, drawings: list[Path]
) -> None:
    drawings[0].write_bytes(b"no picture")
    odd = tmp_path / "desk" / "line\nbreak.png"
    odd.write_bytes(picture())
    twin = tmp_path / "side.png"
    twin.write_bytes(picture())
    before = tree(tmp_path)
    named = [*drawings, drawings[2], tmp_path / "gone.png", tmp_path / "desk", odd, twin]
    told = faults_of(lambda: new(tmp_path / "kettle", named))
    for words in (
        "front.png\" can't be read",
        "named twice",
        "gone.png: there is no such",
        "desk: that is a folder",
        r"line\nbreak.png: its name",
        "same file name",
    ):
        assert sum(words in fault for fault in told) == 1, (words, told)
    assert len(told) == 6 and tree(tmp_path) == before


@pytest.mark.parametrize("where", ["desk/front.png", "desk/front.png/deeper", "x" * 300])
def test_a_place_that_can_not_be_a_folder_is_said(
    tmp_path: Path, drawings: list[Path], where: str
) -> None:
    before = tree(tmp_path)
    faults_of(lambda: new(tmp_path / where, drawings[1:]))
    assert tree(tmp_path) == before


def test_no_drawing_at_all_is_said(tmp_path: Path) -> None:
    assert "at least one" in faults_of(lambda: new(tmp_path / "kettle", []))[0]
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "name",
    ["it's", 'the "Kettle"', "back\\slash", "🐐", "Kätzchen #1", "[views]", "a = 1", "'''", "-x",
     "line\nbreak", "tab\there", "\x7f", "\u202eturned", "e\u0301", "…", "x" * 200, " ", "="],
)  # fmt: skip
def test_a_folder_of_any_name_gives_a_sheet_that_is_read(
    tmp_path: Path, drawings: list[Path], name: str
) -> None:
    new(tmp_path / name, drawings)
    sheet = read(tmp_path / name)
    assert sheet.character and not UNSHOWN.search(sheet.character)
    assert list(sheet.views) == ["front", "side", "back"]


@pytest.mark.parametrize(
    ("character", "revision"),
    [("", "A"), ("  ", "A"), ("a\nb", "A"), ("\x7f", "A"), ("x" * 200, "A"), ("\x1b[2J", "A"),
     ("Tib", ""), ("Tib", "\u202eB"), ("Tib", "9" * 100), ("\udcff", "A")],
)  # fmt: skip
def test_a_character_or_revision_that_no_sheet_may_have_is_refused(
    tmp_path: Path, drawings: list[Path], character: str, revision: str
) -> None:
    before = tree(tmp_path)
    folder = tmp_path / "kettle"
    (fault,) = faults_of(lambda: new(folder, drawings, character=character, revision=revision))
    assert ("revision" if character == "Tib" else "character") in fault
    assert tree(tmp_path) == before


@pytest.mark.parametrize("file", ["fr'ont.png", 'si"de.png', "ba\\ck.png", "🐐.png", "# [x].png"])
def test_a_drawing_of_any_name_gives_a_sheet_that_is_read(
    tmp_path: Path, drawings: list[Path], file: str
) -> None:
    odd = drawings[0].rename(drawings[0].with_name(file))
    new(tmp_path / "kettle", [odd, *drawings[1:]])
    assert file in {view.picture.file for view in read(tmp_path / "kettle").views.values()}


@given(character=st.text(min_size=1, max_size=40).filter(lambda t: t.strip()))
@thorough
def test_any_character_is_kept_or_refused(character: str) -> None:
    text = sheet_text(character, "A", [GuessedView("front", "front.png", 0.0)])
    assert tomllib.loads(text)["character"] == character
    if UNSHOWN.search(character):
        assert faults_of(lambda: parse_sheet(text, FileFaults("sheet.toml")))
    else:
        assert parse_sheet(text, FileFaults("sheet.toml")).character == character


GUESSES = {
    "front": 0, "Front": 0, "FRONT": 0, "odo_front": 0, "odo-front-v2": 0, "OdoFront": 0,
    "front2": 0, "front view": 0, "01_front": 0, "front.final": 0,
    "side": 90, "odo side": 90, "profile": 90, "sideView": 90, "odo-left-side": 90,
    "back": 180, "rear": 180, "OdoBack": 180, "back_final2": 180,
    "three_quarter": 45, "three-quarter": 45, "threequarters": 45, "ThreeQuarter": 45,
    "3-4": 45, "odo 3-4": 45, "odo_34": 45, "3q": 45, "tq": 45, "3quarter": 45, "3-quarter": 45,
    "odo_front_3-4": 45, "three quarter front": 45,
    "back_three_quarter": 135, "three_quarter_back": 135, "backThreeQuarter": 135,
    "rear 3-4": 135, "3q_back": 135, "back34": 135,
    "odo_yaw30": 30, "odo_yaw_30": 30, "odo_yaw-30": -30, "yaw+15deg": 15, "side_yaw80": 80,
    "vorne": 0, "Vorderansicht": 0, "odo_frontal": 0, "vue de face": 0, "devant": 0, "frente": 0,
    "fronte": 0, "davanti": 0, "shoumen": 0, "shomen_2": 0,
    "Dreiviertel": 45, "dreiviertelansicht": 45, "halbprofil": 45, "trois quarts": 45,
    "3-quarts": 45, "tres_cuartos": 45, "trêsQuartos": 45, "tre-quarti": 45, "naname": 45, "¾": 45,
    "odo_profil": 90, "Seitenansicht": 90, "seitlich": 90, "de côté": 90, "perfil_izquierdo": 90,
    "lado": 90, "lateral": 90, "profilo": 90, "lato_destro": 90, "sokumen": 90, "yokomuki": 90,
    "hinten": 180, "Rückseite": 180, "rueckansicht": 180, "de dos": 180, "derrière": 180,
    "espalda": 180, "costas": 180, "dietro": 180, "schiena": 180, "ushiro": 180, "haimen": 180,
    "dreiviertel_hinten": 135, "trois_quarts_de_dos": 135, "tres cuartos espalda": 135,
    "naname_ushiro": 135, "naname_mae": 45,
    "odo-045": 45, "turn_270": -90, "odo_360": 0, "odo_-45": -45,
}  # fmt: skip


@pytest.mark.parametrize("stem", GUESSES)
def test_a_view_is_guessed_from_its_file_s_name(stem: str) -> None:
    (view,) = name_views([f"{stem}.png"])
    assert view.yaw == GUESSES[stem]


@pytest.mark.parametrize(
    "stem",
    ["odo", "scan_1", "backpack", "confront", "sidereal", "2024", "seite_2", "retro", "dos", "face",
     "avant", "mae", "yoko", "laterne", "profiling"],
)  # fmt: skip
def test_a_name_that_says_nothing_takes_a_free_yaw(stem: str) -> None:
    views = name_views(["front.png", "side.png", f"{stem}.png"])
    assert (f"{stem}.png", 45.0) in {(view.file, view.yaw) for view in views}


MISTYPED = {
    "siide": 90, "Odo_siide": 90, "frnt": 0, "three_qarter": 45, "threequater": 45, "bak": 180,
    "proffile": 90,
}  # fmt: skip


@pytest.mark.parametrize("stem", MISTYPED)
def test_a_mistyped_view_is_guessed_and_said(tmp_path: Path, stem: str) -> None:
    files = [tmp_path / f"{stem}.png", tmp_path / "yaw_20.png"]
    for file in files:
        file.write_bytes(picture())
    started = new(tmp_path, files)
    (guessed,) = (view for view in started.views if view.doubt)
    assert (guessed.file, guessed.yaw) == (f"{stem}.png", MISTYPED[stem])
    assert "was taken for" in guessed.doubt
    assert f"# {guessed.doubt}; set it right" in started.file.read_text("utf-8")


def test_a_mistyped_view_never_takes_the_place_of_a_plain_one() -> None:
    assert GuessedView("side", "side.png", 90.0) in name_views(["siide.png", "side.png"])


def test_a_view_guessed_from_the_order_alone_is_said(tmp_path: Path, drawings: list[Path]) -> None:
    odd = drawings[1].rename(drawings[1].with_name("scan.png"))
    started = new(tmp_path / "kettle", [odd, drawings[0], drawings[2]])
    (guessed,) = (view for view in started.views if view.doubt)
    assert guessed.name == "three_quarter" and "order" in guessed.doubt
    commented = [line for line in started.file.read_text("utf-8").splitlines() if "order" in line]
    assert len(commented) == 1 and commented[0].startswith("yaw = 45 ")


def test_a_folder_of_drawings_is_said_to_be_one(tmp_path: Path, drawings: list[Path]) -> None:
    (fault,) = faults_of(lambda: new(tmp_path / "kettle", [drawings[0].parent]))
    assert fault == f"{drawings[0].parent}: that is a folder; name the drawing itself"


def test_a_path_with_backslashes_is_told_to_use_slashes(tmp_path: Path) -> None:
    (fault,) = faults_of(lambda: new(tmp_path / "kettle", ["desk\\front.png"]))
    assert "write / between folders" in fault


@pytest.mark.parametrize("count", [2, 20, 40, 359])
def test_any_number_of_alike_drawings_get_a_view_each(count: int) -> None:
    views = name_views([f"drawing ({i}).png" for i in range(count)])
    assert len(views) == len({view.yaw for view in views}) == count


def test_more_drawings_than_degrees_are_refused() -> None:
    assert "name fewer" in faults_of(lambda: name_views([f"x{i}.png" for i in range(361)]))[0]


@given(st.lists(st.one_of(st.sampled_from(sorted(GUESSES)), st.text(max_size=8)), max_size=12))
@thorough
def test_views_are_always_one_to_a_yaw_with_plain_names(stems: list[str]) -> None:
    files = [f"{stem}.png" for stem in dict.fromkeys(stems)]
    views = name_views(files)
    assert sorted(view.file for view in views) == sorted(files)
    assert all(-180 < view.yaw <= 180 for view in views)
    assert len({view.yaw for view in views}) == len({view.name for view in views}) == len(views)
    assert all(view.name.isidentifier() and view.name.isascii() for view in views)

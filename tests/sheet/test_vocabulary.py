"""Vocabularies: the shipped ones hang together, and a faulty file of one's own is named."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.placings import read_placings
from tests.sheets import edit, faults_of, make_sheet
from turncheck.checks.register import all_checks, open_sheet
from turncheck.sheet.vocabulary import SHIPPED, read_vocabulary

OWN = """
name = "lantern"
head = ["crown", "chin"]
[parts]
"arm_*" = "the * arm"
[landmarks.ground]
kind = "height"
[landmarks.crown]
kind = "height"
[landmarks.chin]
kind = "height"
[landmarks."hand_*"]
kind = "pivot"
part = "arm_*"
"""


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_vocabulary_hangs_together(name: str) -> None:
    vocabulary = read_vocabulary(name, Path())
    marks = vocabulary.landmarks
    assert {"ground", "crown"} <= set(marks)
    assert all(marks[mark.twin].twin == mark.name for mark in marks.values() if mark.twin)
    assert {mark.part for mark in marks.values()} <= {*vocabulary.parts, ""}
    assert all(mark.says for mark in marks.values()), "each tells the person what it is"
    assert set(vocabulary.tolerances) <= {check.name for check in all_checks()}
    assert not any("*" in text for text in (*marks, *vocabulary.parts, *vocabulary.parts.values()))


def test_the_biped_has_the_names_that_files_rely_on() -> None:
    wanted = {"ground", "crown", "hair_top", "nose_tip", "mouth", "chin", "waist", "crotch"}
    wanted |= {"head", "jaw", "neck", "spine"}
    both = "brow fingertip eye shoulder elbow wrist hip knee ankle ear cheek toe heel"
    wanted |= {f"{name}_{side}" for name in both.split() for side in "lr"}
    assert wanted <= set(read_vocabulary("biped", Path()).landmarks)


def test_a_file_of_one_s_own_is_read_and_used(tmp_path: Path) -> None:
    folder = make_sheet(tmp_path / "tib")
    (folder / "lantern.toml").write_text(OWN, "utf-8-sig")
    edit(folder / "sheet.toml", 'revision = "A"', 'revision = "A"\nvocabulary = "lantern.toml"')
    vocabulary = open_sheet(folder).vocabulary
    assert vocabulary.landmarks["hand_l"].twin == "hand_r"
    assert vocabulary.part_title(vocabulary.landmarks["hand_r"].part) == "the right arm"


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('name = "lantern"', "", ['"name" is missing']),
        ('name = "lantern"', 'name = "<script>"', ["not a usable name"]),
        ('name = "lantern"', 'nme = "a"\nname = "lantern"', ['"nme"', '"name"']),
        ('kind = "pivot"', 'kind = "pvot"', ["[landmarks.hand_*]", "'pivot'"]),
        ('kind = "pivot"', "", ["[landmarks.hand_*]", "needs a kind"]),
        ('[landmarks."hand_*"]', '[landmarks."<b>"]', ["not a usable name"]),
        ('[landmarks."hand_*"]', '[landmarks."hand\\n"]', ["not a usable name"]),
        ("[landmarks.ground]", "[landmarks.floor]", ['"ground"', "add it"]),
        ('head = ["crown", "chin"]', 'head = ["top", "chin"]', ['"top"', "add it"]),
        ('head = ["crown", "chin"]', 'head = "crown"', ["head", "list"]),
        ("[parts]", "[tolerances]\nheight = -1\n[parts]", ["[tolerances]", "height = -1"]),
        ("[parts]", "[parts", ["TOML", "line"]),
        ('kind = "pivot"', 'kind = "pivot"\ntolerance = 0', ["[landmarks.hand_*]", "tolerance"]),
        ('kind = "pivot"', 'kind = "pivot"\ncoincides_with = "chn"', ['"chin"']),
    ],
)  # fmt: skip
def test_a_fault_names_the_vocabulary_s_own_file(
    tmp_path: Path, old: str, new: str, words: list[str]
) -> None:
    file = tmp_path / "lantern.toml"
    file.write_text(OWN, "utf-8")
    edit(file, old, new)
    faults = faults_of(lambda: read_vocabulary("lantern.toml", tmp_path))
    assert all(fault.startswith(str(file)) for fault in faults)
    assert all(word in faults[0] for word in words), faults


def test_a_crown_that_no_landmark_is_gets_asked_for(tmp_path: Path) -> None:
    (tmp_path / "lantern.toml").write_text(
        OWN.replace("[landmarks.crown]", "[landmarks.top]").replace('"crown"', '"top"'), "utf-8"
    )
    (fault,) = faults_of(lambda: read_vocabulary("lantern.toml", tmp_path))
    assert '"crown"' in fault


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("bipd", ["no vocabulary of this name", '"biped"']),
        ("lantrn.toml", ["no such file", '"lantern.toml"']),
        ("../lantern.toml", ["sheet's own folder", "copy it there"]),
        ("/etc/lantern.toml", ["sheet's own folder"]),
        ("", ["no vocabulary of this name"]),
        ("x" * 10_000, ["no vocabulary of this name"]),
        ("x" * 10_000 + ".toml", ["no such file"]),
        ("a\0.toml", ["vocabulary"]),
        ("link.toml", ["sheet's own folder"]),
        ("folder.toml", ["no such file"]),
    ],
    ids=lambda value: str(value)[:20],
)
def test_a_vocabulary_that_is_not_there_is_named(
    tmp_path: Path, name: str, words: list[str]
) -> None:
    folder = tmp_path / "tib"
    (folder / "folder.toml").mkdir(parents=True)
    for place in (folder, tmp_path):
        (place / "lantern.toml").write_text(OWN, "utf-8")
    (folder / "link.toml").symlink_to(tmp_path / "lantern.toml")
    (fault,) = faults_of(lambda: read_vocabulary(name, folder))
    assert all(word in fault for word in words), fault


def test_faults_of_vocabulary_and_sheet_come_at_once(tmp_path: Path) -> None:
    folder = make_sheet(tmp_path / "tib")
    (folder / "lantern.toml").write_text(OWN.replace("pivot", "pvot"), "utf-8")
    edit(folder / "sheet.toml", 'revision = "A"', 'revision = "A"\nvocabulary = "lantern.toml"')
    edit(folder / "sheet.toml", "front.png", "fornt.png")
    told = "\n".join(faults_of(lambda: open_sheet(folder)))
    assert "lantern.toml" in told and "fornt.png" in told


def test_a_tolerance_for_no_check_is_refused(tmp_path: Path) -> None:
    folder = make_sheet(tmp_path / "tib")
    (folder / "lantern.toml").write_text(f"{OWN}\n[tolerances]\nhieght = 1\n", "utf-8")
    edit(folder / "sheet.toml", 'revision = "A"', 'revision = "A"\nvocabulary = "lantern.toml"')
    (fault,) = faults_of(lambda: open_sheet(folder))
    assert "lantern" in fault and '"height"' in fault


def test_the_sheet_changes_one_side_or_both(tmp_path: Path) -> None:
    extra = "[landmarks.'knee_*']\ntolerance = 2\n[landmarks.knee_l]\nsymmetric = false"
    folder = make_sheet(tmp_path / "tib", toml_extra=extra)
    sheet = open_sheet(folder)
    left, right = (sheet.vocabulary.landmarks[f"knee_{side}"] for side in "lr")
    assert (left.tolerance, right.tolerance) == (2.0, 2.0)
    assert (left.symmetric, right.symmetric) == (False, True)
    assert len(read_placings(folder / "landmarks.csv", sheet)) > 0


@pytest.mark.parametrize("name", SHIPPED)
def test_what_lies_higher_in_any_body_is_named_on_both_sides_and_in_no_circle(name, tmp_path):
    above = read_vocabulary(name, tmp_path).above
    sides = {pair for pair in above if pair[0].endswith("_l")}
    assert sides
    assert {tuple(re.sub("_l$", "_r", mark) for mark in pair) for pair in sides} <= {*above}
    assert not {pair[::-1] for pair in above} & {*above}

"""Saving: all files or none, and a folder that can't be written is said."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.sheets import faults_of
from turncheck.files.atomic import save_together

TEXTS = {"a.txt": "one\n", "b.txt": "zwei ü\n"}


def tree(folder: Path) -> dict[str, bytes]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def test_texts_and_copies_are_saved_and_nothing_beside_them(tmp_path: Path) -> None:
    source = tmp_path / "source.bin"
    source.write_bytes(b"\0\r\n\xff")
    save_together(tmp_path / "new" / "deep", TEXTS | {"c.bin": source})
    assert tree(tmp_path / "new") == {
        "deep/a.txt": b"one\n",
        "deep/b.txt": "zwei ü\n".encode(),
        "deep/c.bin": b"\0\r\n\xff",
    }


def test_files_that_are_there_are_replaced(tmp_path: Path) -> None:
    save_together(tmp_path, TEXTS)
    save_together(tmp_path, {"a.txt": "two"})
    assert tree(tmp_path) == {"a.txt": b"two", "b.txt": "zwei ü\n".encode()}


def test_a_saved_file_may_be_read_by_whom_the_umask_lets(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        save_together(tmp_path, TEXTS)
    finally:
        os.umask(before)
    assert (tmp_path / "a.txt").stat().st_mode & 0o777 == 0o640


def test_a_file_that_is_replaced_hands_its_rights_on(tmp_path: Path) -> None:
    save_together(tmp_path, TEXTS)
    (tmp_path / "a.txt").chmod(0o600)
    save_together(tmp_path, {"a.txt": "two"})
    assert (tmp_path / "a.txt").stat().st_mode & 0o777 == 0o600


def test_a_copy_that_fails_leaves_nothing(tmp_path: Path) -> None:
    faults = faults_of(
        lambda: save_together(tmp_path / "new" / "deep", {**TEXTS, "c": tmp_path / "missing"})
    )
    assert "can't be written" in faults[0]
    assert list(tmp_path.iterdir()) == [], "not even the folders that were made for it"


def test_a_folder_in_a_file_s_place_leaves_the_others_as_they_were(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("old")
    (tmp_path / "b.txt").mkdir()
    (fault,) = faults_of(lambda: save_together(tmp_path, TEXTS))
    assert "b.txt is a folder" in fault
    assert tree(tmp_path) == {"a.txt": b"old"}
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.txt", "b.txt"]


def test_a_full_disk_leaves_the_others_as_they_were(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.txt").write_text("old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "chmod", full)
    (fault,) = faults_of(lambda: save_together(tmp_path, TEXTS))
    assert "No space left on device" in fault
    assert tree(tmp_path) == {"a.txt": b"old"}


@pytest.mark.parametrize("where", ["file", "file/deeper", "x" * 300, "/proc/turncheck/x"])
def test_a_place_that_can_not_be_a_folder_is_said(tmp_path: Path, where: str) -> None:
    (tmp_path / "file").write_text("kept")
    (fault,) = faults_of(lambda: save_together(tmp_path / where, TEXTS))
    assert "can't be written" in fault and "name another folder" in fault
    assert tree(tmp_path) == {"file": b"kept"}

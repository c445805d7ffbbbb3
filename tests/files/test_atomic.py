"""Saving: all files or none, and a folder that can't be written is said."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.sheets import faults_of
from turncheck.files import atomic
from turncheck.files.atomic import save_new, save_together

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


def test_a_write_protected_file_stays_and_is_said(tmp_path: Path) -> None:
    """Also for root, whom the system lets write it."""
    save_together(tmp_path, TEXTS)
    (tmp_path / "b.txt").chmod(0o444)
    (fault,) = faults_of(lambda: save_together(tmp_path, {"a.txt": "new", "b.txt": "new"}))
    assert "b.txt is write-protected" in fault
    assert tree(tmp_path) == {name: text.encode() for name, text in TEXTS.items()}


def test_a_file_of_somebody_else_stays_and_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the system says to a user who may not write it; root may, so it is played here."""
    save_together(tmp_path, TEXTS)
    monkeypatch.setattr(os, "access", lambda path, mode: Path(path).name != "a.txt")
    (fault,) = faults_of(lambda: save_together(tmp_path, {"a.txt": "new"}))
    assert "a.txt is write-protected" in fault
    assert tree(tmp_path)["a.txt"] == b"one\n"


@pytest.mark.parametrize("second_names", [True, False], ids=["links", "no links"])
def test_what_appears_meanwhile_is_not_overwritten_and_nothing_is_new(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, second_names: bool
) -> None:
    def refused(*_: object) -> None:
        raise PermissionError(1, "Operation not permitted")  # as disks say that have no links

    if not second_names:
        monkeypatch.setattr(os, "link", refused)
    save_new({tmp_path / "new" / "first": "mine"})
    assert tree(tmp_path) == {"new/first": b"mine"}

    def another(_: object) -> None:
        (tmp_path / "new" / "b.txt").write_text("theirs")

    monkeypatch.setattr(atomic, "refuse_existing", another)
    names = ("a.txt", "b.txt", "deep/c.txt")
    (fault,) = faults_of(lambda: save_new({tmp_path / "new" / name: "mine" for name in names}))
    assert "b.txt: is there already" in fault
    assert tree(tmp_path) == {"new/first": b"mine", "new/b.txt": b"theirs"}
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == ["b.txt", "first"]


KILLED = """
import pathlib, os, sys
from turncheck.files import atomic
def stops(*_):
    print("written", flush=True)
    sys.stdin.read()
    os._exit(9)
atomic.os.chmod = stops
atomic.save_together(pathlib.Path(sys.argv[1]), {"a.txt": "new"})
"""


def test_what_a_killed_run_left_is_swept_and_what_a_living_one_holds_is_not(
    tmp_path: Path,
) -> None:
    def start() -> tuple[subprocess.Popen[bytes], Path]:
        before = set(tmp_path.iterdir())
        running = subprocess.Popen(
            [sys.executable, "-c", KILLED, str(tmp_path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        assert running.stdout is not None and running.stdout.readline() == b"written\n"
        (left,) = set(tmp_path.iterdir()) - before
        return running, left

    def old(path: Path) -> None:
        hours_ago = time.time() - 7200
        os.utime(path, (hours_ago, hours_ago))

    (killed, left), (killed_late, fresh), (living, held) = start(), start(), start()
    for run in (killed, killed_late):
        run.kill()
        run.communicate()
    mine = tmp_path / ".turncheck-folder"
    mine.mkdir()
    for path in (left, held, mine):
        old(path)
    save_together(tmp_path, TEXTS)
    assert not left.exists()
    assert fresh.exists() and held.exists() and mine.is_dir()
    living.communicate(b"")
    old(fresh)
    save_together(tmp_path, TEXTS)
    assert {path.name for path in tmp_path.iterdir()} == {*TEXTS, mine.name}

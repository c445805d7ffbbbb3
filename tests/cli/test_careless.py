"""What a careless person names instead of a sheet, a drawing or a file is told as what it is."""

from __future__ import annotations

import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.sheets import make_sheet
from turncheck.cli import main


def zipped(folder: Path) -> None:
    with zipfile.ZipFile(folder / "tib.zip", "w") as archive:
        archive.write(folder / "tib" / "sheet.toml", "tib/sheet.toml")


def table_of_a_spreadsheet(folder: Path) -> None:
    zipped(folder)
    shutil.copy(folder / "tib.zip", folder / "tib" / "landmarks.csv")


def folder_for_a_drawing(folder: Path) -> None:
    (folder / "tib" / "front.png").unlink()
    (folder / "tib" / "front.png").mkdir()


def sheet_in_capitals(folder: Path) -> None:
    (folder / "tib" / "sheet.toml").rename(folder / "tib" / "Sheet.TOML")


def link_to_nothing(folder: Path) -> None:
    (folder / "k").symlink_to("nowhere")


def as_it_is(_: Path) -> None:
    pass


CARELESS: dict[str, tuple[Callable[[Path], None], tuple[str, ...], str]] = {
    "a sheet in an archive": (zipped, ("check", "tib.zip"), "that is an archive; unpack it"),
    "a spreadsheet for a table": (
        table_of_a_spreadsheet,
        ("check", "tib"),
        "landmarks.csv: is an archive or a spreadsheet's own file; save it as plain text",
    ),
    "a folder for a drawing": (
        folder_for_a_drawing,
        ("check", "tib"),
        '"front.png": that is a folder; name the drawing itself',
    ),
    "capitals": (sheet_in_capitals, ("check", "tib"), "rename it to sheet.toml"),
    "a link for a folder": (link_to_nothing, ("new", "k", "tib/front.png"), "a link to nothing"),
    "no folder named": (
        as_it_is,
        ("new", "tib/front.png", "tib/side.png"),
        "tib/front.png: is a file; name a folder for the new sheet first, then the drawings",
    ),
    "a folder for a file": (as_it_is, ("export", "tib", "tib"), "is a folder; name a file in it"),
    "a file of the sheet": (as_it_is, ("check", "tib/landmarks.csv"), 'as in "tib"'),
    "any file": (zipped, ("mark", "tib.zip"), "unpack it and name the folder of the sheet"),
}


@pytest.mark.parametrize("mistake", CARELESS)
def test_what_was_named_is_told_as_what_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mistake: str
) -> None:
    do, command, says = CARELESS[mistake]
    monkeypatch.chdir(tmp_path)
    make_sheet(tmp_path / "tib")
    do(tmp_path)
    ran = CliRunner().invoke(main, command)
    (line,) = ran.stderr.splitlines()
    assert ran.exit_code == 2 and line.startswith("turncheck: ") and says in line
    assert not (tmp_path / "reports").exists()

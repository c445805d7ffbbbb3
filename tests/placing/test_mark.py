"""`turncheck mark` as a command and as a library call."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from turncheck import placing
from turncheck.cli import main
from turncheck.placing.drawings import Drawing
from turncheck.placing.server import MarkingServer
from turncheck.placing.session import Session
from turncheck.sheet.model import View


@pytest.fixture
def opened(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    """Addresses that were opened in a browser; serving ends at once, as by Ctrl-C."""
    urls: list[str] = []
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))

    def interrupted(self: MarkingServer, poll_interval: float = 0.5) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(MarkingServer, "serve_forever", interrupted)
    monkeypatch.setattr(placing.webbrowser, "open", urls.append)
    return urls


def test_it_opens_the_browser_prints_the_address_and_ends_friendly(
    sheet_folder: Path, opened: list[str]
) -> None:
    run = CliRunner().invoke(main, ["mark", str(sheet_folder)])
    assert run.exit_code == 0
    assert len(opened) == 1
    assert run.output.splitlines()[0] == opened[0]
    assert run.output.rstrip().endswith("Everything that was placed is in landmarks.csv.")


def test_no_browser_opens_none_and_quiet_prints_the_address_alone(
    sheet_folder: Path, opened: list[str]
) -> None:
    run = CliRunner().invoke(main, ["mark", str(sheet_folder), "--no-browser", "-q"])
    assert run.exit_code == 0
    assert opened == []
    assert len(run.output.splitlines()) == 1


def test_the_library_call_takes_a_folder(sheet_folder: Path, opened: list[str]) -> None:
    placing.mark(sheet_folder, ready=lambda url: None)
    assert len(opened) == 1


def test_the_page_is_where_it_was_and_nobody_else_may_read_where(
    sheet_folder: Path, opened: list[str], tmp_path: Path
) -> None:
    for _ in range(2):
        placing.mark(sheet_folder, ready=lambda url: None)
    assert opened[0] == opened[1]
    (kept,) = (tmp_path / "settings").rglob("*.json")
    assert kept.stat().st_mode & 0o077 == 0
    kept.write_text("{", "utf-8")
    placing.mark(sheet_folder, ready=lambda url: None)
    assert opened[2] != opened[1]


def test_at_the_end_no_drawing_is_being_made(
    sheet_folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, made = threading.Event(), []

    def slowly(view: View) -> Drawing:
        begun.set()
        time.sleep(0.05)
        made.append(view.name)
        return Drawing(np.full((4, 4, 3), 255, np.uint8), 1.0)

    monkeypatch.setattr("turncheck.placing.drawings._decoded", slowly)
    session = Session(sheet_folder)
    session.drawings.prepare()
    assert begun.wait(5)
    session.finish()
    so_far = list(made)
    assert 1 <= len(so_far) < len(session.sheet.views)
    time.sleep(0.1)
    assert made == so_far


@pytest.mark.parametrize("arguments", [["nowhere"], [".", "--port", "99999"], []])
def test_what_can_not_be_marked_ends_with_2(
    arguments: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    run = CliRunner().invoke(main, ["mark", *arguments])
    assert run.exit_code == 2
    assert "Traceback" not in run.output


def test_faults_of_the_table_are_all_said_before_anything_is_served(
    sheet_folder: Path, opened: list[str]
) -> None:
    table = "view,landmark,x,y\nfront,chim,1,2\nfrnt,chin,1,2\n"
    (sheet_folder / "landmarks.csv").write_text(table, "utf-8")
    run = CliRunner().invoke(main, ["mark", str(sheet_folder)])
    assert run.exit_code == 2
    assert "row 2" in run.output and "row 3" in run.output
    assert opened == []


def test_the_page_is_small_modules_without_inline_script_or_style() -> None:
    page = Path(placing.__file__).parent / "page"
    for file in page.glob("*.js"):
        assert len(file.read_text("utf-8").splitlines()) < 400, file.name
    text = (page / "page.html").read_text("utf-8")
    assert " style=" not in text and " on" + "click=" not in text
    assert text.count("<script") == 1 and "://" not in text

"""The command line: help that helps, exit statuses, quick starts and terminals of any kind."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

import turncheck
from tests.places import loaded_by
from tests.sheets import edit, make_sheet, picture
from turncheck.cli import main

COMMANDS = sorted(main.commands)
HEAVY = {"pandas", "cv2", "scipy", "sklearn", "numpy", "pydantic", "jinja2", "PIL"}


def run(*arguments: str | Path) -> click.testing.Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


def python(*arguments: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, *arguments], capture_output=True, env=os.environ | environment, timeout=60
    )


def test_the_command_line_starts_without_the_heavy_libraries() -> None:
    loaded = loaded_by("turncheck.cli")
    assert "click" in loaded and not loaded & HEAVY


@pytest.mark.parametrize("option", ["--help", "-h"])
def test_the_help_names_every_command(option: str) -> None:
    shown = run(option)
    assert shown.exit_code == 0 and all(name in shown.output for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_a_command_s_help_has_an_example_and_its_exit_statuses(name: str) -> None:
    shown = run(name, "--help")
    assert shown.exit_code == 0
    assert f"turncheck {name} " in shown.output.split("Example:")[1]
    assert "2 " in shown.output.split("Exit status:")[1].split("Options:")[0]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_says_what_it_is(name: str) -> None:
    options = [p for p in main.commands[name].params if isinstance(p, click.Option)]
    assert "--quiet" in {name for option in options for name in option.opts}
    assert all(option.help for option in options)


def test_the_version_is_the_package_s() -> None:
    assert run("--version").output == f"turncheck, version {turncheck.__version__}\n"


@pytest.mark.parametrize(
    "arguments",
    [["chek"], ["check"], ["check", "a", "b"], ["check", "a", "--srict"], ["new", "kettle"]],
)
def test_a_mistyped_command_gives_status_2(arguments: list[str]) -> None:
    shown = run(*arguments)
    assert shown.exit_code == 2 and "Usage:" in shown.stderr and "--help" in shown.stderr


def test_check_writes_the_report_and_says_the_verdict(tmp_path: Path) -> None:
    shown = run("check", make_sheet(tmp_path / "tib"), "--out", tmp_path / "out")
    assert shown.exit_code == 0, shown.output
    assert "Tib, revision A: ON MODEL" in shown.stdout and not shown.stderr
    assert {path.name for path in (tmp_path / "out").iterdir()} == {
        "report.html", "findings.csv", "summary.json"
    }  # fmt: skip


def test_check_writes_under_reports_where_nothing_else_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run("check", make_sheet(tmp_path / "tib"), "-q").exit_code == 0
    assert (tmp_path / "reports" / "Tib-A" / "report.html").is_file()


def test_quiet_prints_nothing(tmp_path: Path) -> None:
    shown = run("check", make_sheet(tmp_path / "tib"), "--out", tmp_path / "out", "--quiet")
    assert (shown.exit_code, shown.output) == (0, "")


def test_json_is_the_summary_as_saved(tmp_path: Path) -> None:
    shown = run("check", make_sheet(tmp_path / "tib"), "--out", tmp_path / "out", "--json")
    saved = json.loads((tmp_path / "out" / "summary.json").read_text("utf-8"))
    assert json.loads(shown.stdout) == saved and saved["verdict"] == "on_model"


def test_a_sheet_off_model_gives_status_1(tmp_path: Path) -> None:
    folder = make_sheet(tmp_path / "tib")
    edit(folder / "landmarks.csv", "side,chin,69.600,37.600", "side,chin,69.600,44.000")
    shown = run("check", folder, "--out", tmp_path / "out")
    assert shown.exit_code == 1 and "OFF MODEL" in shown.stdout and "side: Chin" in shown.stdout


def test_new_says_what_it_guessed_and_where_it_wrote(tmp_path: Path) -> None:
    for name in ("front", "side"):
        (tmp_path / f"{name}.png").write_bytes(picture())
    drawings = [tmp_path / "front.png", tmp_path / "side.png"]
    shown = run("new", tmp_path / "kettle", *drawings, "--character", "Odo")
    assert shown.exit_code == 0
    assert "side.png: side, 90°" in shown.stdout
    assert str(tmp_path / "kettle" / "sheet.toml") in shown.stdout
    assert run("new", tmp_path / "kettle", *drawings).exit_code == 2
    assert run("new", tmp_path / "other", *drawings, "-q").output == ""


def test_a_terminal_that_knows_few_letters_is_no_fault(tmp_path: Path) -> None:
    front = tmp_path / "front 🐐.png"
    front.write_bytes(picture())
    western = {"PYTHONIOENCODING": "cp1252", "PYTHONUTF8": "0"}
    done = python("-m", "turncheck", "new", str(tmp_path / "山羊"), str(front), **western)
    assert (done.returncode, done.stderr) == (0, b"")
    assert rb"front \U0001f410.png: front" in done.stdout
    done = python("-m", "turncheck", "check", str(tmp_path / "山羊"), **western)
    assert done.returncode == 2 and done.stderr.startswith(b"turncheck: ")
    assert rb"\u5c71\u7f8a" in done.stderr


def test_a_file_name_that_is_no_text_is_refused(tmp_path: Path) -> None:
    odd = tmp_path / os.fsdecode(b"front\xff.png")
    try:
        odd.write_bytes(picture())
    except OSError:
        pytest.skip("this file system has no such names")
    shown = run("new", tmp_path / "kettle", odd)
    assert shown.exit_code == 2 and "can't be shown" in shown.stderr
    assert not (tmp_path / "kettle").exists()


@pytest.mark.parametrize("name", sorted(turncheck.__all__))
def test_the_library_has_what_it_says(name: str) -> None:
    assert getattr(turncheck, name)


def test_the_library_has_nothing_else() -> None:
    with pytest.raises(AttributeError, match="chek"):
        turncheck.chek  # noqa: B018

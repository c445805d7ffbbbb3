"""What the terminal says: few lines for many faults, the true cause, the next step."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from tests.places import ROOT
from tests.placings import read_placings
from tests.sheets import csv_text, edit, make_sheet, picture, placed
from turncheck import TurncheckError
from turncheck.checks.register import open_sheet
from turncheck.cli import main
from turncheck.files import atomic
from turncheck.sheet.coco import export_keypoints


def run(*arguments: str | Path) -> click.testing.Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return make_sheet(tmp_path / "tib")


def test_the_first_ten_faults_are_shown_and_the_rest_counted(folder: Path) -> None:
    table = folder / "landmarks.csv"
    table.write_text(csv_text([*placed(), *placed(x="1px", placed_by="ana")]))
    edits = table.read_text().split("\n")
    rows = [f"side,waist,{k}px,1," for k in range(40)]
    table.write_text("\n".join([*edits[: len(placed()) + 1], *rows, ""]))
    shown = run("check", folder).stderr.splitlines()
    assert len(shown) == 11 and all('x = "' in line for line in shown[:10])
    assert shown[10] == f"turncheck: and 30 more faults in {table}"
    with pytest.raises(TurncheckError) as caught:
        read_placings(table, open_sheet(folder))
    assert len(caught.value.faults) == 40


def test_one_cause_in_many_rows_is_one_sentence(folder: Path) -> None:
    table = folder / "landmarks.csv"
    table.write_text(table.read_text().replace("side,", "sied,"))
    rows = table.read_text().count("sied,")
    shown = run("check", folder).stderr.splitlines()
    assert f'and {rows - 1} more: "sied" is not a view of this sheet' in shown[0]
    assert len(shown) == 2 and "ground is not placed on side" in shown[1]


def test_what_is_no_sheet_is_told_by_what_is_there(folder: Path, tmp_path: Path) -> None:
    assert "there is no such folder; check the name" in run("check", tmp_path / "gone").stderr
    assert "below; name one, or check all with" in run("check", folder.parent).stderr
    (tmp_path / "bare").mkdir()
    assert 'or start one with "turncheck new"' in run("check", tmp_path / "bare").stderr


def test_a_folder_is_not_said_to_be_missing(folder: Path, tmp_path: Path) -> None:
    shown = run("split", folder, tmp_path / "out")
    assert shown.exit_code == 2 and "that is a folder" in shown.stderr
    assert "no such picture" in run("split", tmp_path / "gone.png", tmp_path / "out").stderr


def test_no_fault_begins_with_a_dot(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    (folder / "out.json").write_text("mine")
    assert run("export", ".", "out.json").stderr.startswith("turncheck: out.json: is there")
    (folder / "landmarks.csv").unlink()
    shown = run("check", ".").stderr
    assert shown.startswith("turncheck: sheet.toml: ") and '"turncheck mark ."' in shown
    shown = run("export", ".", "other.json").stderr
    assert shown.startswith("turncheck: landmarks.csv: ") and '"turncheck mark ."' in shown


def test_what_comes_next_names_the_command(tmp_path: Path) -> None:
    (tmp_path / "front.png").write_bytes(picture())
    shown = run("new", tmp_path / "two words", tmp_path / "front.png")
    assert f"turncheck mark '{tmp_path / 'two words'}'" in shown.stdout
    (tmp_path / "side.png").write_bytes(picture())
    run("new", tmp_path / "b", tmp_path / "front.png", tmp_path / "side.png")
    assert f'"turncheck mark {tmp_path / "b"}"' in run("check", tmp_path / "b").stderr


def test_new_says_what_it_only_guessed(tmp_path: Path) -> None:
    files = [tmp_path / name for name in ("front.png", "siide.png", "scan.png")]
    for file in files:
        file.write_bytes(picture())
    shown = run("new", tmp_path / "a2", *files).stdout
    assert 'siide.png: side, 90° (its name was taken for "side")' in shown
    assert "scan.png: three_quarter, 45° (guessed from the order of the drawings alone)" in shown
    assert "Look again" in shown and "front.png: front, 0°\n" in shown


def test_import_says_what_it_left_out(folder: Path, tmp_path: Path) -> None:
    file = tmp_path / "out.json"
    export_keypoints(open_sheet(folder), file)
    data = json.loads(file.read_text("utf-8"))
    data["images"][2]["file_name"] = "siide.png"
    count = data["annotations"][2]["num_keypoints"]
    file.write_text(json.dumps(data), "utf-8")
    shown = run("import", folder, file, "--replace")
    assert shown.exit_code == 0
    assert f'Placings left out: {count} on "siide.png", which is not one' in shown.stdout
    assert 'did you mean "side.png"?' in shown.stdout
    assert run("import", folder, file, "--replace", "-q").output == ""


def test_strict_says_that_undecided_counts_as_off_model(folder: Path, tmp_path: Path) -> None:
    edit(folder / "landmarks.csv", "side,chin,69.600,37.600", "side,chin,69.600,39.000")
    out = tmp_path / "out"
    loose = run("check", folder, "--out", out)
    undecided = json.loads((out / "summary.json").read_text("utf-8"))["counts"]["undecided"]
    assert loose.exit_code == 0 and undecided > 0 and "--strict" not in loose.stdout
    strict = run("check", folder, "--out", out, "--strict")
    s, count = ("", "counts") if undecided == 1 else ("s", "count")
    rows = f"{undecided} comparison{s} too close to call {count}"
    assert strict.exit_code == 1 and f"--strict: {rows} as off model" in strict.stdout


@pytest.mark.parametrize("name", ["report.html", "findings.csv", "summary.json"])
def test_a_file_that_is_not_of_a_report_is_never_overwritten(
    folder: Path, tmp_path: Path, name: str
) -> None:
    out = tmp_path / "out"
    assert run("check", folder, "--out", out).exit_code == 0
    assert run("check", folder, "--out", out).exit_code == 0, "its own are"
    for mine in ("", '{"counts": 1}', "check,who\n1,2\n", "<html></html>"):
        (out / name).write_text(mine)
        before = {path.name: path.read_bytes() for path in out.iterdir()}
        shown = run("check", folder, "--out", out)
        (line,) = shown.stderr.splitlines()
        assert shown.exit_code == 2 and shown.stdout == ""
        assert f"{out / name}: " in line and "move it" in line and "--out" in line
        assert {path.name: path.read_bytes() for path in out.iterdir()} == before


@pytest.mark.parametrize(("written", "says"), [(False, "; nothing was written"), (True, "")])
def test_ctrl_c_gives_status_130_and_one_line(
    folder: Path, monkeypatch: pytest.MonkeyPatch, written: bool, says: str
) -> None:
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("turncheck.checking.check", interrupted)
    monkeypatch.setattr(atomic, "_written", written)
    shown = run("check", folder)
    assert (shown.exit_code, shown.stdout) == (130, "")
    assert shown.stderr == f"turncheck: stopped{says}\n"


def test_what_was_written_is_known(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(atomic, "_written", False)
    atomic.save_together(tmp_path, {})
    assert not atomic.has_written()
    atomic.save_together(tmp_path, {"a.txt": "a"})
    assert atomic.has_written()


@pytest.mark.skipif(os.name != "posix", reason="signals are sent otherwise there")
def test_a_run_that_is_stopped_while_it_starts_leaves_no_traceback(tmp_path: Path) -> None:
    """Held where the command line is imported, by a module that stands in for click."""
    (tmp_path / "click.py").write_text("import time\nprint('here', flush=True)\ntime.sleep(30)\n")
    path = os.pathsep.join([str(tmp_path), str(ROOT)])
    started = time.monotonic()
    with subprocess.Popen(
        [sys.executable, "-m", "turncheck"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=os.environ | {"PYTHONPATH": path},
    ) as process:
        assert process.stdout is not None and process.stdout.readline() == b"here\n"
        process.send_signal(signal.SIGINT)
        _, told = process.communicate(timeout=20)
    assert time.monotonic() - started < 20
    assert told == b"turncheck: stopped; nothing was written\n"
    assert process.returncode == 130


def test_the_summaries_of_the_commands_are_whole() -> None:
    lines = run("--help").output.splitlines()
    listed = lines[lines.index("Commands:") + 1 :]
    assert len(listed) == len(main.commands)
    for line, name in zip(listed, sorted(main.commands), strict=True):
        assert line.split()[0] == name and line.endswith(".") and not line.endswith("...")
        assert len(line) <= 80

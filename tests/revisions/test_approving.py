"""A sheet is signed as it is, and each later check says whether it still is that."""

import hashlib
import json
import subprocess
import sys

import pytest
from click.testing import CliRunner

import turncheck
from tests.sheets import edit, make_sheet
from turncheck.cli import main

LOW_CHIN = ("side,chin,69.600,37.600", "side,chin,69.600,44.000")


def run(*words):
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture
def folder(tmp_path):
    return make_sheet(tmp_path / "tib")


def test_a_sheet_on_model_is_approved_as_it_is(folder):
    done = run("approve", folder, "--by", "art lead", "--note", "for the first episode")
    assert done.exit_code == 0, done.output
    record = json.loads((folder / "approval.json").read_text("utf-8"))
    assert (record["by"], record["note"]) == ("art lead", "for the first episode")
    assert record["drawings"] == {
        path.stem: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.glob("*.png")
    }
    table = (folder / "landmarks.csv").read_bytes()
    assert record["landmarks_sha256"] == hashlib.sha256(table).hexdigest()
    assert turncheck.check(folder).approval.state == "valid"
    line = (folder / "approvals.jsonl").read_text("utf-8")
    assert json.loads(line) == record


def test_a_sheet_off_model_is_not_and_nothing_is_written(folder):
    edit(folder / "landmarks.csv", *LOW_CHIN)
    done = run("approve", folder, "--by", "art lead")
    assert done.exit_code == 1
    assert "is not approved: it is off model, 1 thing to redraw" in done.output
    assert not list(folder.glob("approval*"))


def test_what_is_waived_may_be_approved_and_is_listed(folder):
    edit(folder / "landmarks.csv", *LOW_CHIN)
    with (folder / "sheet.toml").open("a", encoding="utf-8") as file:
        file.write(
            '\n[[waivers]]\ncheck = "height"\nview = "side"\nsubject = "chin"\n'
            'reason = "she looks down"\nby = "art lead"\n'
        )
    assert run("approve", folder, "--by", "art lead").exit_code == 0
    waived = json.loads((folder / "approval.json").read_text("utf-8"))["waived"]
    assert {"check": "height", "view": "side", "subject": "chin"} in waived


def test_a_waiver_of_an_earlier_revision_has_ended_and_is_said_to(folder, tmp_path):
    edit(folder / "landmarks.csv", *LOW_CHIN)
    with (folder / "sheet.toml").open("a", encoding="utf-8") as file:
        file.write(
            '\n[[waivers]]\ncheck = "height"\nview = "side"\nsubject = "chin"\n'
            'reason = "she looks down"\nby = "art lead"\nrevision = "0"\n'
        )
    done = run("check", folder, "--out", tmp_path / "out")
    assert done.exit_code == 1
    assert 'The waiver of height on side, "chin", ended with revision 0' in done.output


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        (
            "landmarks.csv",
            "side,chin,69.600,37.600",
            "side,chin,69.600,37.700",
        ),
        ("sheet.toml", 'revision = "A"', 'revision = "A" # again'),
    ],
)
def test_a_check_says_what_changed_since(folder, tmp_path, file, old, new):
    assert run("approve", folder, "--by", "art lead").exit_code == 0
    edit(folder / file, old, new)
    out = tmp_path / "out"
    done = run("check", folder, "--out", out)
    assert f"no longer holds: {file} has changed since." in done.output
    told = json.loads((out / "summary.json").read_text("utf-8"))["approval"]
    assert told == {"state": "stale", "changed": [file]}


def test_a_drawing_that_was_changed_is_named(folder):
    assert run("approve", folder, "--by", "art lead").exit_code == 0
    picture = folder / "back.png"
    picture.write_bytes(picture.read_bytes() + b"\0")
    assert turncheck.check(folder).approval.changed == ("the back drawing",)


def test_an_approval_that_cannot_be_read_approves_nothing(folder):
    (folder / "approval.json").write_text("[]", "utf-8")
    checked = turncheck.check(folder)
    assert checked.approval.state == "stale"
    assert checked.approval.changed == ("approval.json can't be read",)


@pytest.mark.parametrize("by", ["", " ", "art\nlead"])
def test_who_approves_must_be_said(folder, by):
    done = run("approve", folder, "--by", by)
    assert done.exit_code == 2
    assert not list(folder.glob("approval*"))


def test_what_is_too_close_to_call_stands_in_the_way_of_a_strict_approval(folder):
    edit(folder / "landmarks.csv", "side,chin,69.600,37.600", "side,chin,69.600,39.000")
    done = run("approve", folder, "--by", "art lead", "--strict")
    assert done.exit_code == 1 and "too close to call" in done.output
    assert run("approve", folder, "--by", "art lead").exit_code == 0


def test_of_several_who_approve_at_once_none_is_lost(folder):
    """Real programs, all at the same time; a half line of a killed run is ended first."""
    (folder / "approvals.jsonl").write_text('{"half', "utf-8")
    names = [f"lead {number}" for number in range(4)]
    command = [sys.executable, "-m", "turncheck", "approve", str(folder), "--by"]
    runs = [subprocess.Popen([*command, name], stdout=subprocess.DEVNULL) for name in names]
    assert [one.wait() for one in runs] == [0] * len(runs)
    half, *lines = (folder / "approvals.jsonl").read_text("utf-8").splitlines()
    assert half == '{"half'
    assert sorted(json.loads(line)["by"] for line in lines) == names
    assert json.loads((folder / "approval.json").read_text("utf-8"))["by"] in names

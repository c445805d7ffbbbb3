"""The README, the help pages and the checks say the same."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import tomllib

import click
import jsonschema
import pytest
from click.testing import CliRunner

from tests.places import ROOT
from tests.readme import README, pictures, section, tour_commands, tour_steps
from turncheck.checks.register import all_checks
from turncheck.cli import main
from turncheck.errors import FileFaults
from turncheck.sheet.landmark_text import COLUMNS
from turncheck.sheet.sheet_file import parse_sheet
from turncheck.sheet.vocabulary import SHIPPED, read_vocabulary

DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
COMMANDS = sorted(main.commands)
SCHEMA = json.loads((ROOT / "turncheck/sheet/sheet.schema.json").read_text("utf-8"))


@pytest.mark.parametrize("name", COMMANDS)
def test_the_readme_gives_every_command_as_its_help_does(name):
    (paragraph,) = (
        text for text in section("Commands").split("\n\n") if text.startswith(f"`turncheck {name} ")
    )
    command = main.commands[name]
    said = re.findall(r"`(--[\w-]+)`", paragraph)
    options = [each for each in command.params if isinstance(each, click.Option)]
    assert sorted(said) == sorted(each.opts[0] for each in options if each.name != "help")
    usage = CliRunner().invoke(main, [name, "--help"]).output.splitlines()[0]
    arguments = usage.removeprefix(f"Usage: main {name} [OPTIONS] ")
    assert paragraph.startswith(f"`turncheck {name} {arguments}`")


def test_the_readme_gives_no_command_that_is_not_there():
    assert sorted(re.findall(r"^`turncheck (\w+) ", section("Commands"), re.MULTILINE)) == COMMANDS


def test_the_readme_lists_just_the_checks_there_are():
    names = re.findall(r"^\| `(\w+)` \|", section("What is checked"), re.MULTILINE)
    assert names == [check.name for check in all_checks()]


@pytest.mark.parametrize("check", all_checks(), ids=lambda check: check.name)
def test_the_readme_gives_every_tolerance_with_its_unit(check):
    (row,) = re.findall(rf"^\| `{check.name}` \|(.*)\|(.*)\|$", section("What is checked"), re.M)
    says, tolerance = (cell.strip() for cell in row)
    number, unit = re.fullmatch(r"([\d.]+)( %| % of the .+|)", tolerance).groups()
    assert float(number) == check.tolerance
    units = {"pct_height": "%", "pct_ratio": "% of the", "delta_e": ""}
    assert unit.strip().startswith(units[check.unit])
    assert (check.unit == "pct_ratio") == (" of " in unit)
    assert [float(value) for value in re.findall(r"\(([\d.]+)°\)", says)] == [
        further.value for further in check.further
    ]
    for name in SHIPPED:
        of_vocabulary = read_vocabulary(name, ROOT).tolerances
        assert of_vocabulary.get(check.name, check.tolerance) == check.tolerance


def test_the_readmes_commands_run(tmp_path):
    blocks = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)
    checks = [line for block in blocks for line in re.findall(r"turncheck (check [^&|\n]+)", block)]
    assert checks
    for line in checks:
        words = shlex.split(line)
        out = str(tmp_path / "out")
        ran = CliRunner().invoke(main, [words[0], str(ROOT / words[1]), "--out", out])
        assert ran.exit_code == 0, ran.output


def readmes_sheet() -> str:
    return next(iter(re.findall(r"```toml\n(.*?)```", README, flags=re.DOTALL)))


def test_the_readmes_sheet_is_one_that_turncheck_reads():
    faults = FileFaults("README.md")
    parsed = parse_sheet(readmes_sheet(), faults)
    faults.raise_any()
    known = set(read_vocabulary("biped", ROOT).landmarks) | set(parsed.landmarks)
    assert {n for ratio in parsed.proportions for n in (*ratio.of, *ratio.to)} <= known


def test_the_readmes_sheet_has_the_keys_choices_and_usual_values_of_the_schema():
    shown, keys = tomllib.loads(readmes_sheet()), SCHEMA["properties"]
    jsonschema.validate(shown, SCHEMA)
    assert set(keys) - set(shown) <= set(re.findall(r"`\[?(\w+)\]?`", README))
    for name, key in keys.items():
        is_value = not isinstance(shown.get(name, {}), dict | list)
        if is_value and "default" in key:
            assert shown[name] == key["default"], name
        for choice in key.get("enum", []):
            assert re.search(rf"# *{choice}:|; {choice}:|\b{choice}:", readmes_sheet()), choice


def test_the_readmes_sheet_has_the_tolerances_of_the_checks():
    shown, checks = tomllib.loads(readmes_sheet()), {check.name: check for check in all_checks()}
    for name, value in shown["tolerances"].items():
        assert value == checks[name].tolerance
    for ratio in shown["proportions"]:
        assert ratio["tolerance"] == checks["proportion"].tolerance
    for waiver in shown["waivers"]:
        assert waiver["check"] in checks


def test_the_readmes_landmark_table_has_the_readers_columns():
    block = next(b for b in re.findall(r"```csv\n(.*?)```", README, flags=re.DOTALL))
    assert block.split()[0] == ",".join(COLUMNS)


def test_every_file_that_the_documents_link_to_is_there():
    for text in (README, DEVELOPERS):
        for target in re.findall(r"\]\(([^)#]+)\)", text):
            assert target.startswith("http") or (ROOT / target).exists(), target


def test_every_picture_of_the_tour_is_there_light_and_shown():
    shown = pictures()
    assert len(shown) == len(set(shown)) == len(tour_steps())
    assert {ROOT / one for one in shown} == {*(ROOT / "reports" / "story").iterdir()}
    sizes = [(ROOT / one).stat().st_size for one in shown]
    assert max(sizes) < 150_000 and sum(sizes) < 1_000_000


def test_every_command_of_the_tour_is_one_that_can_be_typed():
    lines = [shlex.split(line) for line in tour_commands()]
    assert {words[1] for words in lines} >= {"split", "mark", "check", "guides", "compare"}
    for _, name, *words in lines:
        command = main.commands[name]
        given, left, _ = command.make_parser(click.Context(command)).parse_args(words)
        needed = [each.name for each in command.params if isinstance(each, click.Argument)]
        assert not left and all(given[each] for each in needed), words


@pytest.mark.parametrize("marker", ["on Debian", "test command"])
def test_the_ci_script_runs_what_the_readme_says(marker):
    script = (ROOT / ".ci" / "run").read_text("utf-8")
    assert f'$(block "{marker}")' in script
    functions = script.split("install=")[0]
    ran = subprocess.run(
        ["bash", "-c", f"{functions}\nblock '{marker}'", str(ROOT / ".ci" / "run")],
        capture_output=True,
        text=True,
        check=True,
    )
    said = README.split(f"<!-- {marker} -->")[1].split("```sh\n")[1].split("```")[0]
    assert ran.stdout == said and len(said.splitlines()) == 1
    assert {"on Debian": "chromium", "test command": "pytest"}[marker] in said
    assert len(re.findall("apt-get install", README + script)) == 1  # one place says what is needed

"""The README, the help pages and the checks say the same."""

from __future__ import annotations

import re
import shlex
import tomllib

import click
import pytest
from click.testing import CliRunner

from tests.places import ROOT
from turncheck.checks.register import all_checks
from turncheck.cli import main
from turncheck.sheet.landmark_text import COLUMNS
from turncheck.sheet.vocabulary import read_vocabulary

README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
COMMANDS = sorted(main.commands)


@pytest.mark.parametrize("name", COMMANDS)
def test_the_readme_describes_every_command_with_its_options(name):
    start = README.rindex(f"\n`turncheck {name} ")
    section = README[start + 1 :].split("\n\n")[0]
    for parameter in main.commands[name].params:
        if isinstance(parameter, click.Option) and parameter.name != "help":
            assert f"`{parameter.opts[0]}`" in section, f"{name} {parameter.opts[0]}"


@pytest.mark.parametrize("check", all_checks(), ids=lambda check: check.name)
def test_the_readme_lists_every_check_with_its_tolerance(check):
    row = next(line for line in README.splitlines() if line.startswith(f"| `{check.name}` |"))
    assert re.search(rf"\b{re.escape(f'{check.tolerance:g}')}", row.replace(".0 ", " "))


def test_the_readmes_commands_run(tmp_path):
    blocks = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)
    checks = [line for block in blocks for line in re.findall(r"turncheck (check [^&|\n]+)", block)]
    assert checks
    for line in checks:
        words = shlex.split(line)
        out = str(tmp_path / "out")
        ran = CliRunner().invoke(main, [words[0], str(ROOT / words[1]), "--out", out])
        assert ran.exit_code == 0, ran.output


def test_the_readmes_sheet_is_one_that_turncheck_reads():
    block = next(b for b in re.findall(r"```toml\n(.*?)```", README, flags=re.DOTALL))
    from turncheck.errors import FileFaults
    from turncheck.sheet.sheet_file import parse_sheet

    faults = FileFaults("README.md")
    parsed = parse_sheet(block, faults)
    faults.raise_any()
    assert parsed.character == tomllib.loads(block)["character"]
    known = set(read_vocabulary("biped", ROOT).landmarks) | set(parsed.landmarks)
    assert {n for ratio in parsed.proportions for n in (*ratio.of, *ratio.to)} <= known


def test_the_readmes_landmark_table_has_the_readers_columns():
    block = next(b for b in re.findall(r"```csv\n(.*?)```", README, flags=re.DOTALL))
    assert block.split()[0] == ",".join(COLUMNS)


def test_every_file_that_the_documents_link_to_is_there():
    for text in (README, DEVELOPERS):
        for target in re.findall(r"\]\(([^)#]+)\)", text):
            assert target.startswith("http") or (ROOT / target).exists(), target


def test_the_ci_script_finds_the_readmes_test_command():
    marked = README.split("<!-- test command -->")[1].split("```sh\n")[1].split("```")[0]
    assert "pytest" in marked

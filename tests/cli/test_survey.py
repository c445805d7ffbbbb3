"""`turncheck survey` at the command line: statuses, what is printed, samples, files in the way."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from tests.sheets import make_sheet
from tests.show.small_show import lowered, surveyed_here
from turncheck.cli import main


def run(*arguments: object) -> Result:
    with surveyed_here():
        return CliRunner().invoke(main, ["survey", *map(str, arguments)])


@pytest.fixture(scope="module")
def show(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("show")
    for name in ("ash", "bog", "cur"):
        make_sheet(folder / name)
    make_sheet(folder / "dam", placings=lowered("chin", "side", 4.0))
    return folder


def test_a_survey_says_how_many_are_what_and_where_it_is_written(show: Path) -> None:
    out = show / "out"
    ran = run(show, "--out", out)
    assert ran.exit_code == 1 and not ran.stderr, ran.output
    assert ran.stdout.startswith("4 sheets: 1 off model and 3 on model\n")
    assert "Chin" in ran.stdout and ran.stdout.endswith(f"Wrote {out / 'index.html'}\n")
    again = run(show, "--out", out, "--quiet")
    assert (again.exit_code, again.output) == (1, "")
    assert "4 unchanged" in run(show, "--out", out).stdout

    page = (out / "index.html").read_bytes()

    def picked(*more: object) -> list[str]:
        ran = run(show, "--out", out, "--sample", 2, *more)
        assert ran.exit_code in (0, 1) and ran.stdout.endswith(f"Wrote {out / 'sample.html'}\n")
        assert "sheets of 4, picked at random" in (out / "sample.html").read_text("utf-8")
        with (out / "sample_sheets.csv").open(encoding="utf-8") as table:
            return [row["path"] for row in csv.DictReader(table)]

    assert picked("--seed", 1) == picked("--seed", 1) != picked("--seed", 2)
    assert len([*out.glob("pictures/??/*_3.webp")]) >= 2
    assert (out / "index.html").read_bytes() == page
    assert run(show, "--out", out, "--quiet").exit_code == 1
    sources = re.findall(r'src="(pictures/[^"]*)"', (out / "sample.html").read_text("utf-8"))
    assert sources and all((out / source).is_file() for source in sources)
    (out / "sheets" / "bog" / "findings.csv").write_text("mine", "utf-8")
    ran = run(show / "ash", "--out", out)
    assert ran.exit_code == 0 and f"{out / 'sheets/bog/findings.csv'}: stays" in ran.stdout
    left = {path.name for path in (out / "sheets").rglob("*") if path.parent.name != "sheets"}
    assert left == {"findings.csv"} and (out / "sheets" / "report.html").exists()


def test_an_empty_folder_is_one_sentence(tmp_path: Path) -> None:
    out = tmp_path / "out"
    for folder, says in ((tmp_path, "there is no sheet"), (tmp_path / "gone", "no such folder")):
        ran = run(folder, "--out", out)
        assert ran.exit_code == 2 and says in ran.stderr and len(ran.stderr.splitlines()) == 1
    assert not out.exists()


@pytest.mark.parametrize("name", ["index.html", "sheets.csv", "findings.csv", "findings.parquet"])
def test_another_s_file_is_not_overwritten(show: Path, tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine", "utf-8")
    ran = run(show, "--out", tmp_path)
    assert ran.exit_code == 2 and f"{name}: was not written by turncheck" in ran.stderr
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text("utf-8") == "mine"

"""Landmarks of any allowed name work everywhere, whatever words stand in them."""

import csv

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.sheets import edit, make_sheet, placed
from turncheck.cli import main
from turncheck.plain import capital, spoken

#: Names whose words once meant something to the tool, and others that a person may choose.
NAMES = [
    "left pocket",
    "hem level",
    "hat on head",
    "rows 5 to 9",
    "the whole drawing",
    "badge (old)",
    "eye line",
    "top's button",
    "a.b",
    "yaw",
]
KINDS = ["height", "pivot"]


def checked(folder, name, kind, up):
    """The findings of a sheet with a landmark of that name, drawn too high in the side view."""
    table = f'[landmarks."{name}"]\nkind = "{kind}"\n'
    rows = placed()
    for row in [row for row in rows if row["landmark"] == "spine"]:
        y = float(row["y"]) - (up if row["view"] == "side" else 0.0)
        rows.append(row | {"landmark": name, "y": f"{y:.3f}"})
    make_sheet(folder, placings=rows, toml_extra=table)
    done = CliRunner().invoke(main, ["check", str(folder), "--out", str(folder / "out")])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    with (folder / "out" / "findings.csv").open(encoding="utf-8") as file:
        return done, list(csv.DictReader(file))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("name", NAMES)
def test_a_landmark_of_any_name_that_drifts_is_named_and_mended(tmp_path, name, kind):
    done, found = checked(tmp_path / "tib", name, kind, up=8.0)
    assert done.exit_code == 1, done.output
    off = [(row["view"], row["subject"]) for row in found if row["verdict"] == "off_model"]
    assert off == [("side", name)]
    assert f"{capital(spoken(name))} 8.0 px too high: lower it 8.0 px" in done.output
    page = (tmp_path / "tib" / "out" / "report.html").read_text("utf-8")
    assert "lower it 8.0" in page


@settings(max_examples=15, deadline=None, derandomize=True)
@given(
    name=st.from_regex(r"[A-Za-z0-9](?:[\w .()'-]{0,20}[\w.()'-])?", fullmatch=True).filter(
        lambda name: name not in {row["landmark"] for row in placed()}
    )
)
def test_a_name_that_the_vocabulary_takes_never_ends_in_a_crash(tmp_path_factory, name):
    folder = tmp_path_factory.mktemp("any")
    edited = make_sheet(folder / "tib")
    edit(edited / "sheet.toml", 'character = "Tib"', 'character = "Tib"')
    try:
        _, found = checked(folder / "tib", name, "height", up=8.0)
    except FileNotFoundError:
        return  # refused in a sentence: names that differ in case alone, say
    assert any(row["subject"] == name and row["verdict"] == "off_model" for row in found)

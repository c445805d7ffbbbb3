"""Adding a check touches one file: modules dropped into a copy of the package are run, told,
drawn and mended by the command, from the findings to the page."""

import csv
import os
import re
import shutil
import subprocess
import sys

import pytest

import turncheck
from tests.places import ROOT
from tests.sheets import make_sheet

CHECK = '''
"""`{name}`: what no other check measures."""

from collections.abc import Iterator

from turncheck.checks.check import Check, Tolerances
from turncheck.checks.finding import Finding, Kind, Subject
from turncheck.geometry.measurement import Measurement


def find_sparkle(measured: Measurement, tolerances: Tolerances) -> Iterator[Finding]:
    for view in measured.views[1:]:
        yield Finding(
            CHECK.name,
            view,
            Subject(Kind.{kind}, "{subject}", {landmarks}),
            expected=1.0,
            measured=1.5,
            drift_px={drift_px},
            drift_pct=50.0 if view == "side" else 0.1,
            uncertainty_pct=0.1,
            tolerance_pct=tolerances.general,
            unit=CHECK.unit,
        ).judged()


CHECK = Check(
    name="{name}",
    title="Sparkle",
    order=95,
    unit="{unit}",
    tolerance=2.0,
    measures="how much each drawing sparkles",
    why="a dull drawing dims the others",
    mend="polish it until it shines",
    run=find_sparkle,
)
'''
#: By case: kind, subject, landmarks, drift in px, unit; what is told, and what is said to do.
CASES = {
    "per cent of points": (
        ("POINT", "knee_l", '("knee_l",)', "80.0", "pct_height"),
        "80 px (50.0 %) too high",
        ("Left knee 80 px too high", "lower it 80 px (50.0 %)"),
    ),
    "per cent without points": (
        ("OTHER", "glint of the hat", "()", "80.0", "pct_height"),
        "+50.0 %",
        ("Glint of the hat, +50.0 %", "polish it until it shines"),
    ),
    "ratio of points": (
        ("RATIO", "knee to hip", '("knee_l", "hip_l")', 'float("nan")', "pct_ratio"),
        "50.0 % more",
        (
            "Knee to hip 50.0 % more than in the other drawings",
            "look at the points that it rests on",
        ),
    ),
    "ratio without points": (
        ("OTHER", "glints to hats", "()", 'float("nan")', "pct_ratio"),
        "50.0 % more",
        ("Glints to hats, 50.0 % more", "polish it until it shines"),
    ),
    "colour difference of points": (
        ("OTHER", "eye_l", '("eye_l",)', 'float("nan")', "delta_e"),
        "50.0 apart in colour",
        ("Left eye, 50.0 apart in colour", "polish it until it shines"),
    ),
    "colour difference without points": (
        ("OTHER", "buttons", "()", 'float("nan")', "delta_e"),
        "50.0 apart in colour",
        ("Buttons, 50.0 apart in colour", "polish it until it shines"),
    ),
    "angle without points": (
        ("OTHER", "tilt of the hat", "()", 'float("nan")', "deg"),
        "+50.0°",
        ("Tilt of the hat, +50.0°", "polish it until it shines"),
    ),
}


#: So many new checks at once are all told in the terminal.
AT_ONCE = 4


@pytest.fixture(scope="module")
def told(tmp_path_factory):
    """By case, what is said of a sheet with one more check for it: lines, rows and page."""
    home = tmp_path_factory.mktemp("package")
    shutil.copytree(ROOT / "turncheck", home / "turncheck", ignore=lambda *_: ["__pycache__"])
    make_sheet(home / "tib")
    found = {}
    for cases in batched(CASES, AT_ONCE):
        modules = [_dropped(case, home / "turncheck" / "checks") for case in cases]
        found |= dict.fromkeys(cases, _said(home))
        for module in modules:
            module.unlink()
    return found


def batched(names, size):
    names = list(names)
    return [names[start : start + size] for start in range(0, len(names), size)]


def _dropped(case, room):
    (kind, subject, landmarks, drift_px, unit), *_ = CASES[case]
    values = {"kind": kind, "subject": subject, "landmarks": landmarks, "unit": unit}
    text = CHECK
    for key, value in (values | {"drift_px": drift_px, "name": name_of(case)}).items():
        text = text.replace(f"{{{key}}}", value)
    module = room / f"{name_of(case)}.py"
    module.write_text(text, "utf-8")
    return module


def _said(home):
    done = subprocess.run(
        [sys.executable, "-m", "turncheck", "check", "tib", "--out", "out"],
        cwd=home,
        env=os.environ | {"PYTHONPATH": str(home), "COLUMNS": "200"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1, done.stdout + done.stderr
    assert not done.stderr
    with (home / "out" / "findings.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    page = re.sub(r"<[^>]*>", "", (home / "out" / "report.html").read_text("utf-8"))
    return done.stdout, rows, page.replace("\N{NO-BREAK SPACE}", " ")


def name_of(case):
    return f"sparkle_{list(CASES).index(case)}"


@pytest.mark.parametrize("case", CASES)
def test_a_new_check_is_told_drawn_and_mended_though_nothing_else_names_it(told, case):
    _, drift, (headline, mend) = CASES[case]
    lines, rows, page = told[case]
    assert f"side: {headline}: {mend}." in lines
    mine = {row["view"]: row["verdict"] for row in rows if row["check"] == name_of(case)}
    assert mine == {"three_quarter": "on_model", "side": "off_model", "back": "on_model"}
    assert drift in page and headline in page and mend in page
    assert "polish it until it shines" in page


def test_no_module_outside_the_checks_names_a_check():
    names = {check.name for check in turncheck.checks.register.all_checks()}
    # kinds of landmarks, and what else has the name of a check
    words_too = {"height", "outline", "pivot", "turn", "mirror", "size"}
    told_apart = rf"""["'](?:{"|".join(sorted(names - words_too))})["']"""
    compared = r"""\.check["'\]]*\s*(?:==|!=|in\b|not in\b)\s*[("'{\[]"""
    named = re.compile(f"{told_apart}|{compared}")
    found = []
    for file in sorted((ROOT / "turncheck").rglob("*.py")):
        place = file.relative_to(ROOT / "turncheck").as_posix()
        if place.startswith("checks/"):
            continue
        for number, line in enumerate(file.read_text("utf-8").splitlines(), start=1):
            if named.search(line):
                found.append(f"{place}:{number}: {line.strip()}")
    assert not found, "\n".join(found)

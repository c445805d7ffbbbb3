"""The report as text: everything is in it, linked, escaped and the same every time."""

from __future__ import annotations

import base64
import csv
import hashlib
import re
import sys
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pandas as pd
import pytest

from tests.report.drifting import LOW_ARM, drifting_sheet
from tests.sheets import edit
from turncheck import checking, checks
from turncheck.checking import Checked, check
from turncheck.checks.register import all_checks
from turncheck.geometry.guard_bands import Verdict
from turncheck.images.describing import describe_drawings
from turncheck.report import build_report
from turncheck.revisions.approving import approve

HOSTILE = "</script><script>alert(1)</script>\"><img src=x onerror=alert(2)>'{{ 7*7 }}"


class Page(HTMLParser):
    """Ids, links, elements and text of a page."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.data: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            self.attributes.append((tag, name, value or ""))
            if name == "id":
                self.ids.append(value or "")
            if name == "href" and (value or "").startswith("#"):
                self.links.append((value or "")[1:])

    handle_startendtag = handle_starttag

    def handle_data(self, data: str) -> None:
        if self.tags[-1:] not in (["style"], ["script"]):
            self.data.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.data).replace("\N{NO-BREAK SPACE}", " ").split())


def report_of(checked: Checked) -> str:
    return build_report(checked, checked.summary())


@pytest.fixture(scope="module")
def drifted(tmp_path_factory: pytest.TempPathFactory) -> Checked:
    return check(drifting_sheet(tmp_path_factory.mktemp("drifted"), drift=LOW_ARM))


@pytest.fixture(scope="module")
def html(drifted: Checked) -> str:
    return report_of(drifted)


def first_screen(html: str) -> str:
    """The text of what stands before What to redraw."""
    return Page(html[: html.index('id="redraws"')]).text


def test_the_verdict_and_what_to_redraw_are_said_at_the_top(html: str) -> None:
    top = first_screen(html)
    assert "Off model 1 thing to redraw in 1 of 4 drawings" in top
    assert "compared with the front" in top
    assert "Side 90° 1 Left arm 4.8 px too low raise it 4.8 px (3.0 %)" in top


def test_the_first_line_counts_what_the_list_and_the_cards_count(tmp_path: Path) -> None:
    drift = LOW_ARM | {("back", "knee_r"): (0.0, 4.0), ("front", "chin"): (0.0, 6.0)}
    checked = check(drifting_sheet(tmp_path, drift=drift))
    html = report_of(checked)
    tasks = checked.instructions
    assert len(tasks) == 3
    assert "3 things to redraw in 3 of 4 drawings" in first_screen(html)
    cards = [name for name in Page(html).ids if name.startswith("card-")]
    assert sorted(cards) == ["card-1", "card-2", "card-3"]
    for number, task in enumerate(tasks, start=1):
        assert f'id="balloon-{number}"' in html and f'href="#redraw-{number}"' in html
        assert task.headline.replace("\N{NO-BREAK SPACE}", " ") in first_screen(html)
    method = Page(html[html.index('id="method"') :]).text
    assert f"{len(checked.rows)} comparisons (one fault shows in several):" in method


def test_plus_or_minus_is_led_back_to_the_column_of_the_findings(html: str) -> None:
    method = Page(html[html.index('id="method"') :]).text
    assert "column uncertainty_pct is the standard uncertainty: ± is 1.96 times it" in method


def test_points_are_called_points(tmp_path: Path) -> None:
    folder = drifting_sheet(tmp_path)
    table = folder / "landmarks.csv"
    few = ("ground", "crown", "chin")
    kept = [
        line
        for line in table.read_text("utf-8").splitlines()
        if not line.startswith("side,") or line.split(",")[1] in few
    ]
    table.write_text("\n".join(kept) + "\n", "utf-8")
    text = Page(report_of(check(folder))).text
    assert "only 3 points in common with the other drawings" in text
    assert "landmarks.csv" in text
    assert not re.search(r"\blandmarks?\b(?!\.csv)", text)


def test_undecided_is_counted_beside_an_on_model_verdict(tmp_path: Path) -> None:
    drift = {("side", "nose_tip"): (0.0, 1.6)}  # 1.0 % of the figure: on the tolerance itself
    checked = check(drifting_sheet(tmp_path, drift=drift))
    undecided = sum(row.verdict is Verdict.UNDECIDED for row in checked.rows)
    assert undecided
    top = first_screen(report_of(checked))
    assert "On model Nothing to redraw" in top
    assert f"{undecided} too close to call" in top


def test_a_clean_sheet_is_told_so_pleasantly(tmp_path: Path) -> None:
    html = report_of(check(drifting_sheet(tmp_path)))
    text = Page(html).text
    assert "Nothing. These drawings are ready to be built on." in text
    assert first_screen(html).count("nothing to redraw") == 4  # each drawing
    assert "The nearest to its tolerance is" in text


def test_the_same_sheet_gives_the_same_bytes(
    drifted: Checked, html: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(checking, "describe_drawings", describe_drawings)  # looked at anew
    assert report_of(check(drifted.sheet.folder)) == html


def test_each_drawing_is_embedded_once(drifted: Checked, html: str) -> None:
    for drawing in drifted.drawings.values():
        assert html.count(drawing.uri) == 1
    assert html.count("data:image") == len(drifted.sheet.views)


def test_without_the_drawings_the_page_is_under_a_megabyte(drifted: Checked, html: str) -> None:
    pictures = sum(len(drawing.uri) for drawing in drifted.drawings.values())
    assert len(html.encode()) - pictures < 1_000_000


def test_the_script_is_at_most_20_kb(html: str) -> None:
    script = re.search(r'<script type="module">(.*?)</script>', html, re.S)
    assert script is not None
    assert len(script[1].encode()) <= 20_000


def test_every_link_leads_somewhere_and_ids_are_unique(html: str) -> None:
    page = Page(html)
    assert len(page.ids) == len(set(page.ids))
    assert set(page.links) <= set(page.ids)


def test_every_finding_and_every_placing_is_in_the_page(drifted: Checked, html: str) -> None:
    page = Page(html)
    assert sum(name.startswith("row-") for name in page.ids) == len(drifted.rows)
    assert sum(name.startswith("mark-") for name in page.ids) == len(drifted.placings)


def test_the_policy_lets_in_the_own_style_and_script_alone(html: str) -> None:
    """Content Security Policy Level 3, 2.3.1: a hash of the element's text."""
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)
    assert policy is not None
    allowed = policy[1].replace("&#39;", "'")
    assert "default-src 'none'" in allowed
    assert "unsafe" not in allowed
    for tag in ("style", "script"):
        inline = re.search(rf"<{tag}[^>]*>(.*?)</{tag}>", html, re.S)
        assert inline is not None
        digest = base64.b64encode(hashlib.sha256(inline[1].encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in allowed


def test_nothing_is_fetched_and_nothing_runs_from_an_attribute(html: str) -> None:
    page = Page(html)
    for tag, name, value in page.attributes:
        assert not name.startswith("on"), (tag, name)
        assert name != "style", tag
        if name in ("src", "href", "action"):
            assert value.startswith(("#", "data:image/")), value


def test_names_that_look_like_markup_stay_text(tmp_path: Path) -> None:
    more = (
        f"[[waivers]]\ncheck = 'height'\nview = 'side'\nsubject = '''{HOSTILE}'''\n"
        f"reason = '''{HOSTILE} reason'''\nby = '''{HOSTILE} lead'''\n"
        f"[[proportions]]\nname = '''{HOSTILE[:70]}'''\nof = ['crown', 'chin']\n"
        "to = ['chin', 'ground']\n"
    )
    clean = Page(report_of(check(drifting_sheet(tmp_path / "clean"))))
    folder = drifting_sheet(
        tmp_path / "hostile", character=HOSTILE, revision=HOSTILE[:50], toml_extra=more
    )
    page = Page(report_of(check(folder)))
    assert page.tags.count("script") == clean.tags.count("script") == 1
    assert page.tags.count("img") == 0
    assert page.text.count(HOSTILE) >= 4


def test_a_waiver_names_who_and_why_and_whether_it_is_needed(tmp_path: Path) -> None:
    more = "".join(
        f"[[waivers]]\ncheck = 'height'\nview = 'side'\nsubject = '{name}'\n"
        f"reason = 'always drawn so'\nby = 'art lead'\n"
        for name in ("chin", "mouth", "chim")
    )
    folder = drifting_sheet(tmp_path, drift={("side", "chin"): (0.0, 6.0)}, toml_extra=more)
    text = Page(report_of(check(folder))).text
    waivers = text[text.index("Departures that are meant") :]
    assert "chin Side Heights always drawn so art lead in use" in waivers
    assert "mouth Side Heights always drawn so art lead is not needed" in waivers
    assert 'lead waives nothing: it is not compared there; did you mean "chin"?' in waivers


def test_repeated_placings_are_reported_and_only_then(tmp_path: Path, html: str) -> None:
    title = "How well the points are placed"
    repeated = check(drifting_sheet(tmp_path, repeats=True))
    assert title in report_of(repeated)
    assert title not in html


def test_what_repeats_say_of_the_placing_is_used_and_said(tmp_path: Path, html: str) -> None:
    assert "one placing is taken to be sure to 0.15 % of the figure" in " ".join(html.split())
    folder = drifting_sheet(tmp_path, repeats=True)
    table = pd.read_csv(folder / "landmarks.csv")
    table.loc[table["placed_by"] == "bo", "x"] += 1.6  # 1 % of the figure, along one of two axes
    table.to_csv(folder / "landmarks.csv", index=False)
    checked = check(folder)
    summary = checked.summary()
    assert (summary["placing_sd_from"], summary["placing_sd_pct"]) == (
        "repeats",
        pytest.approx(0.5, rel=0.02),
    )
    text = Page(report_of(checked)).text
    assert "one placing is sure to 0.496 % of the figure, not to 0.15 % as the sheet has it" in text


def test_what_no_majority_settles_is_shown_as_such(tmp_path: Path) -> None:
    folder = drifting_sheet(
        tmp_path,
        drift={("side", "chin"): (0.0, 6.0)},
        views={"front": 0.0, "side": 90.0},
    )
    checked = check(folder)
    (task,) = checked.instructions
    assert not task.settled
    html = report_of(checked)
    page = Page(html)
    assert "Decide first 1 Chin: side has it 6.0 px (3.8 %) higher than front" in page.text
    redraws = html[html.index('id="redraws"') : html.index('id="deciding"')]
    assert "To be decided first" in redraws
    deciding = html[html.index('id="deciding"') : html.index('id="driftmap"')]
    assert "Which is right?" in deciding
    assert deciding.count('<div class="wipe">') == 2
    assert first_screen(html).count("1 to decide") == 2


def test_what_follows_from_an_instruction_is_in_all_three_files(tmp_path: Path) -> None:
    drift = {("back", "knee_r"): (0.0, 5.0)}
    checked = check(drifting_sheet(tmp_path / "sheet", drift=drift))
    summary = checked.save(tmp_path / "out")
    (task,) = summary["instructions"]
    assert task["number"] == 1 and task["cause"] == "point" and task["settled"]
    assert task["views"] == ["back"] and task["landmarks"] == ["knee_r"]
    assert task["move_px"] == {"back": [0.0, pytest.approx(5.0, abs=0.1)]}
    assert task["follows"] and not {*task["follows"]} & {*task["findings"]}
    assert summary["verdicts"]["views"] == {
        "front": "on_model",
        "three_quarter": "on_model",
        "side": "on_model",
        "back": "off_model",
    }
    assert summary["verdicts"]["checks"]["pivot"] == "off_model"
    with (tmp_path / "out" / "findings.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    follows = {n for n, row in enumerate(rows) if row["follows"]}
    assert follows == {*task["follows"]}
    assert {rows[n]["follows"] for n in follows} == {"1"}
    assert {rows[n]["verdict"] for n in follows} == {"off_model"}
    html = (tmp_path / "out" / "report.html").read_text("utf-8")
    led = '<a href="#redraw-1">follows from 1</a>'
    assert html[html.index('id="tables"') :].count(led) == len(task["follows"])
    assert "Follows:" in html[html.index('id="redraws"') : html.index('id="deciding"')]


def test_the_consensus_may_be_the_reference(tmp_path: Path) -> None:
    folder = drifting_sheet(tmp_path, drift=LOW_ARM, reference="consensus")
    text = Page(report_of(check(folder))).text
    assert "Left arm 4.8 px too low" in text
    assert "height that most drawings agree on" in text


NEW_CHECK = """
from turncheck.checks.check import Check
from turncheck.checks.finding import Finding, Kind, Subject

def run(measured, tolerances):
    subject = Subject(Kind.OTHER, "buttons", {landmarks!r})
    yield Finding("brightness", "side", subject, drift_pct=4.0, uncertainty_pct=0.1,
                  tolerance_pct=tolerances.general, unit={unit!r}).judged()


CHECK = Check("brightness", "Brightness of the buttons", 999, {unit!r}, 2.0, "the buttons",
              "they shine", "polish them", run)
"""


@pytest.fixture
def new_check(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Iterator[None]:
    """A module that is put into the room of the checks, and nothing else."""
    unit, landmarks = request.param
    (tmp_path / "brightness.py").write_text(NEW_CHECK.format(unit=unit, landmarks=landmarks))
    monkeypatch.setattr(checks, "__path__", [*checks.__path__, str(tmp_path)])
    all_checks.cache_clear()
    yield
    all_checks.cache_clear()
    sys.modules.pop("turncheck.checks.brightness", None)


@pytest.mark.parametrize(
    "new_check",
    [
        (unit, landmarks)
        for unit in ("pct_height", "pct_ratio", "delta_e")
        for landmarks in ((), ("chin", "knee_l"))
    ],
    indirect=True,
    ids=str,
)
@pytest.mark.usefixtures("new_check")
def test_a_new_check_appears_by_itself(tmp_path: Path) -> None:
    checked = check(drifting_sheet(tmp_path / "sheet"))
    (task,) = checked.instructions
    assert task.view == "side"
    assert "polish them" in task.says
    html = report_of(checked)
    page = Page(html)
    assert "Brightness of the buttons" in page.text
    assert "row-brightness-side-buttons" in page.ids
    redraws = Page(html[html.index('id="redraws"') :]).text
    assert f"{task.headline} Polish them." in redraws


def test_what_could_not_be_measured_gives_its_reason_in_plain_words(tmp_path: Path) -> None:
    folder = drifting_sheet(tmp_path)
    table = folder / "landmarks.csv"
    kept = [line for line in table.read_text().splitlines() if "side,knee_l," not in line]
    table.write_text("\n".join(kept) + "\n")
    page = Page(report_of(check(folder)))
    assert "left knee : left knee is not placed on side" in page.text


def test_an_approval_stands_at_the_top_and_says_when_it_no_longer_holds(tmp_path: Path) -> None:
    folder = drifting_sheet(tmp_path)
    checked = check(folder)
    assert "pproved by art lead" not in Page(report_of(checked)).text
    approve(checked, "art lead", "")
    assert "approved by art lead on 20" in first_screen(report_of(check(folder)))
    edit(folder / "sheet.toml", 'revision = "A"', 'revision = "B"')
    told = first_screen(report_of(check(folder)))
    assert "The approval by art lead of 20" in told
    assert "no longer holds: sheet.toml has changed since." in told

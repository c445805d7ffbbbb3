"""What to decide first, and which points to place again."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.report.drifting import drifting_sheet, resized
from tests.sheets import edit
from turncheck.checking import check
from turncheck.checks.finding import Cause
from turncheck.report import build_report
from turncheck.report.deciding import NAMED, build_deciding
from turncheck.report.facts import Facts, gather


def facts_of(folder: Path) -> Facts:
    checked = check(folder)
    return gather(checked, checked.summary())


def test_undecided_points_are_listed_to_place_again(tmp_path: Path) -> None:
    drift = {("side", "nose_tip"): (0.0, 1.6)}
    deciding = build_deciding(facts_of(drifting_sheet(tmp_path, drift=drift)))
    assert deciding is not None
    listed = {view: [name for name, _ in points] for view, points in deciding.open.again.items()}
    assert "nose_tip" in listed["side"]
    assert "nose_tip" not in listed.get("back", [])


def test_the_points_that_decide_most_come_first_and_the_others_are_folded(tmp_path: Path) -> None:
    low = ("shoulder_l", "elbow_l", "wrist_l", "hip_l", "knee_l", "ankle_l", "spine")
    drift = {("side", name): (0.0, 1.15 * (-1) ** n) for n, name in enumerate(low)}
    checked = check(drifting_sheet(tmp_path, drift=drift))
    summary = checked.summary()
    deciding = build_deciding(gather(checked, summary))
    assert deciding is not None
    points = deciding.open.again["side"]
    assert len(points) > NAMED
    counts = [count for _, count in points]
    assert counts == sorted(counts, reverse=True)
    html = build_report(checked, summary)
    folded = html[html.index('id="deciding"') : html.index('id="driftmap"')]
    assert f"and {len(points) - NAMED} more point" in folded


def test_points_that_only_suffer_from_their_drawings_size_need_no_other_placing(
    tmp_path: Path,
) -> None:
    facts = facts_of(drifting_sheet(tmp_path, drift=resized("back", 0.03)))
    deciding = build_deciding(facts)
    assert deciding is not None
    by_size = [
        row
        for row in facts.rows
        if row.verdict == "undecided" and row.view == "back" and row.unit == "pct_height"
    ]
    assert by_size
    assert deciding.open.explained == len(by_size)
    assert "back" not in deciding.open.again


def test_ratios_too_fine_for_the_placings_are_told_once_with_how_surely_to_place(
    tmp_path: Path,
) -> None:
    folder = drifting_sheet(tmp_path, toml_extra="[tolerances]\nproportion = 0.1\n")
    facts = facts_of(folder)
    ratios = [row for row in facts.rows if (row.check, row.cause) == ("proportion", Cause.UNSURE)]
    assert ratios and {row.verdict for row in ratios} == {"not_measured"}
    deciding = build_deciding(facts)
    assert deciding is not None
    title, count, enough = deciding.unsure[-1]
    assert (title, count) == ("Proportions", len(ratios))
    assert 0.0 < enough < facts.checked.measured.placing.pct / 10.0


def test_a_question_shows_what_each_drawing_would_have_to_do(tmp_path: Path) -> None:
    drift = {("side", "chin"): (0.0, 6.0)}
    views = {"front": 0.0, "side": 90.0}
    facts = facts_of(drifting_sheet(tmp_path, drift=drift, views=views))
    deciding = build_deciding(facts)
    assert deciding is not None
    (card,) = deciding.cards
    assert card.mend == "Which is right?"
    ways = {picture.view: [way.dy for _, way in picture.moves] for picture in card.pictures}
    assert ways["side"] == [pytest.approx(6.0, abs=0.1)]
    assert ways["front"] == [pytest.approx(-6.0, abs=0.1)]
    assert all(picture.ghost.pieces for picture in card.pictures)


def test_a_waiver_of_nothing_is_told_where_something_is_to_be_done(tmp_path: Path) -> None:
    more = "[[waivers]]\ncheck='height'\nview='side'\nsubject='eyebrow'\n"
    more += "reason='drawn so'\nby='lead'\n"
    checked = check(drifting_sheet(tmp_path, toml_extra=more))
    html = " ".join(build_report(checked, checked.summary()).split())
    assert "The waiver of height on side, eyebrow, waives nothing: it is not compared there" in html


def test_where_nothing_is_to_be_decided_there_is_no_such_section(tmp_path: Path) -> None:
    folder = drifting_sheet(tmp_path)
    edit(folder / "sheet.toml", 'revision = "A"', 'revision = "A"\nplacing_sd = 0.02')
    checked = check(folder)
    html = build_report(checked, checked.summary())
    assert build_deciding(gather(checked, checked.summary())) is None
    assert 'id="deciding"' not in html
    assert 'href="#deciding' not in html

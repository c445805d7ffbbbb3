"""What the report tells below its line-up, in a browser: tables, tasks and drift plot."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal

import pytest
from playwright.sync_api import expect

from tests.browser.pages import Opened
from tests.browser.report_pages import ELBOW, ELBOW_ROW
from tests.report.drifting import LOW_ARM, drifting_sheet
from turncheck import TurncheckError
from turncheck.checking import check

pytestmark = pytest.mark.browser


def test_a_column_is_sorted_by_keyboard_and_says_so(opened: Opened) -> None:
    page = opened.page
    page.locator("#check-pivot summary").first.click()
    table = page.locator("#check-pivot table").first
    head = table.locator("th", has_text="Drift")
    head.get_by_role("button").focus()
    page.keyboard.press("Enter")
    expect(head).to_have_attribute("aria-sort", "ascending")
    values = "rows => rows.map(r => Number(r.cells[6].dataset.value))"
    rising = table.locator("tbody tr").evaluate_all(values)
    assert rising == sorted(rising)
    assert rising[0] < -2.5
    page.keyboard.press("Enter")
    expect(head).to_have_attribute("aria-sort", "descending")
    assert table.locator("tbody tr").evaluate_all(values) == sorted(rising, reverse=True)


def test_checks_are_folded_with_their_counts_and_what_is_on_model_once_more(
    opened: Opened,
) -> None:
    check = opened.page.locator("#check-pivot")
    off, calm = check.locator("tr.is-off_model").first, check.locator("tr.is-on_model").first
    expect(check.locator("summary").first).to_contain_text("off model")
    expect(off).to_be_hidden()
    check.locator("summary").first.click()
    expect(off).to_be_visible()
    expect(calm).to_be_hidden()
    fold = check.locator(".calm > summary")
    expect(fold).to_have_text(f"{check.locator('tr.is-on_model').count()} on model")
    fold.click()
    expect(calm).to_be_visible()


def test_a_waiver_to_paste_is_refused_until_its_reason_and_role_are_filled_in(
    opened: Opened, tmp_path: Path
) -> None:
    page = opened.page
    page.locator("#check-pivot summary").first.click()
    page.locator(f"{ELBOW_ROW} .accept summary").click()
    expect(page.locator(f"{ELBOW_ROW} .accept")).to_contain_text("Paste this into sheet.toml")
    pasted = page.locator(f"{ELBOW_ROW} .accept pre").inner_text()
    sheet = drifting_sheet(tmp_path / "blind", drift=LOW_ARM, toml_extra=pasted)
    with pytest.raises(TurncheckError, match="reason"):
        check(sheet)
    filled = pasted.replace('reason = ""', 'reason = "drawn so"').replace('by = ""', 'by = "lead"')
    found = check(drifting_sheet(tmp_path / "filled", drift=LOW_ARM, toml_extra=filled)).rows
    elbow = [row for row in found if (row.view, row.subject.name) == ("side", "elbow_l")]
    assert "waived" in {row.verdict for row in elbow if row.check == "pivot"}


def test_a_finding_says_whom_it_blames_and_leads_to_what_to_redraw(opened: Opened) -> None:
    page = opened.page
    page.locator("#check-pivot summary").first.click()
    blame = page.locator(f"{ELBOW_ROW} .blames a")
    expect(blame).to_have_text("side, see 1")
    blame.click()
    expect(page.locator("#redraw-1")).to_be_in_viewport()


def test_a_row_leads_to_its_mark_and_the_mark_back_to_its_row(opened: Opened) -> None:
    page = opened.page
    page.locator("#check-pivot summary").first.click()
    page.locator(f"{ELBOW_ROW} a.see").click()
    expect(page.locator(ELBOW)).to_be_focused()
    expect(page.locator(ELBOW)).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.locator(ELBOW_ROW)).to_be_focused()
    expect(page.locator(ELBOW_ROW)).to_be_in_viewport()
    page.go_back()
    expect(page.locator(ELBOW)).to_be_focused()


def test_a_row_that_is_folded_away_is_opened_by_its_link(opened: Opened) -> None:
    page = opened.page
    expect(page.locator("#check-height")).not_to_have_attribute("open", "")
    top = page.locator(".strip[aria-label^='mouth'] .spot").last  # of dots on one spot
    row = top.get_attribute("href")
    assert row is not None and row.startswith("#row-height-")
    top.locator(".hit").click()
    expect(page.locator(row)).to_be_in_viewport()


def test_pointing_at_a_dot_names_it_with_its_drawing_drift_and_verdict(opened: Opened) -> None:
    dot = opened.page.locator(".strip[aria-label^='mouth'] .spot").last
    note = dot.locator(".note")
    expect(note).to_be_hidden()
    dot.locator(".hit").hover()
    expect(note).to_be_visible()
    for view in ("front", "three quarter", "side", "back"):  # all four lie on one spot
        says = rf"mouth, {view}: .*?, ±\s0\.\d\d\s%; on model"
        expect(note).to_contain_text(re.compile(says))
        expect(opened.page.get_by_role("link", name=re.compile(f"^{says}$"))).to_have_count(1)
    label = opened.page.locator("#driftmap .off a", has_text="side: left 4.8").first
    label.focus()
    opened.page.keyboard.press("Enter")
    expect(opened.page.locator("tr.lit")).to_be_in_viewport()


def test_a_task_leads_to_its_marks(opened: Opened) -> None:
    opened.page.locator("#redraw-1 summary").click()
    opened.page.locator("#redraw-1").get_by_role("link", name="left wrist").first.click()
    expect(opened.page.locator("#mark-side-wrist_l")).to_be_focused()


#: How much of the width of a drawing put right is cut off at its left, as a share.
CUT = "take => parseFloat(getComputedStyle(take).clipPath.split(' ').pop()) / 100"


def test_a_drawing_is_wiped_to_one_put_right_by_mouse(looked_at: Opened) -> None:
    page = looked_at.page
    wipe = page.locator("#redraw-1 .wipe")
    right = wipe.locator(".take").nth(1)
    wipe.scroll_into_view_if_needed()
    box = right.bounding_box()
    assert box is not None
    middle = box["y"] + box["height"] / 2
    for share in (0.25, 0.8):
        page.mouse.move(box["x"] + 0.5 * box["width"], middle)
        page.mouse.down()
        page.mouse.move(box["x"] + share * box["width"], middle, steps=4)
        page.mouse.up()
        assert right.evaluate(CUT) == pytest.approx(share, abs=0.02)
    assert wipe.locator(".take").first.bounding_box() == right.bounding_box()


def test_a_drawing_is_wiped_to_one_put_right_by_the_arrow_keys(looked_at: Opened) -> None:
    page = looked_at.page
    bar = page.locator("#redraw-1 .wipe").get_by_role("slider")
    right = page.locator("#redraw-1 .take").nth(1)
    before = right.evaluate(CUT)
    bar.focus()
    page.keyboard.press("ArrowRight")
    assert right.evaluate(CUT) == pytest.approx(before + 0.02, abs=0.001)
    page.keyboard.press("Home")
    assert right.evaluate(CUT) == 0.0
    page.keyboard.press("End")
    assert right.evaluate(CUT) == 1.0


def test_the_piece_that_moves_lies_where_its_arrow_leads(looked_at: Opened) -> None:
    """The left arm of this body was planted 4.8 px too low."""
    found = (
        looked_at.page.locator("#redraw-1 .take")
        .nth(1)
        .evaluate(
            "take => [...take.querySelectorAll('use[mask][transform]')].map((use) =>"
            " { const m = use.transform.baseVal.consolidate().matrix; return [m.e, m.f]; })"
        )
    )
    assert found
    for across, down in found:
        assert (across, down) == (pytest.approx(0.0, abs=0.5), pytest.approx(-4.8, abs=0.5))


def test_notes_are_no_larger_than_their_rows(looked_at: Opened) -> None:
    page = looked_at.page
    size = "e => parseFloat(getComputedStyle(e).fontSize)"
    note = page.locator(".rows small").first
    media: tuple[Literal["screen", "print"], ...] = ("screen", "print")
    for one in media:
        page.emulate_media(media=one)
        assert note.evaluate(size) < page.locator(".rows tbody td").first.evaluate(size), one
    page.emulate_media(media="null")

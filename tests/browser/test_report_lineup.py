"""The line-up of the report in a browser: pointed at, gone through by keys, zoomed."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.pages import NewPage, Opened
from tests.browser.report_pages import ELBOW, focused, show_all_points

pytestmark = pytest.mark.browser


def scale_of(page: Page, mark: str) -> float:
    """Width of a mark on the screen, px."""
    box = page.locator(f"{mark} use").bounding_box()
    assert box is not None
    return box["width"]


def distance(page: Page, one: str, other: str) -> float:
    boxes = [page.locator(f"{mark} use").bounding_box() for mark in (one, other)]
    assert boxes[0] is not None and boxes[1] is not None
    return abs(boxes[0]["y"] - boxes[1]["y"])


def test_the_cards_stand_under_their_drawings(pim: Page) -> None:
    spans = "all => all.map(e => e.getBoundingClientRect()).map(b => [b.left, b.right])"
    pictures = pim.locator(".picture use").evaluate_all(spans)[:4]
    captions = pim.locator(".caption").evaluate_all(spans)
    assert len(captions) == 4
    for (left, right), (start, end) in zip(pictures, captions, strict=True):
        assert start < (left + right) / 2 < end


def test_a_whole_drawing_has_one_bracket_and_no_arrow_on_its_points(pim: Page) -> None:
    back = pim.locator(".drawing").last
    expect(back.locator(".whole")).to_have_count(1)
    moved = back.locator(".move[data-mark]").evaluate_all("all => all.map(e => e.dataset.mark)")
    assert moved == ["mark-back-knee_r"]
    expect(pim.locator("#balloon-2 .px")).to_have_text("36\N{NO-BREAK SPACE}px")  # 3.3 %


def test_pointing_at_a_mark_names_it_and_escape_takes_the_name_away(looked_at: Opened) -> None:
    tip = looked_at.page.locator(".tip")
    looked_at.page.locator(ELBOW).hover()
    expect(tip).to_contain_text("left elbow, side: off model")
    expect(tip).to_contain_text("too low")
    looked_at.page.locator(".stage").focus()
    looked_at.page.keyboard.press("Escape")
    expect(tip).to_be_hidden()


def test_the_arrow_keys_step_from_mark_to_mark_and_name_them(looked_at: Opened) -> None:
    page = looked_at.page
    page.locator(ELBOW).focus()
    page.keyboard.press("ArrowDown")
    focused = page.evaluate("document.activeElement.id")
    assert focused.startswith("mark-side-")
    assert focused != ELBOW[1:]
    expect(page.locator(".tip")).to_contain_text(", side:")
    page.keyboard.press("Escape")


def test_each_drawing_with_a_fault_is_one_stop_for_the_tab_key(opened: Opened) -> None:
    assert opened.page.locator(".mark[tabindex='0']").count() == 1
    show_all_points(opened.page)
    assert opened.page.locator(".mark[tabindex='0']").count() == 4


def test_tab_enters_the_line_up_on_the_first_fault_and_arrows_go_on(pim: Page) -> None:
    page = pim
    page.locator(".more summary").focus()
    page.keyboard.press("Tab")
    assert focused(page) == "balloon-1"
    expect(page.locator(".tip")).to_contain_text("1: Turned 36°, not 45°: redraw it at 45°")
    seen = {focused(page)}
    for key in ("ArrowRight", "ArrowDown", "ArrowDown", "ArrowRight", "ArrowUp", "ArrowRight"):
        page.keyboard.press(key)
        assert focused(page).startswith(("mark-", "balloon-"))
        seen.add(focused(page))
    assert len(seen) >= 5
    page.keyboard.press("Escape")


def test_a_balloon_and_its_card_reach_each_other_and_the_card_its_task(pim: Page) -> None:
    page = pim
    page.locator("#balloon-3").focus()
    page.keyboard.press("Enter")
    assert focused(page) == "card-3"
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    assert focused(page) == "balloon-3"
    page.locator("#card-3").get_by_text("Left arm 26 px too low").click()
    expect(page.locator("#redraw-3")).to_be_in_viewport()
    page.evaluate("scrollTo(0, 0)")


def test_leaving_a_check_out_changes_what_the_marks_say(opened: Opened) -> None:
    page = opened.page
    off = page.locator(f"{ELBOW}.is-off_model:not(.gone)")
    expect(off).to_be_visible()
    show_all_points(page)
    page.locator(".more summary").click()
    pivots = page.get_by_role("group", name="Checks").get_by_label("Pivots")
    pivots.uncheck()
    expect(off).to_have_count(0)
    pivots.check()
    expect(off).to_be_visible()
    page.get_by_label("off model", exact=True).uncheck()
    expect(page.locator(ELBOW)).to_be_hidden()
    expect(page.locator("#mark-side-knee_l")).to_be_visible()
    arrows = page.locator(f".move[data-mark='{ELBOW[1:]}']")
    expect(arrows).to_be_hidden()


@pytest.mark.parametrize("scripts", [True, False])
def test_faults_alone_are_shown_until_all_points_are_asked_for(
    drifted: Path, new_page: NewPage, scripts: bool
) -> None:
    page = new_page(java_script_enabled=scripts).page
    page.goto(drifted.as_uri())
    expect(page.locator(ELBOW)).to_be_visible()
    expect(page.locator("#mark-side-knee_l")).to_be_hidden()
    show_all_points(page)
    expect(page.locator("#mark-side-knee_l")).to_be_visible()
    page.get_by_label("Faults").check()
    expect(page.locator("#mark-side-knee_l")).to_be_hidden()


def test_lines_are_taken_away_one_kind_at_a_time(opened: Opened) -> None:
    page = opened.page
    page.locator(".more summary").click()
    for side, name in (("left", "Heights"), ("right", "Pivots")):
        line = page.locator(f".rule.{side}:not(.ground)").first
        expect(line).to_have_css("visibility", "visible")
        page.get_by_role("group", name="Lines").get_by_label(name).uncheck()
        expect(line).to_have_css("visibility", "hidden")


def test_zooming_parts_the_points_and_keeps_the_marks_size(opened: Opened) -> None:
    page = opened.page
    show_all_points(page)
    page.locator(".stage").scroll_into_view_if_needed()
    pair = (ELBOW, "#mark-side-hip_l")
    size, apart = scale_of(page, ELBOW), distance(page, *pair)
    for way in ("button", "keyboard", "wheel"):
        if way == "button":
            page.get_by_role("button", name="Zoom in").click()
        elif way == "keyboard":
            page.locator(".stage").focus()
            page.keyboard.press("+")
        else:
            page.locator(ELBOW).hover()
            page.keyboard.down("Control")
            page.mouse.wheel(0, -300)
            page.keyboard.up("Control")
        assert distance(page, *pair) > 1.15 * apart, way
        assert scale_of(page, ELBOW) == pytest.approx(size, rel=0.25), way
        page.locator(".stage").focus()
        page.keyboard.press("0")
        assert distance(page, *pair) == pytest.approx(apart, abs=0.5), way


def test_the_wheel_alone_scrolls_the_page(opened: Opened) -> None:
    page = opened.page
    show_all_points(page)
    page.locator(".stage").scroll_into_view_if_needed()
    apart = distance(page, ELBOW, "#mark-side-hip_l")
    page.locator(".lineup").hover(position={"x": 400, "y": 100})
    page.mouse.wheel(0, 200)
    page.wait_for_timeout(100)
    assert distance(page, ELBOW, "#mark-side-hip_l") == pytest.approx(apart, abs=0.5)


def test_the_names_in_the_margin_do_not_cover_each_other(looked_at: Opened) -> None:
    for side in ("left", "right"):
        boxes = looked_at.page.locator(f".margin.{side} .label text").evaluate_all(
            "all => all.map(t => t.getBoundingClientRect()).map(b => [b.top, b.bottom])"
        )
        boxes.sort()
        for (_, bottom), (top, _) in pairwise(boxes):
            assert top > bottom - 4  # the box of a line is taller than its letters


def test_the_names_beside_a_zoomed_drawing_stand_on_plain_paper(
    opened: Opened,
) -> None:
    page = opened.page
    page.locator(".more summary").click()
    page.get_by_role("button", name="Three quarter").click()
    for side in ("left", "right"):
        paper = page.locator(f".margin.{side} .paper")
        stops = page.locator(f"#fade-{side} stop").evaluate_all(
            "all => all.map(e => [e.getAttribute('offset'), getComputedStyle(e).stopOpacity])"
        )
        assert [opacity for _, opacity in stops] == ["0", "1"]
        box = paper.bounding_box()
        name = page.locator(f".margin.{side} .label:not(.gone) text").first.bounding_box()
        assert box is not None and name is not None
        clear = float(stops[1][0]) * box["width"]  # from here on nothing shows through
        if side == "right":
            assert name["x"] >= box["x"] + clear
        else:
            assert name["x"] + name["width"] <= box["x"] + box["width"] - clear


def test_arrows_across_lie_level_and_point_the_right_way(faults_looked_at: Opened) -> None:
    page = faults_looked_at.page
    way = page.locator(".move[data-mark='mark-three_quarter-knee_r']")
    box = way.locator(".way").bounding_box()
    head = way.locator(".head").bounding_box()
    at = page.locator("#mark-three_quarter-knee_r .origin").bounding_box()
    assert box is not None and head is not None and at is not None
    assert box["width"] > 8.0
    assert box["height"] < 3.0
    assert head["x"] + head["width"] / 2 > at["x"] + at["width"] / 2


def test_a_line_up_out_of_sight_keeps_its_frame(looked_at: Opened) -> None:
    seen = "document.querySelector('.lineup').getAttribute('viewBox')"
    before = looked_at.page.evaluate(seen)
    looked_at.page.evaluate(
        """async () => {
          const stage = document.querySelector(".stage");
          for (const display of ["none", ""]) {
            stage.style.display = display;
            await new Promise((done) => requestAnimationFrame(() => setTimeout(done, 50)));
          }
        }"""
    )
    assert looked_at.page.evaluate(seen) == before and not looked_at.faults

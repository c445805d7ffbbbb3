"""The page for placing, in a browser: by mouse, by keyboard and by touch."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from tests.browser.marking_pages import (
    VIEWS,
    Running,
    RunningAlone,
    choose,
    click,
    close_to,
    mark,
    open_page,
    rests,
    saved,
    show_all,
    spot,
    truth,
    width_shown,
)
from tests.browser.pages import NewPage
from turncheck.checking import check

pytestmark = pytest.mark.browser


def test_a_sheet_is_placed_by_mouse_point_by_point_on_all_drawings(
    start_alone: Callable[..., RunningAlone], new_page: NewPage
) -> None:
    running = start_alone()
    opened = open_page(new_page, running)
    page, where = opened.page, truth()
    show_all(page)
    placed = 0
    while placed < 10:
        title = page.locator("#what").inner_text()
        name = _name(title)
        for view in VIEWS:
            drawn = where[view]
            at = {"x": drawn["axis"], "y": drawn["ground"]} if name == "ground" else None
            at = at or drawn["landmarks"].get(name)
            if at is None:  # this character has none
                page.get_by_role("button", name="Not seen here").click()
                continue
            page.mouse.click(*spot(page, view, at["x"], at["y"]))
            placed += 1
            saved(page, f"{title} on {view.replace('_', ' ')}")
        expect(page.locator("#what")).not_to_have_text(title)
    rows = running.rows
    assert len(rows) == placed == 10
    one_px = width_shown(page) / page.evaluate("document.querySelector('#lineup').clientWidth")
    for (view, name, _), row in rows.items():
        if name != "ground":
            at = where[view]["landmarks"][name]
            assert close_to((float(row["x"]), float(row["y"])), at["x"], at["y"], one_px + 0.6)
    assert opened.faults == []
    assert check(running.folder).measured.figure_height == pytest.approx(1320, abs=4)


def _name(title: str) -> str:
    found = re.fullmatch(r"(left|right) (.+)", title)
    plain = f"{found[2]}_{found[1][0]}" if found else title
    return plain.replace(" ", "_")


def test_a_sheet_is_placed_by_keyboard_alone(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    views = ("front", "side", "back")
    running = start(views=views)
    opened = open_page(new_page, running)
    page, where = opened.page, truth()
    show_all(page)
    keyboard = page.keyboard

    def tab_to(view: str) -> None:
        for _ in range(400):
            if page.evaluate("document.activeElement.dataset?.view") == view:
                return
            keyboard.press("Tab")
        raise AssertionError(f"Tab never came to {view}")

    for landmark in ("ground", "chin"):
        tab_to("front")
        while page.locator("#what").inner_text() != landmark:
            keyboard.press("n")  # the next point of the list
        for view in views:
            tab_to(view)
            at = where[view]["landmarks"].get(landmark, {"x": 500, "y": where[view]["ground"]})
            while True:
                x, y = _crosshair(page)
                wx, wy = _world(page, view, at["x"], at["y"])
                dx, dy = wx - x, wy - y
                if max(abs(dx), abs(dy)) <= 0.5:
                    break
                key, far = ("Right" if dx > 0 else "Left", abs(dx))
                if far <= 0.5:
                    key, far = ("Down" if dy > 0 else "Up", abs(dy))
                keyboard.press(f"Control+Arrow{key}" if far > 20 else f"Arrow{key}")
            keyboard.press("Enter")
            saved(page, f"{landmark} on {view.replace('_', ' ')}")
    assert len(running.rows) == 6
    for view in views:
        at = where[view]["landmarks"]["chin"]
        assert close_to(running.at(view, "chin"), at["x"], at["y"], 0.6)
    assert opened.faults == []


def _crosshair(page: Page) -> tuple[float, float]:
    found = page.evaluate(
        """() => {
          const at = document.querySelector(".crosshair").transform.baseVal.consolidate().matrix;
          return [at.e, at.f];
        }"""
    )
    return float(found[0]), float(found[1])


def _world(page: Page, view: str, x: float, y: float) -> tuple[float, float]:
    found = page.evaluate(
        """([view, x, y]) => {
          const shown = document.querySelector(`[data-view="${view}"] svg`);
          const n = (name) => Number(shown.getAttribute(name));
          const [l, t, w, h] = shown.getAttribute("viewBox").split(" ").map(Number);
          return [n("x") + (x - l) / w * n("width"), n("y") + (y - t) / h * n("height")];
        }""",
        [view, x, y],
    )
    return float(found[0]), float(found[1])


def test_a_mark_is_nudged_by_arrow_keys_and_named_for_those_who_hear_it(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    page = open_page(new_page, running).page
    choose(page, "left knee", "side")
    knee = mark(page, "side", "knee_l", "wren")
    expect(knee).to_have_accessible_name(
        "left knee on side, too close to call, hidden behind another part, placed by wren"
    )
    x, y = running.at("side", "knee_l", "wren")
    knee.focus()
    for key in ("ArrowRight", "ArrowRight", "ArrowDown", "Shift+ArrowUp"):
        page.keyboard.press(key)
    saved(page, "left knee on side")
    assert running.at("side", "knee_l", "wren") == pytest.approx((x + 2, y + 0.9), abs=0.011)
    assert knee.evaluate("element => element === document.activeElement")
    page.keyboard.press("h")
    expect(knee).to_have_accessible_name("left knee on side, on model, placed by wren")
    page.keyboard.press("Delete")
    expect(knee).to_have_count(0)
    rests(page)
    assert ("side", "knee_l", "wren") not in running.rows
    assert page.evaluate("document.activeElement.dataset.view") == "side"


def test_the_verdict_beside_a_dragged_mark_is_the_checks(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    opened = open_page(new_page, running)
    page = opened.page
    choose(page, "chin", "side")
    chin = mark(page, "side", "chin", "wren")
    expect(chin.locator("text")).to_have_text("on model")
    x, y = running.at("side", "chin", "wren")
    page.mouse.move(*spot(page, "side", x, y))
    page.mouse.down()
    page.mouse.move(*spot(page, "side", x, y + 15), steps=4)
    page.mouse.move(*spot(page, "side", x, y + 30), steps=4)
    expect(chin.locator("text")).to_have_text(re.compile(r"^\d+ px too low$"))
    expect(page.locator("#magnifier")).to_be_visible()
    assert running.at("side", "chin", "wren") == (x, y), "nothing is saved before it is dropped"
    page.mouse.up()
    saved(page, "chin on side")
    said = chin.locator("text").text_content()
    rows = check(running.folder).findings
    row = rows[(rows["view"] == "side") & (rows["subject"] == "chin")].iloc[0]
    assert said == f"{-row['drift_px']:.0f} px too low"
    assert row["verdict"] == "off_model"
    assert opened.faults == []


def test_a_height_is_ruled_across_the_other_views_with_its_tolerance(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start()
    page = open_page(new_page, running).page
    where = truth()
    show_all(page)
    for view in VIEWS:
        click(page, view, 500, where[view]["ground"])
        saved(page, f"ground on {view.replace('_', ' ')}")
    click(page, "front", 500, where["front"]["landmarks"]["crown"]["y"])
    saved(page, "crown on front")
    expect(page.locator("#lineup .band")).to_have_count(len(VIEWS) - 1)
    # in one step: the page may draw the bands anew between two
    band = page.evaluate("document.querySelector('#lineup .band').getBoundingClientRect().toJSON()")
    _, ruled = spot(page, "side", 500, where["side"]["landmarks"]["crown"]["y"])
    assert band["y"] <= ruled <= band["y"] + band["height"]
    low, high = spot(page, "side", 0, 1440)[1], spot(page, "side", 0, 120)[1]
    assert band["height"] == pytest.approx(0.02 * (low - high), rel=0.05)  # ± 1 % of the figure


def test_the_ground_follows_the_pointer_and_no_farther(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    page = open_page(new_page, running).page
    show_all(page)
    choose(page, "ground")
    x, y = running.at("side", "ground", "wren")
    left, top = spot(page, "side", 450, y)
    one_px = width_shown(page) / page.evaluate("document.querySelector('#lineup').clientWidth")
    page.mouse.move(left, top)
    page.mouse.down()
    for up in range(5, 45, 5):  # slowly, so that the measuring answers in between
        page.mouse.move(left, top - up)
        page.wait_for_timeout(80)
    page.mouse.up()
    saved(page, "ground on side")
    assert running.at("side", "ground", "wren") == pytest.approx((x, y - 40 * one_px), abs=0.1)


def test_the_other_side_is_proposed_with_its_own_and_taken_by_one_key(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start()
    page = open_page(new_page, running).page
    where = truth()["front"]["landmarks"]
    choose(page, "chin")
    click(page, "front", where["chin"]["x"], where["chin"]["y"])
    saved(page, "chin on front")
    choose(page, "left knee")
    click(page, "front", where["knee_l"]["x"], where["knee_l"]["y"])
    saved(page, "left knee on front")
    expect(page.locator("#what")).to_have_text("right knee")
    page.keyboard.press("t")
    saved(page, "right knee on front")
    left, right, chin = (running.at("front", name) for name in ("knee_l", "knee_r", "chin"))
    assert (left[0] + right[0]) / 2 == pytest.approx(chin[0], abs=0.02)
    assert left[1] == right[1]
    choose(page, "right knee", "side")
    click(page, "side", 500, 1063)
    page.keyboard.press("Enter")
    saved(page, "left knee on side")
    assert running.at("side", "knee_l") == running.at("side", "knee_r")
    assert running.rows["side", "knee_l", ""]["visibility"] == "hidden"  # it lies behind


def test_placing_again_under_a_name_makes_a_repeat(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    page = open_page(new_page, running).page
    page.get_by_text("More", exact=True).click()
    page.locator("#by").fill("ana")
    page.get_by_text("More", exact=True).click()
    choose(page, "chin")
    where = truth()["front"]["landmarks"]["chin"]
    for name in ("ana", "ana#2"):
        page.get_by_role("button", name="Place again").click()
        click(page, "front", where["x"] + 30, where["y"])
        expect(mark(page, "front", "chin", name)).to_have_count(1)
    rests(page)
    assert {by for view, landmark, by in running.rows if (view, landmark) == ("front", "chin")} == {
        "wren",
        "ana",
        "ana#2",
    }
    expect(page.locator(".chip.current")).to_contain_text("mean of 3 placings")
    page.reload()
    expect(page.locator("#by")).to_have_value("ana")  # who places is remembered


def test_a_click_beside_a_proposal_places_just_there_and_enter_takes_the_proposal(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start()
    page = open_page(new_page, running).page
    proposal = page.locator('[data-proposal=\'["front","ground"]\']')
    expect(proposal).to_be_visible()
    box = proposal.locator(".hit").evaluate("hit => hit.getBoundingClientRect().toJSON()")
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2 - 7)
    saved(page, "ground on front")
    placed = running.at("front", "ground")[1]
    assert placed < truth()["front"]["ground"] - 5
    page.keyboard.press("Control+z")
    expect(mark(page, "front", "ground")).to_have_count(0)
    rests(page)
    choose(page, "ground")
    proposal.focus()
    page.keyboard.press("Enter")
    expect(mark(page, "front", "ground")).to_be_visible()
    saved(page, "ground on front")
    assert running.at("front", "ground")[1] == pytest.approx(truth()["front"]["ground"], abs=2)


def test_of_a_bare_shape_the_ground_alone_can_be_taken(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start()
    page = open_page(new_page, running).page
    expect(page.locator("#take")).to_be_enabled()
    choose(page, "crotch")
    hint = page.locator('[data-proposal=\'["front","crotch"]\']')
    expect(hint).to_have_accessible_name(re.compile("unsure$"))
    expect(page.locator("#take")).to_be_disabled()
    expect(page.locator("#do")).to_contain_text("a guess too unsure to take")
    hint.focus()
    for key in ("Enter", "t"):
        page.keyboard.press(key)
    rests(page)
    assert running.rows == {}


def test_taking_whatever_is_proposed_never_makes_a_clean_sheet_off_model(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    """One drawing is placed by hand; on the others every proposal is taken unseen."""
    running = start(keep=True, views=("front", "side", "back"))
    table = running.folder / "landmarks.csv"
    kept = [row for row in table.read_text("utf-8").splitlines(keepends=True)]
    table.write_text("".join(row for row in kept if row.startswith(("view", "front"))), "utf-8")
    page = open_page(new_page, running).page
    for _ in range(90):
        rests(page)
        if page.locator("#what").inner_text() == "All points are done":
            break
        page.keyboard.press("t" if page.locator("#take").is_enabled() else "x")
    rows = running.rows
    assert len(rows) > 70
    assert not check(running.folder).findings["verdict"].eq("off_model").any()


def test_a_tap_places_and_two_fingers_zoom(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start()
    opened = open_page(
        new_page, running, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    )
    page = opened.page
    x, y = spot(page, "front", 500, 1440)
    page.touchscreen.tap(x, y)
    saved(page, "ground on front")
    assert close_to(running.at("front", "ground"), 500, 1440, 3)
    before = page.locator("#lineup").get_attribute("viewBox")
    client = page.context.new_cdp_session(page)
    for kind, apart in (("touchStart", 40), ("touchMove", 80), ("touchMove", 120)):
        points = [{"x": 195 - apart, "y": 500, "id": 0}, {"x": 195 + apart, "y": 500, "id": 1}]
        client.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    client.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    after = page.locator("#lineup").get_attribute("viewBox")
    widths = [float(box.split()[2]) for box in (before or "", after or "")]
    assert widths[1] == pytest.approx(widths[0] / 3, rel=0.05)
    assert len(running.rows) == 1, "a pinch places nothing"
    assert opened.faults == []


def test_a_finger_held_aims_through_the_lens(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start()
    page = open_page(
        new_page, running, viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True
    ).page
    x, y = spot(page, "front", 500, 1380)
    client = page.context.new_cdp_session(page)
    touch = "Input.dispatchTouchEvent"
    client.send(touch, {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    expect(page.locator("#magnifier")).to_be_visible()
    x, y = spot(page, "front", 500, 1440)
    client.send(touch, {"type": "touchMove", "touchPoints": [{"x": x, "y": y}]})
    assert running.rows == {}
    client.send(touch, {"type": "touchEnd", "touchPoints": []})
    saved(page, "ground on front")
    assert close_to(running.at("front", "ground"), 500, 1440, 3)


def test_ctrl_and_wheel_zoom_where_the_pointer_is_and_marks_keep_their_size(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    page = open_page(new_page, running).page
    show_all(page)
    choose(page, "left knee")
    x, y = running.at("front", "knee_l", "wren")
    before = spot(page, "front", x, y)
    box = mark(page, "front", "knee_l", "wren").locator(".hit").bounding_box()
    pointer = (round(before[0]), round(before[1]))
    page.mouse.move(*pointer)
    under = [pointer[i] - before[i] for i in (0, 1)]
    width = width_shown(page)
    page.keyboard.down("Control")
    for _ in range(5):
        page.mouse.wheel(0, -240)
    page.keyboard.up("Control")
    page.wait_for_timeout(100)
    closer = width / width_shown(page)
    assert closer > 4
    after = spot(page, "front", x, y)
    assert after == pytest.approx([pointer[i] - under[i] * closer for i in (0, 1)], abs=1)
    now = mark(page, "front", "knee_l", "wren").locator(".hit").bounding_box()
    assert box is not None and now is not None
    assert now["width"] == pytest.approx(box["width"], abs=0.5)
    page.mouse.down()
    page.mouse.up()
    assert running.at("front", "knee_l", "wren") == (x, y), "a click on a mark does not move it"


def test_the_wheel_alone_moves_the_paper_and_so_does_a_drag_with_the_space_bar_held(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    page = open_page(new_page, running).page
    choose(page, "left knee")
    at = running.at("front", "knee_l", "wren")
    x, y = spot(page, "front", *at)
    width = width_shown(page)
    page.mouse.move(x, y)
    page.mouse.wheel(0, 60)
    page.wait_for_timeout(100)
    assert width_shown(page) == pytest.approx(width)
    assert spot(page, "front", *at) == pytest.approx((x, y - 60), abs=1)
    page.mouse.wheel(0, -60)
    page.wait_for_timeout(100)
    page.keyboard.down(" ")
    page.mouse.down()
    page.mouse.move(x + 50, y + 30, steps=4)
    page.mouse.up()
    page.keyboard.up(" ")
    assert spot(page, "front", *at) == pytest.approx((x + 50, y + 30), abs=1)
    page.wait_for_timeout(300)
    assert running.at("front", "knee_l", "wren") == at, "the mark under the pointer lies still"

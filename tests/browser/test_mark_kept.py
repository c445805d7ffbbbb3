"""The page for placing, when things go wrong: nothing is lost, nothing runs, all can be read."""

from __future__ import annotations

import json
import os
import shutil
import signal
from collections.abc import Callable
from pathlib import Path
from typing import Literal

import pytest
from playwright.sync_api import Route, expect

from tests.browser.marking_pages import (
    SAMPLES,
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
)
from tests.browser.pages import NewPage
from turncheck.checking import check

pytestmark = pytest.mark.browser


def test_a_nudge_is_saved_when_the_page_is_closed_at_once(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    page = open_page(new_page, running).page
    choose(page, "chin")
    x, y = running.at("front", "chin", "wren")
    mark(page, "front", "chin", "wren").focus()
    page.keyboard.press("ArrowDown")
    page.goto("about:blank")
    for _ in range(200):  # 10 s, for a machine with much else to do
        if running.at("front", "chin", "wren") != (x, y):
            break
        page.wait_for_timeout(50)
    assert running.at("front", "chin", "wren") == pytest.approx((x, y + 1))


def test_undo_and_redo_walk_through_every_change(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    page = open_page(new_page, running).page
    before = (running.folder / "landmarks.csv").read_text("utf-8")
    choose(page, "left knee")
    mark(page, "front", "knee_l", "wren").focus()
    page.keyboard.press("ArrowRight")
    saved(page, "left knee on front")
    page.locator("#hide").click()
    expect(page.locator("#hide")).to_have_attribute("aria-pressed", "true")
    page.locator("#remove").click()
    expect(mark(page, "front", "knee_l", "wren")).to_have_count(0)
    for _ in range(3):
        page.locator("#undo").click()
    expect(page.locator("#undo")).to_be_disabled()
    rests(page)
    after = (running.folder / "landmarks.csv").read_text("utf-8")
    assert sorted(after.splitlines()) == sorted(before.splitlines())
    page.keyboard.press("Control+y")
    page.keyboard.press("Control+Shift+Z")
    page.keyboard.press("Control+y")
    expect(page.locator("#redo")).to_be_disabled()
    expect(mark(page, "front", "knee_l", "wren")).to_have_count(0)


def test_the_server_killed_in_the_middle_loses_nothing(
    start_alone: Callable[..., RunningAlone], new_page: NewPage
) -> None:
    running = start_alone()
    page = open_page(new_page, running).page
    show_all(page)
    click(page, "front", 500, 1440)
    saved(page, "ground on front")
    click(page, "side", 500, 1440)
    saved(page, "ground on side")
    running.stop(signal.SIGKILL)
    click(page, "back", 500, 1440)
    expect(page.locator("#news")).to_contain_text("turncheck is not running")
    expect(page.locator("#news")).to_contain_text("The last change is kept here")
    expect(mark(page, "back", "ground")).to_have_count(1)
    assert set(running.rows) == {("front", "ground", ""), ("side", "ground", "")}
    assert not [name for name in os.listdir(running.folder) if name.startswith(".")]
    start_alone(folder=running.folder)  # at the same address: the page goes on
    expect(page.locator("#notice")).to_be_hidden()
    saved(page, "ground on back")
    assert len(running.rows) == 3


def test_a_kill_at_any_moment_leaves_a_whole_table(
    start_alone: Callable[..., RunningAlone], new_page: NewPage
) -> None:
    running = start_alone(keep=True)
    page = open_page(new_page, running).page
    count = len(running.rows)
    choose(page, "chin")
    mark(page, "front", "chin", "wren").focus()
    page.evaluate(
        """async () => {
          const step = { view: "front", landmark: "chin", by: "wren", x: 500 };
          const headers = { "Content-Type": "application/json" };
          window.flood = (async () => {
            let { hash } = await (await fetch("hash")).json();
            for (let i = 0; ; i += 1) {
              const body = JSON.stringify({ base: hash, steps: [{ ...step, y: 340 + (i % 7) }] });
              const answer = await fetch("change", { method: "POST", headers, body });
              hash = (await answer.json()).hash;
            }
          })().catch(() => {});
        }"""
    )
    page.wait_for_timeout(700)
    running.stop(signal.SIGKILL)
    assert len(running.rows) == count
    check(running.folder)


def test_two_pages_at_once_see_each_other_and_overwrite_nothing(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start()
    one, other = (open_page(new_page, running).page for _ in range(2))
    for page in (one, other):
        show_all(page)
    click(one, "front", 500, 1440)
    saved(one, "ground on front")
    click(other, "side", 500, 1440)  # it may still know the empty table
    saved(other, "ground on side")
    assert set(running.rows) == {("front", "ground", ""), ("side", "ground", "")}
    expect(mark(other, "front", "ground")).to_have_count(1)
    expect(mark(one, "side", "ground")).to_have_count(1)  # it looks by itself


def test_of_two_changes_to_one_placing_the_first_stays_until_a_person_says_otherwise(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start()
    page = open_page(new_page, running).page
    table = running.folder / "landmarks.csv"
    table.write_text(
        "view,landmark,x,y,visibility,sd,placed_by\nfront,ground,400,1430,,,\n", "utf-8"
    )
    page.mouse.click(*spot(page, "front", 500, 1440))
    expect(page.locator("#news")).to_contain_text(
        "landmarks.csv was changed elsewhere; this is the newer one. "
        "Your change to ground on front was not saved."
    )
    assert running.at("front", "ground") == (400, 1430)
    page.get_by_role("button", name="Make it again").click()
    saved(page, "ground on front")
    assert close_to(running.at("front", "ground"), 500, 1440, 2)


def test_of_changes_that_wait_only_the_one_that_clashes_is_held_back(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    """Three wait behind the first; one of them is of a point that is placed elsewhere."""
    running = start()
    page = open_page(new_page, running).page
    table = running.folder / "landmarks.csv"
    head = "view,landmark,x,y,visibility,sd,placed_by\n"
    choose(page, "nose tip", "front")

    held: list[Route] = []
    page.route("**/change", lambda route: route.continue_() if held else held.append(route))
    for y in (260, 290, 330, 370):  # nose tip, mouth, chin, and the next
        page.mouse.click(*spot(page, "front", 500, y))
    table.write_text(f"{head}front,chin,400,300,,,\n", "utf-8")
    held[0].continue_()
    expect(page.locator("#news")).to_contain_text("Your change to chin on front was not saved.")
    rests(page)
    assert running.at("front", "chin") == (400, 300)
    assert {"nose_tip", "mouth"} < {name for _, name, _ in running.rows}
    assert len(running.rows) == 4
    page.get_by_role("button", name="Make it again").click()
    saved(page, "chin on front")
    assert running.at("front", "chin") != (400, 300)


def test_a_click_while_the_file_has_a_bad_row_is_kept_and_saved_when_it_is_mended(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start()
    page = open_page(new_page, running).page
    click(page, "front", 500, 1440)
    saved(page, "ground on front")
    table = running.folder / "landmarks.csv"
    text = table.read_text("utf-8")
    table.write_text(text + "front,chim,500,341,visible,,pen\n", "utf-8")
    for view in ("side", "three_quarter"):
        click(page, view, 500, 1440)
        expect(mark(page, view, "ground")).to_have_count(1)
    expect(page.locator("#news")).to_contain_text('did you mean "chin"')
    expect(page.locator("#news")).to_contain_text("The last 2 changes are kept here")
    assert table.read_text("utf-8").endswith("pen\n")
    table.write_text(text, "utf-8")
    expect(page.locator("#notice")).to_be_hidden()
    rests(page)
    assert {view for view, _, _ in running.rows} == {"front", "side", "three_quarter"}


def test_a_change_made_in_an_editor_is_shown_and_a_broken_one_is_said(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    page = open_page(new_page, running).page
    table = running.folder / "landmarks.csv"
    text = table.read_text("utf-8")
    table.write_text(text + "# by hand\nfront,chin,500,341,visible,,pen\n", "utf-8")
    expect(page.locator("#news")).to_have_text(
        "landmarks.csv was changed elsewhere; this is the newer one."
    )
    expect(mark(page, "front", "chin", "pen")).to_have_count(1)
    table.write_text(text + "front,chim,500,341,visible,,pen\n", "utf-8")
    expect(page.locator("#news")).to_contain_text('did you mean "chin"')
    table.write_text(text, "utf-8")
    expect(page.locator("#notice")).to_contain_text("this is the newer one")
    choose(page, "chin")
    mark(page, "front", "chin", "wren").focus()
    page.keyboard.press("ArrowUp")
    saved(page, "chin on front")
    assert "# by hand" not in table.read_text("utf-8")


STALE = "sheet.toml or a drawing was changed; reload to see it"


def test_a_changed_sheet_is_said_and_shown_by_a_reload_that_loses_nothing(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    opened = open_page(new_page, running)
    page = opened.page
    expect(page.locator("#stale")).to_be_hidden()
    choose(page, "chin")
    sheet = running.folder / "sheet.toml"
    text = sheet.read_text("utf-8")
    more = '\n[landmarks.pennon]\nkind = "height"\nsays = "tip of the pennon"\n'
    sheet.write_text(text + more, "utf-8")
    chin = mark(page, "front", "chin", "wren")
    x, y = running.at("front", "chin", "wren")
    chin.focus()
    page.keyboard.press("ArrowDown")
    saved(page, "chin on front")
    expect(page.locator("#stale")).to_contain_text(STALE)
    assert running.at("front", "chin", "wren") == pytest.approx((x, y + 1))
    chin.focus()
    page.keyboard.press("ArrowDown")
    page.get_by_role("button", name="Reload").click()  # before the nudge is saved by itself
    page.locator(".landmark", has_text="pennon").wait_for(state="attached")
    page.wait_for_selector("body[data-ready]")
    choose(page, "pennon")
    expect(page.locator("#stale")).to_be_hidden()
    assert running.at("front", "chin", "wren") == pytest.approx((x, y + 2))
    show_all(page)
    click(page, "front", 500, 700)
    saved(page, "pennon on front")
    assert ("front", "pennon", "") in running.rows
    assert opened.faults == []


def test_no_notice_moves_the_paper_under_a_mark_that_is_dragged(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    page = open_page(new_page, running).page
    choose(page, "chin", "side")
    x, y = running.at("side", "chin", "wren")
    page.mouse.move(*spot(page, "side", x, y))
    page.mouse.down()
    page.mouse.move(*spot(page, "side", x, y + 20), steps=3)
    sheet = running.folder / "sheet.toml"
    sheet.write_text(sheet.read_text("utf-8") + "\n# by hand\n", "utf-8")
    page.evaluate("dispatchEvent(new Event('focus'))")  # it looks at the files
    page.wait_for_timeout(300)
    expect(page.locator("#stale")).to_be_hidden()
    page.mouse.up()
    saved(page, "chin on side")
    expect(page.locator("#stale")).to_be_visible()


def test_a_page_beside_the_one_loaded_again_is_told_too_and_a_redrawn_view_as_well(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    one, other = (open_page(new_page, running).page for _ in range(2))
    shutil.copy(running.folder / "front.png", running.folder / "back.png")
    for page in (one, other):
        expect(page.locator("#stale")).to_contain_text(STALE)
    one.get_by_role("button", name="Reload").click()
    expect(one.locator("#stale")).to_be_hidden()
    with other.expect_response("**/hash"):  # one more look at the files
        other.evaluate("dispatchEvent(new Event('focus'))")
    other.evaluate("new Promise((done) => setTimeout(done))")
    expect(other.locator("#stale")).to_be_visible()


def test_a_sheet_with_faults_is_said_by_a_reload_and_goes_on_when_mended(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start(keep=True)
    page = open_page(new_page, running).page
    before = running.rows
    sheet = running.folder / "sheet.toml"
    text = sheet.read_text("utf-8")
    sheet.write_text(text.replace("yaw = 90", 'yaw = "east"'), "utf-8")
    expect(page.locator("#stale")).to_be_visible()
    page.get_by_role("button", name="Reload").click()
    expect(page.locator("#news")).to_contain_text("yaw")
    sheet.write_text(text, "utf-8")
    page.reload()
    expect(page.locator("#done")).to_contain_text("done")
    expect(page.locator("#notice")).to_be_hidden()
    assert running.rows == before


def test_undoing_what_was_changed_elsewhere_since_is_refused(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start()
    page = open_page(new_page, running).page
    click(page, "front", 500, 1440)
    saved(page, "ground on front")
    table = running.folder / "landmarks.csv"
    table.write_text(table.read_text("utf-8").replace("front,ground,", "front,ground,1"), "utf-8")
    expect(page.locator("#news")).to_contain_text("changed elsewhere")
    table_now = table.read_text("utf-8")
    page.locator("#undo").click()
    expect(page.locator("#news")).to_contain_text("that step was left out")
    assert table.read_text("utf-8") == table_now


HOSTILE = [
    "a b.png",
    "Müller ✎ 人.png",
    'it\'s "quoted".png',
    "<img src=x onerror=window.ran=1>.png",
    "%2e%2e&amp;#'.png",
]


def test_hostile_names_are_shown_and_never_run(
    start: Callable[..., Running], new_page: NewPage, tmp_path: Path
) -> None:
    folder = tmp_path / "a sheet with 'quotes' & <b>"
    folder.mkdir()
    lines = [
        'character = "<img src=x onerror=window.ran=1>"',
        'revision = "</title><script>window.ran=1</script>"',
        'reference = "view 0"',
    ]
    for number, name in enumerate(HOSTILE):
        shutil.copy(SAMPLES / "odo" / "front.png", folder / name)
        lines += [f'[views."view {number}"]', f"image = {json.dumps(name)}", f"yaw = {30 * number}"]
    hostile = "<img src=x onerror='window.ran=1'>"
    lines += [f"[landmarks.ground]\nsays = {json.dumps(hostile)}"]
    (folder / "sheet.toml").write_text("\n".join(lines), "utf-8")
    running = start(folder=folder)
    opened = open_page(new_page, running)
    page = opened.page
    expect(page.locator("h1")).to_have_text("<img src=x onerror=window.ran=1>")
    expect(page.locator("#says")).to_have_text(hostile)
    page.get_by_text("More", exact=True).click()
    page.locator("#by").fill("<script>window.ran=1</script>")
    page.get_by_text("More", exact=True).click()
    show_all(page)
    click(page, "view 2", 500, 1440)
    saved(page, "ground on view 2")
    assert page.evaluate("window.ran") is None
    assert page.locator("img, main script").count() == 0
    assert ("view 2", "ground", "<script>window.ran=1</script>") in running.rows
    assert opened.faults == []
    assert all(url.startswith(running.url) for url in opened.requests)


@pytest.mark.parametrize(
    ("keep", "seen"),
    [
        (True, (("light", 1440), ("dark", 1440), ("dark", 390))),
        (False, (("light", 1440), ("light", 390))),
    ],
)
def test_axe_finds_nothing_and_nothing_spills_over(
    start: Callable[..., Running],
    new_page: NewPage,
    keep: bool,
    seen: tuple[tuple[Literal["light", "dark"], int], ...],
) -> None:
    running = start("pim", keep=keep)
    opened = open_page(new_page, running)
    page = opened.page
    if keep:
        choose(page, "left knee")
    page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    rests(page)
    for scheme, width in seen:
        page.emulate_media(color_scheme=scheme)
        page.set_viewport_size({"width": width, "height": 900})
        page.evaluate("new Promise(requestAnimationFrame)")
        assert opened.violations() == [], (scheme, width)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert opened.faults == []


def test_at_200_percent_everything_is_still_there(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start()
    opened = open_page(new_page, running, viewport={"width": 720, "height": 450})
    page = opened.page
    assert page.evaluate("document.documentElement.scrollWidth") <= 720
    page.locator("#drawings .stage").scroll_into_view_if_needed()
    click(page, "front", 500, 1440)
    saved(page, "ground on front")


def test_ctrl_c_ends_with_a_friendly_line(start_alone: Callable[..., RunningAlone]) -> None:
    running = start_alone()
    said = running.stop(signal.SIGINT)
    assert running.process.returncode == 0
    assert "Everything that was placed is in landmarks.csv" in said
    assert not (running.folder / "landmarks.csv").exists()

"""The page for placing is readable: words, names and what is worked on are in sight."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser.letters import LETTERS
from tests.browser.marking_pages import (
    Running,
    choose,
    mark,
    open_page,
    rests,
    saved,
    show_all,
    spot,
    unreadable,
    unreadable_going_through,
    wear,
)
from tests.browser.pages import NewPage
from tests.places import SAMPLES

pytestmark = pytest.mark.browser

LONG = "badge_on_the_outer_side_of_the_strap_over_the_left_shoulder"


def add_a_long_name(folder: Path) -> None:
    """Add a landmark with a long name, placed on the outer drawings."""
    sheet = folder / "sheet.toml"
    known = f'\n[landmarks.{LONG}]\nkind = "height"\npart = "torso"\nsays = "its upper edge"\n'
    sheet.write_text(sheet.read_text("utf-8") + known, "utf-8")
    table = folder / "landmarks.csv"
    rows = f"front,{LONG},640,800,,,\nback,{LONG},640,830,,,\n"
    table.write_text(table.read_text("utf-8") + rows, "utf-8")


@pytest.fixture(scope="module")
def long_named(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Running]]:
    """Samples with a long name in them; the tests only look at them."""
    running = {}
    for sample in ("pim", "odo"):
        folder = tmp_path_factory.mktemp("long") / sample
        shutil.copytree(SAMPLES / sample, folder)
        add_a_long_name(folder)
        running[sample] = Running(folder)
    yield running
    for one in running.values():
        one.end()


@pytest.fixture(scope="module")
def pim(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """Pim with all that is placed; the tests only look at it."""
    folder = tmp_path_factory.mktemp("sight") / "pim"
    shutil.copytree(SAMPLES / "pim", folder)
    running = Running(folder)
    yield running
    running.end()


@pytest.mark.parametrize(
    ("sample", "letters", "screen"),
    [
        ("pim", "usual", (1440, 900)),
        ("odo", "usual", (1024, 768)),
        ("pim", "narrow", (1024, 768)),
        ("pim", "wide", (1440, 900)),
        ("odo", "wide", (1024, 768)),
        ("odo", "machine", (1024, 768)),
    ],
)
def test_no_words_on_the_drawings_are_cut_or_cover_others(
    long_named: dict[str, Running],
    new_page: NewPage,
    sample: str,
    letters: str,
    screen: tuple[int, int],
) -> None:
    viewport = {"width": screen[0], "height": screen[1]}
    opened = open_page(new_page, long_named[sample], letters, viewport=viewport)
    page = opened.page
    expect(page.get_by_text(LONG.replace("_", " "), exact=True).first).to_be_attached()
    assert unreadable(page) == []
    show_all(page)
    for then, number in (("#what", 0), (".chip", 0), (".chip", 2)):
        count, found = unreadable_going_through(page, then, number)
        assert count > 30
        assert found == [], f"after {then} {number}"
    assert opened.faults == []


def test_the_letters_are_narrow_usual_and_wide(pim: Running, new_page: NewPage) -> None:
    """What the layout is tried in is what it says, and the machine's own are other ones."""
    wide = {}
    page = new_page().page
    for letters in LETTERS:
        wear(page, letters)
        page.goto(f"{pim.url}icon.svg")  # nothing to be loaded but the letters
        wide[letters] = page.evaluate(NAMED)
    assert wide["narrow"] == pytest.approx(0.8 * wide["usual"], rel=0.02)
    assert wide["wide"] == pytest.approx(1.3 * wide["usual"], rel=0.02)
    assert abs(wide["machine"] / wide["usual"] - 1.0) > 0.02


#: How wide the name of a drawing is in the page's own styles.
NAMED = """async () => {
  const ns = "http://www.w3.org/2000/svg";
  const loaded = ["fonts.css", "colours.css", "marks.css"].map((href) => new Promise((done) => {
    const link = document.createElementNS("http://www.w3.org/1999/xhtml", "link");
    Object.assign(link, { rel: "stylesheet", href, onload: done });
    document.documentElement.append(link);
  }));
  await Promise.all(loaded);
  const text = document.createElementNS(ns, "text");
  text.setAttribute("class", "name");
  text.textContent = "front";
  document.documentElement.append(text);
  document.documentElement.setAttribute("class", "lineup");
  text.getComputedTextLength();
  await document.fonts.ready;
  return text.getComputedTextLength();
}"""


def test_the_words_turn_away_from_every_edge(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start("pim", keep=True)
    page = open_page(new_page, running, viewport={"width": 1024, "height": 768}).page
    choose(page, "left knee", "three_quarter")
    label = mark(page, "three_quarter", "knee_l", "wren").locator("text")
    room = page.locator("#lineup").bounding_box()
    assert room is not None
    right, low = room["x"] + room["width"], room["y"] + room["height"]
    middle = ((room["x"] + right) / 2, (room["y"] + low) / 2)
    placed = running.at("three_quarter", "knee_l", "wren")
    for x, y in [
        (room["x"] + 12, room["y"] + 12),
        (right - 12, room["y"] + 12),
        (right - 12, low - 12),
        (room["x"] + 12, low - 12),
    ]:
        at = spot(page, "three_quarter", *placed)
        held = [
            at[0] + (40 if at[0] < middle[0] else -40),
            at[1] + (40 if at[1] < middle[1] else -40),
        ]
        page.mouse.move(*held)
        page.mouse.down()
        page.mouse.move(held[0] + x - at[0], held[1] + y - at[1], steps=5)
        page.mouse.up()
        assert spot(page, "three_quarter", *placed) == pytest.approx((x, y), abs=2)
        box = label.bounding_box()
        assert box is not None
        assert room["x"] <= box["x"] and box["x"] + box["width"] <= right
        assert room["y"] <= box["y"] and box["y"] + box["height"] <= low


def test_a_drawing_seen_from_close_by_keeps_its_name_and_its_ground_in_hand(
    pim: Running, new_page: NewPage
) -> None:
    page = open_page(new_page, pim).page
    choose(page, "left ankle", "side")
    room = page.locator("#lineup").bounding_box()
    name = page.locator("[data-view=side] .name").bounding_box()
    assert room is not None and name is not None
    assert room["y"] <= name["y"] <= room["y"] + 20
    assert room["x"] <= name["x"] and name["x"] + name["width"] <= room["x"] + room["width"]
    for _ in range(6):
        page.get_by_role("button", name="Zoom in").click()
    choose(page, "ground")
    hold = mark(page, "side", "ground", "wren").locator(".hit").bounding_box()
    assert hold is not None
    assert room["x"] <= hold["x"] + hold["width"] / 2 <= room["x"] + room["width"]


def test_tab_brings_the_cross_of_the_next_drawing_into_sight(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start("pim", keep=False)
    page = open_page(new_page, running).page
    choose(page, "chin")
    page.keyboard.press("Tab")  # so that the page is used by keyboard
    page.locator("[data-view=front]").focus()
    for view in ("three_quarter", "side", "back"):
        for _ in range(5):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.dataset.view") == view:
                break
        room = page.locator("#lineup").bounding_box()
        cross = page.locator(".crosshair").bounding_box()
        assert room is not None and cross is not None
        assert room["x"] <= cross["x"] and cross["x"] + cross["width"] <= room["x"] + room["width"]
        lens = page.locator("#magnifier").bounding_box()
        assert lens is not None and lens["x"] + lens["width"] <= room["x"] + room["width"]


def test_the_mark_under_the_hand_is_the_one_that_the_panel_speaks_of(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start("pim", keep=True)
    page = open_page(new_page, running).page
    show_all(page)
    choose(page, "chin")
    expect(page.locator("#about")).to_have_text("chin on front")
    x, y = running.at("side", "chin", "wren")
    page.mouse.move(*spot(page, "side", x, y))
    page.mouse.down()
    page.mouse.move(*spot(page, "side", x, y + 25), steps=4)
    expect(page.locator("#about")).to_have_text("chin on side")
    page.mouse.up()
    saved(page, "chin on side")


def test_a_width_is_judged_while_it_is_dragged(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    running = start("pim", keep=True)
    page = open_page(new_page, running).page
    choose(page, "left cheek")
    cheek = mark(page, "front", "cheek_l", "wren")
    expect(cheek.locator("text")).to_have_text("on model")
    expect(mark(page, "side", "cheek_l", "wren").locator("text")).to_have_text("")
    x, y = running.at("front", "cheek_l", "wren")
    page.mouse.move(*spot(page, "front", x, y))
    page.mouse.down()
    page.mouse.move(*spot(page, "front", x + 60, y), steps=6)
    expect(cheek.locator("text")).to_have_text(re.compile(r"^\d+ px too far right$"))
    chip = page.locator(".chip", has_text="front")
    expect(chip).to_contain_text("the pair's middle, against the midline")
    assert running.at("front", "cheek_l", "wren") == (x, y)
    page.mouse.up()
    saved(page, "left cheek on front")


def test_a_page_that_is_loaded_again_goes_on_with_the_same_landmark(
    pim: Running, new_page: NewPage
) -> None:
    page = open_page(new_page, pim).page
    choose(page, "right knee")
    page.reload()
    expect(page.locator("#what")).to_have_text("right knee")


def test_going_back_in_the_list_shows_the_whole_row(pim: Running, new_page: NewPage) -> None:
    page = open_page(new_page, pim).page
    choose(page, "right heel")
    hidden = page.evaluate(
        """async () => {
          const hidden = [];
          for (let i = 0; i < 34; i += 1) {
            document.querySelector("#previous").click();
            for (let frame = 0; frame < 2; frame += 1) await new Promise(requestAnimationFrame);
            const row = document.querySelector(".landmark[aria-pressed=true]");
            const at = row.getBoundingClientRect();
            const top = document.elementFromPoint(at.left + 20, at.top + 6);
            if (!row.contains(top)) hidden.push(row.textContent);
          }
          return hidden;
        }"""
    )
    assert hidden == []
    expect(page.locator("#what")).to_have_text("right brow")


def test_the_drawings_fill_the_window_and_all_that_is_pressed_is_in_it(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    page = open_page(new_page, start("pim")).page
    rests(page)
    for width, height, least in ((1440, 900, 0.72), (1024, 768, 0.68), (390, 844, 0.42)):
        page.set_viewport_size({"width": width, "height": height})
        stage = page.locator(".stage").bounding_box()
        assert stage is not None
        assert stage["width"] * stage["height"] >= least * width * height
        for name in ("take", "unseen", "hide", "again", "remove", "undo", "whole"):
            box = page.locator(f"#{name}").bounding_box()
            assert box is not None
            assert box["y"] + box["height"] <= height and box["x"] + box["width"] <= width, name
        assert page.evaluate("document.documentElement.scrollHeight") <= height


def test_the_lens_never_covers_what_is_worked_on(
    start: Callable[..., Running], new_page: NewPage
) -> None:
    page = open_page(new_page, start("pim", keep=True)).page
    show_all(page)
    choose(page, "neck top")
    room = page.locator("#lineup").bounding_box()
    assert room is not None
    page.evaluate(LENS_SEEN)
    left, right = (room["x"] + room["width"] * across / 100 for across in (5, 95))
    for down in range(5, 100, 10):
        y = room["y"] + room["height"] * down / 100
        page.mouse.move(left, y)
        page.mouse.move(right, y, steps=18)
    covered = page.evaluate("window.covered")
    assert page.evaluate("window.seen") > 100
    assert covered == []


#: Notes each place of the pointer that the lens is over, or nearer than 20 px.
LENS_SEEN = """() => {
  [window.seen, window.covered] = [0, []];
  addEventListener("pointermove", ({ clientX: x, clientY: y }) => {
    const lens = document.querySelector("#magnifier").getBoundingClientRect();
    if (!lens.width) return;
    window.seen += 1;
    if (x > lens.left - 20 && x < lens.right + 20 && y > lens.top - 20 && y < lens.bottom + 20) {
      window.covered.push([x, y]);
    }
  });
}"""


def test_one_word_for_one_thing(start: Callable[..., Running], new_page: NewPage) -> None:
    page = open_page(new_page, start("pim", keep=True)).page
    choose(page, "left knee")
    page.evaluate("for (const d of document.querySelectorAll('details')) d.open = true")
    said = page.evaluate(
        """() => [document.title, document.body.innerText, ...[...document.querySelectorAll("*")]
          .flatMap((e) => ["aria-label", "title", "placeholder"].map((n) => e.getAttribute(n)))]
          .filter(Boolean).join(" ")"""
    )
    assert not re.search(r"landmark(?!s\.csv)|\bviews?\b|magnifier|line-up", said, re.IGNORECASE)

"""The page of a show in a browser: sorted, found in, narrow, dark, and with scripts off."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Opened
from tests.browser.report_pages import seen_in, width_of
from tests.places import SAMPLES
from tests.show.shows import page_of, show
from turncheck.images.figure_mask import figure_mask
from turncheck.images.thumbnail import webp
from turncheck.show.record import Figure

pytestmark = pytest.mark.browser

NewPage = Callable[..., Opened]
HIGH = 160
LONG = "Bartholomew-Featherstonehaugh-Kettlewright of the Upper Mountain Post"
ARABIC = "\N{ARABIC LETTER AIN}\N{ARABIC LETTER MEEM}\N{ARABIC LETTER REH}"


def cut_out(folder: Path) -> Figure:
    """Write the sample character's figure without its paper."""
    drawing = cv2.imread(str(SAMPLES / "pim" / "front.png"), cv2.IMREAD_COLOR)
    assert drawing is not None
    drawing = cv2.resize(drawing, None, fx=0.3, fy=0.3, interpolation=cv2.INTER_AREA)
    mask = figure_mask(np.asarray(drawing, np.uint8)).pixels.astype(np.uint8) * 255
    x, y, wide, high = cv2.boundingRect(mask)
    cut = np.dstack([drawing, mask])[y : y + high, x : x + wide]
    size = round(wide * HIGH / high), HIGH
    small = np.asarray(cv2.resize(cut, size, interpolation=cv2.INTER_AREA), np.uint8)
    (folder / "pim.webp").write_bytes(webp(small, 60))
    return Figure("pim.webp", *size, 12.0, HIGH - 2.0, size[0] / 2)


@pytest.fixture(scope="module")
def index(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twenty sheets and more, with names that are long, and written from right to left."""
    folder = tmp_path_factory.mktemp("show")
    figure = cut_out(folder)
    sheets = [replace(one, figure=one.figure and figure, spots=()) for one in show()]
    odo = sheets[0]
    sheets += [replace(odo, path=f"more/{i}", character=f"Fenn {i}") for i in range(24)]
    sheets += [replace(odo, path=name, character=name, revision=LONG) for name in (LONG, ARABIC)]
    html = page_of(sheets, "The Kettle Pass Post")
    (folder / "index.html").write_text(html, "utf-8")
    return folder / "index.html"


def opened(new_page: NewPage, index: Path, **options: object) -> Opened:
    page = new_page(**options)
    page.page.goto(index.as_uri())
    if options.get("java_script_enabled", True):
        page.page.wait_for_selector("body[data-ready]")
    return page


def names(page: Page) -> tuple[list[str], list[str]]:
    """Whom the table and the cast show, in their order."""
    shown = "all => all.filter(e => e.checkVisibility()).map(e => e.textContent)"
    rows, stands = "tbody th bdi:first-child", ".tag b"
    return (
        page.locator(f"#sheets {rows}").evaluate_all(shown),
        page.locator(stands).evaluate_all(shown),
    )


def test_a_supervisor_filters_finds_and_orders_table_and_cast_together(
    new_page: NewPage, index: Path
) -> None:
    show_page = opened(new_page, index)
    page = show_page.page
    button = page.get_by_role("button", name="3 off model")
    button.click()
    expect(button).to_have_attribute("aria-pressed", "true")
    assert names(page) == (["Ilse", "Pim", "Pim"],) * 2
    expect(page.locator("#shown")).to_have_text("3 of 33 sheets shown")
    head = page.locator("#sheets th", has_text="Furthest off")
    head.get_by_role("button").click()
    expect(head).to_have_attribute("aria-sort", "ascending")
    assert names(page) == (["Pim", "Pim", "Ilse"],) * 2
    button.click()
    page.get_by_label("Find").fill("bo ANA")
    assert len(names(page)[0]) == 27  # drawn by Bö and ana
    page.get_by_label("Find").fill("goats")
    assert names(page) == (["Brindle"],) * 2
    page.get_by_label("Find").fill("")
    by_height = page.get_by_role("button", name="By height")
    by_height.click()
    expect(by_height).to_have_attribute("aria-pressed", "true")
    rows, stands = names(page)
    assert rows == stands and rows[-2:] == ["Brindle", "old/kettle"]  # of heights not told
    page.get_by_role("button", name="Worst first").click()
    assert names(page)[1][:3] == ["Ilse", "Pim", "Pim"]
    assert head.get_attribute("aria-sort") is None
    assert show_page.faults == []


#: Words in the cast that lie on others, or outside of their place; and pictures off the ground.
MESSY = """() => {
  const stands = [...document.querySelectorAll(".stand")];
  const box = (e) => e.getBoundingClientRect();
  const cut = stands.filter((stand) => [...stand.querySelectorAll(".tag > *")].some((words) =>
    box(words).bottom > box(stand).bottom + 1 || box(words).right > box(stand).right + 1));
  const afloat = stands.filter((stand) => stand.querySelector("img")).filter((stand) => {
    const [img, tag] = [stand.querySelector("img"), stand.querySelector(".tag")].map(box);
    return Math.abs(tag.top - img.bottom + 2 * img.height / 160) > 3;
  });
  const bounds = stands.map(box);
  const over = bounds.filter((a, i) => bounds.slice(i + 1).some((b) =>
    Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1
    && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1));
  return [cut, afloat].map((all) => all.map((stand) => stand.id)).concat([over.length]);
}"""


def test_nothing_overprints_and_axe_finds_nothing(new_page: NewPage, index: Path) -> None:
    show_page = opened(new_page, index)
    for scheme, width in (("light", 1440), ("dark", 390)):
        seen_in(show_page.page, scheme, width)
        assert width_of(show_page.page) == width
        assert show_page.page.evaluate(MESSY) == [[], [], 0]
        assert show_page.violations() == []
    assert show_page.faults == []
    assert {url.rsplit("/", 1)[-1] for url in show_page.requests} == {"index.html", "pim.webp"}


def test_with_scripts_off_all_is_there_and_nothing_pretends_to_work(
    new_page: NewPage, index: Path
) -> None:
    page = opened(new_page, index, java_script_enabled=False).page
    expect(page.get_by_role("button")).to_have_count(0)
    expect(page.get_by_label("Find")).to_be_hidden()
    expect(page.get_by_text("3 off model")).to_be_visible()
    assert len(page.locator("#sheets tbody tr").all()) == 33
    expect(page.locator("#at-0 img")).to_be_visible()

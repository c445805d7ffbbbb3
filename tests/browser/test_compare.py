"""The page of two revisions: wiped, blinked, gone through by keys, printed, and without scripts."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

import turncheck
from tests.browser.pages import NewPage, Opened
from tests.browser.report_pages import seen_in, width_of
from tests.sheets import edit, make_sheet
from turncheck.revisions.save import save_comparison

pytestmark = pytest.mark.browser

HOSTILE = "</script><script>window.ran=1</script>"


@pytest.fixture(scope="module")
def compared(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("compared")
    old, new = make_sheet(folder / "old"), make_sheet(folder / "new")
    edit(old / "landmarks.csv", "side,chin,69.600,37.600", "side,chin,69.600,44.000")
    edit(new / "landmarks.csv", "back,mouth,60.000,32.800", "back,mouth,60.000,39.800")
    edit(new / "sheet.toml", 'revision = "A"', f"revision = '{HOSTILE}'")
    with (new / "back.png").open("ab") as file:
        file.write(b"\0")  # not the same file any more
    save_comparison(turncheck.compare(old, new), folder)
    return folder / "compare.html"


def opened(new_page: NewPage, page: Path, **options: object) -> Opened:
    found = new_page(**options)
    found.page.goto(page.as_uri())
    if options.get("java_script_enabled", True):
        found.page.wait_for_selector("body[data-ready]")
    return found


def boxes(page: Page, drawing: str) -> list[str | None]:
    takes = page.get_by_role("region", name=drawing).locator(".take").all()
    return [take.get_attribute("viewBox") for take in takes]


def test_the_page_is_whole_quiet_and_readable_for_all(new_page, compared) -> None:
    found = opened(new_page, compared)
    expect(found.page.locator("#verdict")).to_have_text(
        re.compile(r"1 fixed,\s*0 worse,\s*1 new,\s*0 as before")
    )
    for scheme, width in (("light", 1440), ("dark", 1440), ("light", 390)):
        seen_in(found.page, scheme, width)
        assert not found.violations(), (scheme, width)
        assert width_of(found.page) <= width
    assert not found.faults
    assert [url for url in found.requests if not url.startswith(("file:", "data:"))] == []
    assert found.page.evaluate("window.ran") is None


def test_n_goes_from_difference_to_difference_and_w_back(new_page, compared) -> None:
    page = opened(new_page, compared).page
    whole = boxes(page, "Back")
    assert whole[0] == whole[1]
    page.keyboard.press("n")
    near = boxes(page, "Back")
    assert near[0] == near[1] != whole[0]
    expect(page.locator("#change-1")).to_be_focused()
    page.keyboard.press("n")
    expect(page.locator("#change-2")).to_be_focused()
    assert boxes(page, "Back") == whole and boxes(page, "Side")[0] != whole[0]
    page.keyboard.press("w")
    page.keyboard.press("Shift+N")
    expect(page.locator("#change-1")).to_be_focused()


def test_b_blinks_one_over_the_other_until_it_is_pressed_again(new_page, compared) -> None:
    page = opened(new_page, compared).page
    button = page.get_by_role("button", name="Blink")
    page.keyboard.press("b")
    expect(button).to_have_attribute("aria-pressed", "true")
    later = page.locator(".wipe.now .take").nth(1)
    expect(later).to_be_hidden()
    expect(later).to_be_visible()
    page.keyboard.press("b")
    expect(button).to_have_attribute("aria-pressed", "false")
    expect(page.locator("html")).not_to_have_class(re.compile("blinking"))


def test_with_motion_reduced_each_press_shows_the_other(new_page, compared) -> None:
    page = opened(new_page, compared, reduced_motion="reduce").page
    later = page.locator(".wipe .take").nth(1)
    page.keyboard.press("b")
    expect(later).to_be_visible()
    page.keyboard.press("b")
    expect(later).to_be_hidden()
    page.keyboard.press("b")
    expect(later).to_be_visible()


def test_the_bar_wipes_from_one_revision_to_the_other(new_page, compared) -> None:
    page = opened(new_page, compared).page
    wipe = page.locator(".wipe").first
    bar = wipe.get_by_role("slider")
    bar.focus()
    before = wipe.evaluate("one => one.style.getPropertyValue('--at')")
    page.keyboard.press("ArrowRight")
    assert wipe.evaluate("one => one.style.getPropertyValue('--at')") > before
    first, second = (take.bounding_box() for take in wipe.locator(".take").all())
    assert first == second


def test_both_stand_on_one_ground_line_side_by_side_without_scripts(new_page, compared) -> None:
    page = opened(new_page, compared, java_script_enabled=False).page
    first, second = page.locator(".wipe").first.locator(".take").all()
    grounds = [take.locator(".ground").bounding_box() for take in (first, second)]
    assert grounds[0]["y"] == grounds[1]["y"]
    assert first.bounding_box()["x"] + first.bounding_box()["width"] <= second.bounding_box()["x"]
    expect(page.get_by_role("button")).to_have_count(0)
    expect(page.locator("#change-1")).to_be_visible()


def test_it_prints_what_was_told_and_is_told(new_page, compared) -> None:
    page = opened(new_page, compared).page
    printed = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True)))
    text = " ".join(" ".join(sheet.extract_text() for sheet in printed.pages).split())
    assert "Nothing was told of it." in text and "On model." in text
    assert "Next difference" not in text

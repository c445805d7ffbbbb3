"""The report's turn slider and its flipped drawings in a browser: by keys, printed, scripts off."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import expect

import turncheck
from tests.browser.conftest import Opened
from tests.sheets import make_sheet
from turncheck.handover.guides_save import save_guides

pytestmark = pytest.mark.browser

NewPage = Callable[..., Opened]
VIEWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "left": -45.0}


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("turned")
    guides = turncheck.guides(make_sheet(folder / "tib", views=VIEWS), [0.0, 90.0, 180.0, -90.0])
    save_guides(guides, folder / "guides", turn=[0.0, 90.0, 180.0, -90.0])
    turncheck.check(folder / "tib").save(folder)
    return folder / "report.html"


def test_the_slider_turns_the_character_by_keys(report: Path, new_page: NewPage) -> None:
    opened = new_page(viewport={"width": 1024, "height": 800}, reduced_motion="reduce")
    page = opened.page
    page.goto(report.as_uri())
    page.wait_for_selector("body[data-ready]")
    bar, shown = page.locator(".turner input"), page.locator(".turner output")
    picture = page.locator(".turner use")
    expect(shown).to_have_text("0°")
    first = picture.get_attribute("transform")
    bar.focus()
    page.keyboard.press("ArrowRight")
    expect(shown).to_have_text("90°")
    expect(bar).to_have_attribute("aria-valuetext", "90°")
    assert picture.get_attribute("transform") != first
    page.keyboard.press("End")
    expect(shown).to_have_text("180°")
    expect(page.locator(".turns")).to_be_hidden()
    assert page.evaluate("document.documentElement.scrollWidth") == 1024
    expect(page.locator("#flips li")).to_contain_text(["line for line"])
    assert opened.violations() == []
    assert opened.faults == []
    page.emulate_media(media="print")
    expect(page.locator(".turns")).to_be_visible()
    expect(page.locator(".turner")).to_be_hidden()


def test_without_scripts_all_angles_are_side_by_side(report: Path, new_page: NewPage) -> None:
    page = new_page(java_script_enabled=False).page
    page.goto(report.as_uri())
    expect(page.locator(".turns")).to_be_visible()
    expect(page.locator(".turns text")).to_have_text(["−90°", "0°", "90°", "180°"])
    expect(page.locator(".turner")).to_be_hidden()
    expect(page.locator(".flip .take")).to_have_count(2)

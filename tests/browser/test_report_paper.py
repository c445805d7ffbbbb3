"""The report printed."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.browser.pages import NewPage, Opened
from tests.browser.report_pages import open_report

pytestmark = pytest.mark.browser

#: Hides what pictures are made of, which takes most of the time in which words are found on paper.
WORDS = """() => {
  const style = new CSSStyleSheet();
  style.replaceSync("svg :is(path, use, image, line, rect, circle) { visibility: hidden; }");
  document.adoptedStyleSheets = [style];
}"""
#: Hides all but an element and what it stands in, so that less is printed.
ALONE = """query => {
  for (let one = document.querySelector(query); one !== document.body; one = one.parentElement) {
    [...one.parentElement.children].filter((other) => other !== one)
      .forEach((other) => other.style.setProperty("display", "none", "important"));
  }
}"""


def printed(page: Page) -> tuple[int, PdfReader]:
    """Bytes of the page as a PDF, and what stands in it."""
    paper = page.pdf(prefer_css_page_size=True, print_background=True)
    return len(paper), PdfReader(io.BytesIO(paper))


def words(page: Page) -> tuple[float, list[str]]:
    """Width of the first sheet that the page is printed on, and the text of each."""
    page.evaluate(WORDS)
    sheets = printed(page)[1].pages
    width = float(sheets[0].mediabox.width)
    return width, [" ".join(sheet.extract_text().split()) for sheet in sheets]


def side_by_side(page: Page, task: str) -> bool:
    """Whether a task's two pictures stand beside each other, both of them whole."""
    takes = page.locator(f"{task} .take")
    first, second = (take.bounding_box() for take in takes.all())
    assert first is not None and second is not None
    cut = takes.nth(1).evaluate("take => getComputedStyle(take).clipPath")
    return first["x"] + first["width"] <= second["x"] and cut == "none"


def test_on_paper_and_without_scripts_a_drawing_stands_beside_itself_put_right(
    drifted: Path, new_page: NewPage
) -> None:
    page = open_report(new_page().page, drifted)
    assert not side_by_side(page, "#redraw-1")
    page.emulate_media(media="print")
    assert side_by_side(page, "#redraw-1")
    expect(page.locator("#redraw-1 input")).to_be_hidden()
    bare = new_page(java_script_enabled=False).page
    bare.goto(drifted.as_uri())
    assert side_by_side(bare, "#redraw-1")
    expect(bare.locator("#redraw-1 input")).to_be_hidden()


def test_on_paper_the_verdict_comes_first_and_everything_but_rows_on_model_is_open(
    opened: Opened,
) -> None:
    page = opened.page
    width, sheets = words(page)
    assert width == pytest.approx(297 / 25.4 * 72, abs=1.5)  # ISO 216 A4
    said, text = sheets[0], " ".join(sheets)
    assert "Off model" in said
    assert "1 thing to redraw in 1 of 4 drawings" in said
    assert "Left arm 4.8 px too low raise it 4.8 px" in said  # its card
    assert "arrow: from where a point is to where it should be" in said  # the key of the marks
    assert "SHA-256" in text
    assert "Points that agree" in text  # a section that was folded
    level = "left and right elbow, middle"  # a row of a table in which all is on model
    assert not any(level in sheet for sheet in sheets)
    assert any(re.search(r"\d+ on model Not measured", sheet) for sheet in sheets)  # the count
    page.evaluate(ALONE, "#check-pairing")
    assert not any(level in sheet for sheet in words(page)[1])
    page.evaluate("document.querySelectorAll('.calm').forEach(d => { d.open = true; })")
    assert any(level in sheet for sheet in words(page)[1])


def test_a_sample_is_printed_on_few_sheets_and_as_a_small_file(
    pim_report: Path, new_page: NewPage
) -> None:
    """A striped gradient alone made 27 MB: it became a picture for each cell."""
    page = open_report(new_page().page, pim_report)
    size, paper = printed(page)
    _, sheets = words(page)
    assert len(sheets) == len(paper.pages)
    assert size < 5_000_000
    assert len(sheets) <= 13
    for number, sheet in enumerate(sheets, start=1):
        assert sheet.startswith("Pim, revision A printed on ")
        assert f"{number} of {len(sheets)}" in sheet
    assert "Approved by Signature Date" in sheets[-1]
    for sheet in sheets:
        assert not sheet.endswith(("Heights", "Pivots", "Proportions", "Turn", "Outline"))

"""The layout of the report in letters of every kind: nothing is cut and nothing overprinted."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import cache
from itertools import product
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.browser.letters import LETTERS, in_letters
from tests.browser.pages import NewPage
from tests.browser.report_pages import (
    AIR,
    SCREENS,
    UNREADABLE,
    open_all,
    open_report,
    shown_whole,
    width_of,
)
from tests.report.drifting import LOW_ARM, drifting_sheet
from turncheck.checking import check

pytestmark = pytest.mark.browser

#: How many pairs of round marks lie on each other.
OVER = """all => {
  const boxes = all.map((e) => e.getBoundingClientRect());
  return boxes.flatMap((a, i) => boxes.slice(i + 1).filter((b) =>
    Math.hypot(a.left - b.left, a.top - b.top) < 0.95 * a.width)).length;
}"""


@pytest.fixture(scope="module")
def crowded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six drawings with long names, and faults side by side."""
    views = {"front": 0.0, "three_quarter_from_the_left_hand_side": 45.0, "side": 90.0}
    views |= {"back_three_quarter": 135.0, "back": 180.0, "other_side": -90.0}
    drift = LOW_ARM | {("back", name): (0.0, 6.0) for name in ("chin", "knee_r")}
    drift |= {("other_side", "eye_l"): (0.0, 3.0)}
    folder = tmp_path_factory.mktemp("crowded")
    sheet = drifting_sheet(
        folder / "sheet",
        views=views,
        drift=drift,
        character="Bartholomew Featherstonehaugh of the Kettle Pass Mountain Post",
        revision="Summer coat, third pass, with satchel",
    )
    check(sheet).save(folder)
    return folder / "report.html"


@pytest.mark.parametrize(
    ("letters", "screens"),
    [("wide", SCREENS), ("narrow", [(1024, 768)]), ("machine", [(1024, 768)])],
)
def test_six_drawings_with_long_names_are_whole_and_cover_nothing(
    crowded: Path,
    new_page: NewPage,
    tmp_path: Path,
    letters: str,
    screens: Sequence[tuple[int, int]],
) -> None:
    copy = tmp_path / "report.html"
    copy.write_text(in_letters(crowded.read_text("utf-8"), letters), "utf-8")
    page = new_page(bypass_csp=True).page
    for width, height in screens:
        page.set_viewport_size({"width": width, "height": height})
        if page.url == "about:blank":
            open_report(page, copy)
        assert_whole(page, width)


def assert_whole(page: Page, width: int) -> None:
    assert width_of(page) == width
    assert shown_whole(page, ".stage") == [True]
    assert page.locator(".disc").count() >= 4
    assert page.locator(".disc").evaluate_all(OVER) == 0
    marks = [".label text, .scale text, .balloon .px", AIR]
    assert page.locator(".lineup").evaluate(UNREADABLE, marks)[1] == []
    words = "h1, .revision, #verdict, .sum, .facts, .pick span, .caption h3, .told b, .told span"
    assert page.locator("main").evaluate(UNREADABLE, [words, AIR])[1] == []


@pytest.fixture(scope="module")
def in_all(
    faulty: Path, shared_page: NewPage, tmp_path_factory: pytest.TempPathFactory
) -> Callable[[str], Page]:
    """The report with everything wrong and everything open, in letters of every kind."""

    @cache
    def opened(letters: str) -> Page:
        copy = tmp_path_factory.mktemp("letters") / "report.html"
        copy.write_text(in_letters(faulty.read_text("utf-8"), letters), "utf-8")
        page = open_report(shared_page(bypass_csp=True).page, copy)
        open_all(page)
        return page

    return opened


# of the file, so that what is laid out is laid out anew for few tests
@pytest.fixture(scope="module", params=product(LETTERS, (1440, 1024)), ids=str)
def desk(request: pytest.FixtureRequest) -> tuple[str, int]:
    """Letters, and the width of a desk's screen, px."""
    found: tuple[str, int] = request.param
    return found


@pytest.fixture
def laid_out(in_all: Callable[[str], Page], desk: tuple[str, int]) -> Page:
    """The report on a desk."""
    return as_wide_as(in_all(desk[0]), desk[1])


@pytest.fixture(scope="module", params=LETTERS)
def phone(request: pytest.FixtureRequest) -> str:
    """Letters to lay the report out in on a phone."""
    return str(request.param)


@pytest.fixture
def laid_out_narrow(phone: str, in_all: Callable[[str], Page]) -> Page:
    """The report on a phone."""
    return as_wide_as(in_all(phone), 390)


def as_wide_as(page: Page, width: int) -> Page:
    if page.viewport_size != {"width": width, "height": 900}:
        page.set_viewport_size({"width": width, "height": 900})
    return page


def test_nothing_spills_over_in_any_letters(laid_out: Page) -> None:
    wide, shown = laid_out.evaluate(
        "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert wide == shown


def test_every_column_of_the_tables_is_in_sight(laid_out: Page) -> None:
    cut = "all => all.filter(e => e.scrollWidth > e.clientWidth).map(e => e.ariaLabel)"
    assert laid_out.locator(".check .scroll").evaluate_all(cut) == []


def words_of_the_plots(page: Page) -> list[str]:
    """What is cut or overprinted in the drift plot, and in the dials."""
    found = []
    for query, words in (
        (".drift", ".strips tbody th, .off a, .strip > text, .spot text"),
        (".dials", ".dial b, .dial span:not(.hear), .dial small, .dial a"),
    ):
        count, unread = page.locator(query).evaluate(UNREADABLE, [words, AIR])
        assert count > 8
        # a shape's own span holds its words, and is no other text
        found += [one for one in unread if one.split(" over ")[0] not in one.split(" over ")[-1]]
    return found


def test_words_of_the_plots_keep_inside_them_and_off_each_other(laid_out: Page) -> None:
    assert words_of_the_plots(laid_out) == []


def test_words_of_the_plots_are_whole_on_a_phone(laid_out_narrow: Page) -> None:
    assert width_of(laid_out_narrow) == 390
    assert words_of_the_plots(laid_out_narrow) == []


SIX = {
    "front": 0.0,
    "three_quarter_from_the_left_as_in_the_first_film": 45.0,
    "side": 90.0,
    "back_three_quarter": 135.0,
    "back": 180.0,
    "other_side": -90.0,
}


def test_six_drawings_with_long_names_and_faults_far_off_are_whole(
    tmp_path: Path, new_page: NewPage
) -> None:
    drift = LOW_ARM | {("back", "chin"): (0.0, 14.0), ("front", "knee_r"): (0.0, -5.0)}
    drift[[*SIX][1], "knee_l"] = (0.0, 6.0)
    check(drifting_sheet(tmp_path / "sheet", drift=drift, views=SIX)).save(tmp_path)
    page = open_report(new_page().page, tmp_path / "report.html")
    for width in (1440, 1024, 390):
        page.set_viewport_size({"width": width, "height": 900})
        assert width_of(page) == width
        assert words_of_the_plots(page) == [], width


def test_each_line_of_the_drift_plot_stands_where_its_leader_ends(laid_out: Page) -> None:
    figure = laid_out.locator(".drift .figure")
    if not figure.is_visible():
        return  # names alone
    box = figure.bounding_box()
    rows = laid_out.locator(".strips tbody tr")
    assert box is not None and box["height"] == pytest.approx(24.0 * rows.count())
    for n, row in enumerate(rows.all()):
        at = row.bounding_box()
        assert at is not None
        assert at["y"] + at["height"] / 2 == pytest.approx(box["y"] + 24.0 * (n + 0.5), abs=1.5)


def test_words_of_the_line_up_keep_inside_it_and_off_each_other(laid_out: Page) -> None:
    count, unread = laid_out.locator(".lineup").evaluate(
        UNREADABLE, [".label text, .scale text, .balloon text", AIR]
    )
    assert count > 30
    assert unread == []


def unread_on_cards(page: Page) -> list[str]:
    """What can't be read on the cards of a report with everything open."""
    cards = page.locator(".task")
    assert cards.count() > 10
    words = ".wipe > span, .says, .mend, .aside, summary, .links p"
    return [says for card in cards.all() for says in card.evaluate(UNREADABLE, [words, AIR])[1]]


def test_words_on_the_cards_keep_off_each_other(laid_out: Page) -> None:
    assert unread_on_cards(laid_out) == []


def test_words_on_the_cards_keep_off_each_other_on_a_phone(laid_out_narrow: Page) -> None:
    assert unread_on_cards(laid_out_narrow) == []


def test_words_at_the_contradictions_keep_inside_their_pictures(laid_out: Page) -> None:
    pictures = laid_out.locator("svg:has(> .bracket)")
    assert pictures.count() >= 3
    for picture in pictures.all():
        assert picture.evaluate(UNREADABLE, [".bracket text", 1.0])[1] == []


def test_a_late_font_is_measured_anew(drifted: Path, new_page: NewPage) -> None:
    """As where a reader's own stylesheet brings letters of its own."""
    page = new_page(bypass_csp=True).page
    open_report(page, drifted)
    before = page.locator(".margin.left .paper").bounding_box()
    page.add_style_tag(content=in_letters(fonts_of(drifted), "wide"))
    page.evaluate("Promise.all([...document.fonts].map((face) => face.load()))")
    page.wait_for_timeout(200)
    after = page.locator(".margin.left .paper").bounding_box()
    assert before is not None and after is not None
    assert after["width"] > before["width"]
    assert page.locator(".lineup").evaluate(UNREADABLE, [".label text", AIR])[1] == []


def fonts_of(report: Path) -> str:
    """Return the rules of a report's stylesheet that name its fonts."""
    return "\n".join(re.findall(r"@font-face \{.*?\}", report.read_text("utf-8")))

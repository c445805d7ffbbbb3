"""The report in a browser as a whole: sound, in the window, with scripts off and for all."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.pages import NewPage, Opened
from tests.browser.report_pages import (
    AIR,
    ELBOW,
    ELBOW_ROW,
    SCREENS,
    UNREADABLE,
    leave_out_alike,
    open_all,
    open_report,
    seen_in,
    show_all_points,
    shown_whole,
    width_of,
)
from tests.places import SAMPLES
from tests.report.drifting import drifting_sheet
from turncheck.checking import check

pytestmark = pytest.mark.browser

HOSTILE = "</script><script>window.ran=1</script>\"><img src=x onerror='window.ran=1'>"


def test_it_asks_for_nothing_and_complains_of_nothing(looked_at: Opened, drifted: Path) -> None:
    looked_at.page.mouse.wheel(0, 4000)
    assert [url for url in looked_at.requests if not url.startswith("data:")] == [drifted.as_uri()]
    assert looked_at.faults == []


def test_axe_finds_nothing(drifted: Path, new_page: NewPage) -> None:
    """axe-core's rules for WCAG 2.2 A and AA, target size included, and its best practices."""
    opened = new_page(reduced_motion="reduce")
    page = open_report(opened.page, drifted)
    leave_out_alike(page)
    open_all(page)
    for scheme, width in (("light", 1440), ("dark", 390)):
        seen_in(page, scheme, width)
        assert opened.violations() == [], scheme


def test_the_page_never_scrolls_sideways(drifted: Path, new_page: NewPage) -> None:
    """720 px is 1440 at 200 % zoom (WCAG 1.4.4, 1.4.10)."""
    page = open_report(new_page(viewport={"width": 720, "height": 800}).page, drifted)
    for width in (720, 1440, 1024, 390):
        page.set_viewport_size({"width": width, "height": 800})
        assert width_of(page) == width


@pytest.fixture(scope="module")
def undecided(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where two drawings stand against two, and two contradict each other sideways."""
    folder = tmp_path_factory.mktemp("undecided")
    drift = {(view, "mouth"): (0.0, 4.0) for view in ("front", "side")}
    drift |= {("three_quarter", "nose_tip"): (4.0, 0.0), ("back", "knee_r"): (0.0, 5.0)}
    check(drifting_sheet(folder / "sheet", drift=drift)).save(folder)
    return folder / "report.html"


def test_what_is_to_be_decided_shows_its_drawings_side_by_side(
    undecided: Path, new_page: NewPage
) -> None:
    opened = new_page(reduced_motion="reduce")
    page = open_report(opened.page, undecided)
    first = page.locator("#deciding .task").first
    expect(first).to_contain_text("Which is right?")
    for width in (1440, 1024, 390):
        page.set_viewport_size({"width": width, "height": 900})
        assert width_of(page) == width
        boxes = [picture.bounding_box() for picture in first.locator(".wipe").all()]
        assert len(boxes) == 2 and all(boxes)
        if width > 390:
            assert len({round(box["y"]) for box in boxes if box}) == 1
    leave_out_alike(page)
    for width in (390, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        assert opened.violations() == []


@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_verdict_line_up_and_cards_are_on_the_first_screen(
    pim_report: Path, new_page: NewPage, width: int, height: int
) -> None:
    page = open_report(new_page(viewport={"width": width, "height": height}).page, pim_report)
    assert_first_screen(page)


def test_so_they_are_without_scripts(pim_report: Path, new_page: NewPage) -> None:
    page = new_page(java_script_enabled=False).page
    page.goto(pim_report.as_uri())
    for width, height in SCREENS:
        page.set_viewport_size({"width": width, "height": height})
        assert_first_screen(page)


def assert_first_screen(page: Page) -> None:
    expect(page.get_by_role("heading", name="Off model")).to_be_in_viewport(ratio=1)
    expect(page.get_by_text("5 things to redraw in 3 of 4 drawings")).to_be_in_viewport(ratio=1)
    assert shown_whole(page, ".stage") == [True]
    assert shown_whole(page, ".captions .card") == 5 * [True]
    assert page.locator(".balloon").count() == 5


def test_only_ground_and_crown_placed_are_enough(tmp_path: Path, new_page: NewPage) -> None:
    folder = drifting_sheet(tmp_path / "sheet")
    table = folder / "landmarks.csv"
    kept = [
        line
        for line in table.read_text("utf-8").splitlines()
        if line.split(",")[1] in ("landmark", "ground", "crown")
    ]
    table.write_text("\n".join(kept) + "\n", "utf-8")
    check(folder).save(tmp_path)
    opened = new_page()
    page = open_report(opened.page, tmp_path / "report.html")
    assert shown_whole(page, ".stage") == [True]
    texts = [".label text, .scale text", AIR]
    assert page.locator(".lineup").evaluate(UNREADABLE, texts)[1] == []
    assert opened.violations() == []
    assert page.locator(".strips tbody tr").count() == 1
    for width in (1440, 390):
        page.set_viewport_size({"width": width, "height": 900})
        assert width_of(page) == width
    assert opened.faults == []


def test_warnings_are_a_line_each_and_unfold(tmp_path: Path, new_page: NewPage) -> None:
    folder = tmp_path / "sheet"
    shutil.copytree(SAMPLES / "odo", folder)
    table = folder / "landmarks.csv"
    rows = [line.split(",") for line in table.read_text("utf-8").splitlines()]
    for row in rows:
        if row[0] == "back" and row[1].endswith(("_l", "_r")):
            row[1] = row[1][:-1] + ("r" if row[1].endswith("l") else "l")
    table.write_text("\n".join(",".join(row) for row in rows) + "\n", "utf-8")
    checked = check(folder)
    assert checked.warnings
    checked.save(tmp_path)
    page = open_report(new_page().page, tmp_path / "report.html")
    notes = page.locator(".notes")
    expect(notes).to_contain_text(checked.warnings[0].says)
    folded = notes.bounding_box()
    assert folded is not None and folded["height"] < 60
    assert shown_whole(page, ".stage") == [True]
    notes.locator("summary").click()
    opened = notes.bounding_box()
    assert opened is not None and opened["height"] > folded["height"]


def test_with_scripts_off_everything_is_there(drifted: Path, new_page: NewPage) -> None:
    page = new_page(java_script_enabled=False).page
    page.goto(drifted.as_uri())
    expect(page.get_by_role("heading", name="Off model")).to_be_visible()
    expect(page.locator(ELBOW)).to_be_visible()
    expect(page.locator(".zoom")).to_be_hidden()  # what needs a script
    expect(page.locator("#card-1")).to_contain_text("Left arm 4.8 px too low")
    expect(page.locator("#card-1")).to_be_visible()
    page.locator("#check-pivot summary").first.click()
    page.locator("#check-pivot .calm > summary").click()
    expect(page.locator("#check-pivot tr.is-on_model").first).to_be_visible()
    page.locator("#check-height summary").first.click()
    page.locator("#check-height .calm > summary").click()
    expect(page.locator("#row-height-side-mouth")).to_be_visible()
    page.locator(f"{ELBOW_ROW} a.see").click()
    expect(page.locator(ELBOW)).to_be_in_viewport()


def test_names_that_look_like_markup_do_not_run(tmp_path: Path, new_page: NewPage) -> None:
    more = f"[[waivers]]\ncheck='height'\nview='side'\nsubject='chin'\nreason='''{HOSTILE}'''\n"
    more += f"by='''{HOSTILE}'''\n[[proportions]]\nname='''{HOSTILE}'''\n"
    more += "of=['crown', 'chin']\nto=['chin', 'ground']\n"
    sheet = drifting_sheet(
        tmp_path / "sheet",
        drift={("side", "chin"): (0.0, 6.0)},
        toml_extra=more,
        character=HOSTILE,
        revision=HOSTILE[:60],
    )
    check(sheet).save(tmp_path)
    opened = new_page()
    open_report(opened.page, tmp_path / "report.html")
    expect(opened.page.get_by_role("heading", level=1)).to_have_text(HOSTILE)
    show_all_points(opened.page)
    opened.page.locator("#mark-side-chin").hover()
    assert opened.page.evaluate("window.ran") is None
    assert opened.faults == []


def test_a_sample_with_five_faults_is_a_short_page(pim: Page) -> None:
    """Everything is there, one step away: half of what it was with all tables open."""
    assert pim.evaluate("document.documentElement.scrollHeight") < 6000


@pytest.mark.parametrize("name", ["pim", "brindle"])
def test_the_sample_characters_reports_are_sound(
    name: str, new_page: NewPage, pim_report: Path, tmp_path: Path
) -> None:
    report = pim_report
    if name != "pim":
        check(SAMPLES / name).save(tmp_path)
        report = tmp_path / "report.html"
    opened = new_page(viewport={"width": 1024, "height": 800})
    open_report(opened.page, report)
    assert width_of(opened.page) == 1024
    leave_out_alike(opened.page)
    assert opened.violations() == []
    assert opened.faults == []


SECTIONS = ("#above", "#outline", "#inks")


def test_axe_finds_nothing_where_everything_is_off(faulty: Path, new_page: NewPage) -> None:
    opened = new_page(color_scheme="dark", reduced_motion="reduce")
    page = open_report(opened.page, faulty)
    open_all(page)
    for width in (390, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        assert width_of(page) == width
    leave_out_alike(page)
    for scheme, width in (("dark", 1440), ("light", 390)):
        seen_in(page, scheme, width)
        assert opened.violations() == [], scheme
    assert opened.faults == []


@pytest.mark.parametrize("scripts", [True, False])
def test_the_sections_on_the_body_and_the_figure_measured_need_no_scripts(
    faulty: Path, new_page: NewPage, scripts: bool
) -> None:
    page = new_page(java_script_enabled=scripts).page
    page.goto(faulty.as_uri())
    for section in SECTIONS:
        expect(page.locator(section)).to_be_visible()
    expect(page.locator("#above .dial .fan").first).to_be_visible()
    page.locator("#outline .outlines > summary").click()
    expect(page.locator("#outline .sil")).to_have_count(4)
    expect(page.locator("#inks .fills tbody tr").first).to_be_visible()
    contour = page.locator("#outline .sil .contour").first
    expect(contour).to_be_visible()
    page.get_by_label("Show the figure that was measured").focus()
    page.keyboard.press("Space")
    expect(contour).to_be_hidden()
    page.keyboard.press("Space")
    expect(contour).to_be_visible()

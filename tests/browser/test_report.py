"""The report in a browser: read, pointed at, sorted, zoomed, printed, and with scripts off."""

from __future__ import annotations

import io
import re
import shutil
from collections.abc import Callable
from itertools import pairwise, product
from pathlib import Path
from typing import Literal

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.browser.conftest import Opened
from tests.browser.letters import LETTERS, in_letters
from tests.places import SAMPLES
from tests.report.drifting import LOW_ARM, drifting_sheet
from tests.report.faulty import faulty_pim
from turncheck import TurncheckError
from turncheck.checking import check

pytestmark = pytest.mark.browser

ELBOW = "#mark-side-elbow_l"
ELBOW_ROW = "#row-pivot-side-elbow_l"
NewPage = Callable[..., Opened]
HOSTILE = "</script><script>window.ran=1</script>\"><img src=x onerror='window.ran=1'>"


@pytest.fixture(scope="module")
def drifted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("drifted")
    more = "[[waivers]]\ncheck = 'height'\nview = 'side'\nsubject = 'chin'\n"
    more += "reason = 'drawn so'\nby = 'lead'\n"
    sheet = drifting_sheet(folder / "sheet", drift=LOW_ARM, repeats=True, toml_extra=more)
    check(sheet).save(folder)
    return folder / "report.html"


def open_report(page: Page, report: Path) -> Page:
    """Open a report and wait until its words are measured and laid out."""
    page.goto(report.as_uri())
    page.wait_for_selector("body[data-ready]")
    return page


@pytest.fixture
def opened(drifted: Path, new_page: NewPage) -> Opened:
    report = new_page()
    open_report(report.page, drifted)
    return report


@pytest.fixture(scope="module")
def looked_at(drifted: Path, shared_page: NewPage) -> Opened:
    """The report for the tests that change nothing on it."""
    report = shared_page()
    open_report(report.page, drifted)
    return report


@pytest.fixture(scope="module")
def faults_looked_at(faulty: Path, shared_page: NewPage) -> Page:
    return open_report(shared_page().page, faulty)


def show_all_points(page: Page) -> None:
    """Show the points without a fault as well."""
    page.get_by_label("All points").check()


def scale_of(page: Page, mark: str) -> float:
    """Width of a mark on the screen, px."""
    box = page.locator(f"{mark} use").bounding_box()
    assert box is not None
    return box["width"]


def distance(page: Page, one: str, other: str) -> float:
    boxes = [page.locator(f"{mark} use").bounding_box() for mark in (one, other)]
    assert boxes[0] is not None and boxes[1] is not None
    return abs(boxes[0]["y"] - boxes[1]["y"])


def test_it_asks_for_nothing_and_complains_of_nothing(looked_at: Opened, drifted: Path) -> None:
    looked_at.page.mouse.wheel(0, 4000)
    assert [url for url in looked_at.requests if not url.startswith("data:")] == [drifted.as_uri()]
    assert looked_at.faults == []


@pytest.mark.parametrize(("scheme", "width"), [("light", 1440), ("dark", 390)])
def test_axe_finds_nothing(drifted: Path, new_page: NewPage, scheme: str, width: int) -> None:
    """axe-core's rules for WCAG 2.2 A and AA, target size included, and its best practices."""
    opened = new_page(
        color_scheme=scheme, viewport={"width": width, "height": 900}, reduced_motion="reduce"
    )
    open_report(opened.page, drifted)
    opened.page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert opened.violations() == []


@pytest.mark.parametrize("width", [1440, 1024, 720, 390])
def test_the_page_never_scrolls_sideways(drifted: Path, new_page: NewPage, width: int) -> None:
    """720 px is 1440 at 200 % zoom (WCAG 1.4.4, 1.4.10)."""
    page = new_page(viewport={"width": width, "height": 800}).page
    open_report(page, drifted)
    assert page.evaluate("document.documentElement.scrollWidth") == width


@pytest.fixture(scope="module")
def undecided(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where two drawings stand against two, and two contradict each other sideways."""
    folder = tmp_path_factory.mktemp("undecided")
    drift = {(view, "mouth"): (0.0, 4.0) for view in ("front", "side")}
    drift |= {("three_quarter", "nose_tip"): (4.0, 0.0), ("back", "knee_r"): (0.0, 5.0)}
    check(drifting_sheet(folder / "sheet", drift=drift)).save(folder)
    return folder / "report.html"


@pytest.mark.parametrize("width", [1440, 1024, 390])
def test_what_is_to_be_decided_shows_its_drawings_side_by_side(
    undecided: Path, new_page: NewPage, width: int
) -> None:
    opened = new_page(viewport={"width": width, "height": 900}, reduced_motion="reduce")
    page = open_report(opened.page, undecided)
    assert page.evaluate("document.documentElement.scrollWidth") == width
    first = page.locator("#deciding .task").first
    expect(first).to_contain_text("Which is right?")
    boxes = [picture.bounding_box() for picture in first.locator(".wipe").all()]
    assert len(boxes) == 2 and all(boxes)
    if width > 390:
        assert len({round(box["y"]) for box in boxes if box}) == 1
    assert opened.violations() == []


def shown_whole(page: Page, query: str) -> list[bool]:
    """Whether each such element lies whole in the window."""
    inside = """all => all.map(e => e.getBoundingClientRect()).map(b =>
      b.width > 0 && b.top >= 0 && b.left >= 0
        && b.bottom <= innerHeight && b.right <= innerWidth)"""
    return list(page.locator(query).evaluate_all(inside))


@pytest.fixture(scope="module")
def pim_report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pim")
    check(SAMPLES / "pim").save(folder)
    return folder / "report.html"


@pytest.fixture(scope="module")
def pim(pim_report: Path, shared_page: NewPage) -> Page:
    return open_report(shared_page(reduced_motion="reduce").page, pim_report)


SCREENS = ((1440, 900), (1024, 768), (390, 844))


@pytest.mark.parametrize("scripts", [True, False])
@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_verdict_line_up_and_cards_are_on_the_first_screen(
    pim_report: Path, new_page: NewPage, width: int, height: int, scripts: bool
) -> None:
    opened = new_page(viewport={"width": width, "height": height}, java_script_enabled=scripts)
    page = opened.page
    page.goto(pim_report.as_uri())
    if scripts:
        page.wait_for_selector("body[data-ready]")
    expect(page.get_by_role("heading", name="Off model")).to_be_in_viewport(ratio=1)
    expect(page.get_by_text("5 things to redraw in 3 of 4 drawings")).to_be_in_viewport(ratio=1)
    assert shown_whole(page, ".stage") == [True]
    assert shown_whole(page, ".captions .card") == 5 * [True]
    assert page.locator(".balloon").count() == 5


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
    ("letters", "width", "height"),
    [("wide", *screen) for screen in SCREENS] + [(one, 1024, 768) for one in ("narrow", "machine")],
)
def test_six_drawings_with_long_names_are_whole_and_cover_nothing(
    crowded: Path, new_page: NewPage, tmp_path: Path, width: int, height: int, letters: str
) -> None:
    copy = tmp_path / "report.html"
    copy.write_text(in_letters(crowded.read_text("utf-8"), letters), "utf-8")
    opened = new_page(viewport={"width": width, "height": height}, bypass_csp=True)
    page = open_report(opened.page, copy)
    assert page.evaluate("document.documentElement.scrollWidth") == width
    assert shown_whole(page, ".stage") == [True]
    assert page.locator(".disc").count() >= 4
    assert page.locator(".disc").evaluate_all(OVER) == 0
    marks = [".label text, .scale text, .balloon .px", AIR]
    assert page.locator(".lineup").evaluate(UNREADABLE, marks)[1] == []
    words = "h1, .revision, #verdict, .sum, .facts, .pick span, .caption h3, .told b, .told span"
    assert page.locator("main").evaluate(UNREADABLE, [words, AIR])[1] == []


def test_only_ground_and_crown_placed_is_a_line_up_too(tmp_path: Path, new_page: NewPage) -> None:
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


def test_a_column_is_sorted_by_keyboard_and_says_so(opened: Opened) -> None:
    page = opened.page
    page.locator("#check-pivot summary").first.click()
    table = page.locator("#check-pivot table").first
    head = table.locator("th", has_text="Drift")
    head.get_by_role("button").focus()
    page.keyboard.press("Enter")
    expect(head).to_have_attribute("aria-sort", "ascending")
    values = "rows => rows.map(r => Number(r.cells[6].dataset.value))"
    rising = table.locator("tbody tr").evaluate_all(values)
    assert rising == sorted(rising)
    assert rising[0] < -2.5
    page.keyboard.press("Enter")
    expect(head).to_have_attribute("aria-sort", "descending")
    assert table.locator("tbody tr").evaluate_all(values) == sorted(rising, reverse=True)


def test_checks_are_folded_with_their_counts_and_what_is_on_model_once_more(
    opened: Opened,
) -> None:
    check = opened.page.locator("#check-pivot")
    off, calm = check.locator("tr.is-off_model").first, check.locator("tr.is-on_model").first
    expect(check.locator("summary").first).to_contain_text("off model")
    expect(off).to_be_hidden()
    check.locator("summary").first.click()
    expect(off).to_be_visible()
    expect(calm).to_be_hidden()
    fold = check.locator(".calm > summary")
    expect(fold).to_have_text(f"{check.locator('tr.is-on_model').count()} on model")
    fold.click()
    expect(calm).to_be_visible()


def test_a_waiver_to_paste_is_refused_until_its_reason_and_role_are_filled_in(
    opened: Opened, tmp_path: Path
) -> None:
    page = opened.page
    page.locator("#check-pivot summary").first.click()
    page.locator(f"{ELBOW_ROW} .accept summary").click()
    expect(page.locator(f"{ELBOW_ROW} .accept")).to_contain_text("Paste this into sheet.toml")
    pasted = page.locator(f"{ELBOW_ROW} .accept pre").inner_text()
    sheet = drifting_sheet(tmp_path / "blind", drift=LOW_ARM, toml_extra=pasted)
    with pytest.raises(TurncheckError, match="reason"):
        check(sheet)
    filled = pasted.replace('reason = ""', 'reason = "drawn so"').replace('by = ""', 'by = "lead"')
    found = check(drifting_sheet(tmp_path / "filled", drift=LOW_ARM, toml_extra=filled)).rows
    elbow = [row for row in found if (row.view, row.subject.name) == ("side", "elbow_l")]
    assert "waived" in {row.verdict for row in elbow if row.check == "pivot"}


def test_a_finding_says_whom_it_blames_and_leads_to_what_to_redraw(opened: Opened) -> None:
    page = opened.page
    page.locator("#check-pivot summary").first.click()
    blame = page.locator(f"{ELBOW_ROW} .blames a")
    expect(blame).to_have_text("side, see 1")
    blame.click()
    expect(page.locator("#redraw-1")).to_be_in_viewport()


def test_pointing_at_a_mark_names_it_and_escape_takes_the_name_away(opened: Opened) -> None:
    tip = opened.page.locator(".tip")
    opened.page.locator(ELBOW).hover()
    expect(tip).to_contain_text("left elbow, side: off model")
    expect(tip).to_contain_text("too low")
    opened.page.locator(".stage").focus()
    opened.page.keyboard.press("Escape")
    expect(tip).to_be_hidden()


def test_the_arrow_keys_step_from_mark_to_mark_and_name_them(opened: Opened) -> None:
    page = opened.page
    page.locator(ELBOW).focus()
    page.keyboard.press("ArrowDown")
    focused = page.evaluate("document.activeElement.id")
    assert focused.startswith("mark-side-")
    assert focused != ELBOW[1:]
    expect(page.locator(".tip")).to_contain_text(", side:")


def test_each_drawing_with_a_fault_is_one_stop_for_the_tab_key(opened: Opened) -> None:
    assert opened.page.locator(".mark[tabindex='0']").count() == 1
    show_all_points(opened.page)
    assert opened.page.locator(".mark[tabindex='0']").count() == 4


def focused(page: Page) -> str:
    return str(page.evaluate("document.activeElement.id"))


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


def test_a_row_leads_to_its_mark_and_the_mark_back_to_its_row(opened: Opened) -> None:
    page = opened.page
    page.locator("#check-pivot summary").first.click()
    page.locator(f"{ELBOW_ROW} a.see").click()
    expect(page.locator(ELBOW)).to_be_focused()
    expect(page.locator(ELBOW)).to_be_in_viewport()
    page.keyboard.press("Enter")
    expect(page.locator(ELBOW_ROW)).to_be_focused()
    expect(page.locator(ELBOW_ROW)).to_be_in_viewport()
    page.go_back()
    expect(page.locator(ELBOW)).to_be_focused()


def test_a_row_that_is_folded_away_is_opened_by_its_link(opened: Opened) -> None:
    page = opened.page
    expect(page.locator("#check-height")).not_to_have_attribute("open", "")
    top = page.locator(".strip[aria-label^='mouth'] .spot").last  # of dots on one spot
    row = top.get_attribute("href")
    assert row is not None and row.startswith("#row-height-")
    top.locator(".hit").click()
    expect(page.locator(row)).to_be_in_viewport()


def test_pointing_at_a_dot_names_it_with_its_drawing_drift_and_verdict(opened: Opened) -> None:
    dot = opened.page.locator(".strip[aria-label^='mouth'] .spot").last
    note = dot.locator(".note")
    expect(note).to_be_hidden()
    dot.locator(".hit").hover()
    expect(note).to_be_visible()
    for view in ("front", "three quarter", "side", "back"):  # all four lie on one spot
        says = rf"mouth, {view}: .*?, ±\s0\.\d\d\s%; on model"
        expect(note).to_contain_text(re.compile(says))
        expect(opened.page.get_by_role("link", name=re.compile(f"^{says}$"))).to_have_count(1)
    label = opened.page.locator("#driftmap .off a", has_text="side: left 4.8").first
    label.focus()
    opened.page.keyboard.press("Enter")
    expect(opened.page.locator("tr.lit")).to_be_in_viewport()


def test_a_task_leads_to_its_marks(opened: Opened) -> None:
    opened.page.locator("#redraw-1 summary").click()
    opened.page.locator("#redraw-1").get_by_role("link", name="left wrist").first.click()
    expect(opened.page.locator("#mark-side-wrist_l")).to_be_focused()


#: How much of the width of a drawing put right is cut off at its left, as a share.
CUT = "take => parseFloat(getComputedStyle(take).clipPath.split(' ').pop()) / 100"


def test_a_drawing_is_wiped_to_one_put_right_by_mouse(opened: Opened) -> None:
    page = opened.page
    wipe = page.locator("#redraw-1 .wipe")
    right = wipe.locator(".take").nth(1)
    wipe.scroll_into_view_if_needed()
    box = right.bounding_box()
    assert box is not None
    middle = box["y"] + box["height"] / 2
    for share in (0.25, 0.8):
        page.mouse.move(box["x"] + 0.5 * box["width"], middle)
        page.mouse.down()
        page.mouse.move(box["x"] + share * box["width"], middle, steps=4)
        page.mouse.up()
        assert right.evaluate(CUT) == pytest.approx(share, abs=0.02)
    assert wipe.locator(".take").first.bounding_box() == right.bounding_box()


def test_a_drawing_is_wiped_to_one_put_right_by_the_arrow_keys(opened: Opened) -> None:
    page = opened.page
    bar = page.locator("#redraw-1 .wipe").get_by_role("slider")
    right = page.locator("#redraw-1 .take").nth(1)
    before = right.evaluate(CUT)
    bar.focus()
    page.keyboard.press("ArrowRight")
    assert right.evaluate(CUT) == pytest.approx(before + 0.02, abs=0.001)
    page.keyboard.press("Home")
    assert right.evaluate(CUT) == 0.0
    page.keyboard.press("End")
    assert right.evaluate(CUT) == 1.0


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


def test_the_piece_that_moves_lies_where_its_arrow_leads(drifted: Path, new_page: NewPage) -> None:
    """The left arm of this body was planted 4.8 px too low."""
    page = open_report(new_page().page, drifted)
    found = (
        page.locator("#redraw-1 .take")
        .nth(1)
        .evaluate(
            "take => [...take.querySelectorAll('use[mask][transform]')].map((use) =>"
            " { const m = use.transform.baseVal.consolidate().matrix; return [m.e, m.f]; })"
        )
    )
    assert found
    for across, down in found:
        assert (across, down) == (pytest.approx(0.0, abs=0.5), pytest.approx(-4.8, abs=0.5))


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


@pytest.mark.parametrize("way", ["button", "keyboard", "wheel"])
def test_zooming_parts_the_points_and_keeps_the_marks_size(opened: Opened, way: str) -> None:
    page = opened.page
    show_all_points(page)
    page.locator(".stage").scroll_into_view_if_needed()
    pair = (ELBOW, "#mark-side-hip_l")
    size, apart = scale_of(page, ELBOW), distance(page, *pair)
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
    assert distance(page, *pair) > 1.15 * apart
    assert scale_of(page, ELBOW) == pytest.approx(size, rel=0.25)
    page.locator(".stage").focus()
    page.keyboard.press("0")
    assert distance(page, *pair) == pytest.approx(apart, abs=0.5)


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


def test_on_paper_the_verdict_comes_first_and_everything_is_open(
    drifted: Path, new_page: NewPage
) -> None:
    page = new_page().page
    open_report(page, drifted)
    paper = PdfReader(io.BytesIO(page.pdf(prefer_css_page_size=True, print_background=True)))
    first = paper.pages[0]
    assert float(first.mediabox.width) == pytest.approx(297 / 25.4 * 72, abs=1.5)  # ISO 216 A4
    assert "Off model" in first.extract_text()
    said = " ".join(first.extract_text().split())
    assert "1 thing to redraw in 1 of 4 drawings" in said
    assert "Left arm 4.8 px too low raise it 4.8 px" in said  # its card
    assert "arrow: from where a point is to where it should be" in said  # the key of the marks
    text = " ".join(sheet.extract_text() for sheet in paper.pages)
    assert "SHA-256" in text
    assert "Points that agree" in text.replace("\n", " ")  # a section that was folded


def printed(page: Page) -> tuple[int, list[str]]:
    """Bytes of the page as a PDF, and the text of its sheets."""
    paper = page.pdf(prefer_css_page_size=True, print_background=True)
    sheets = PdfReader(io.BytesIO(paper)).pages
    return len(paper), [" ".join(sheet.extract_text().split()) for sheet in sheets]


def test_rows_on_model_are_printed_only_where_they_are_shown(
    drifted: Path, new_page: NewPage
) -> None:
    page = new_page().page
    open_report(page, drifted)
    level = "left and right elbow, middle"  # a row of a table in which all is on model
    sheets = printed(page)[1]
    assert not any(level in sheet for sheet in sheets)
    assert any(re.search(r"\d+ on model Not measured", sheet) for sheet in sheets)  # the count
    page.evaluate("document.querySelectorAll('.calm').forEach(d => { d.open = true; })")
    assert any(level in sheet for sheet in printed(page)[1])


def test_a_sample_is_printed_on_few_sheets_and_as_a_small_file(
    new_page: NewPage, tmp_path: Path
) -> None:
    """A striped gradient alone made 27 MB: it became a picture for each cell."""
    check(SAMPLES / "pim").save(tmp_path)
    page = new_page().page
    open_report(page, tmp_path / "report.html")
    size, sheets = printed(page)
    assert size < 5_000_000
    assert len(sheets) <= 12
    for number, sheet in enumerate(sheets, start=1):
        assert sheet.startswith("Pim, revision A printed on ")
        assert f"{number} of {len(sheets)}" in sheet
    assert "Approved by Signature Date" in sheets[-1]
    for sheet in sheets:
        assert not sheet.endswith(("Heights", "Pivots", "Proportions", "Turn", "Outline"))


@pytest.mark.parametrize("media", ["screen", "print"])
def test_notes_are_no_larger_than_their_rows(
    drifted: Path, new_page: NewPage, media: Literal["screen", "print"]
) -> None:
    page = new_page().page
    open_report(page, drifted)
    page.emulate_media(media=media)
    size = "e => parseFloat(getComputedStyle(e).fontSize)"
    note = page.locator(".rows small").first
    assert note.evaluate(size) < page.locator(".rows tbody td").first.evaluate(size)


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


def test_a_sample_with_five_faults_is_a_short_page(new_page: NewPage, tmp_path: Path) -> None:
    """Everything is there, one step away: half of what it was with all tables open."""
    check(SAMPLES / "pim").save(tmp_path)
    page = open_report(
        new_page(viewport={"width": 1440, "height": 900}).page, tmp_path / "report.html"
    )
    assert page.evaluate("document.documentElement.scrollHeight") < 6000


@pytest.mark.parametrize("name", ["pim", "brindle"])
def test_the_sample_characters_reports_are_sound(
    name: str, new_page: NewPage, tmp_path: Path
) -> None:
    check(SAMPLES / name).save(tmp_path)
    opened = new_page(viewport={"width": 1024, "height": 800})
    open_report(opened.page, tmp_path / "report.html")
    assert opened.page.evaluate("document.documentElement.scrollWidth") == 1024
    assert opened.violations() == []
    assert opened.faults == []


@pytest.fixture(scope="module")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("faulty")
    check(faulty_pim(folder / "sheet")).save(folder)
    return folder / "report.html"


SECTIONS = ("#above", "#outline", "#inks")


@pytest.mark.parametrize(("scheme", "width"), [("dark", 1440), ("light", 390)])
def test_axe_finds_nothing_where_everything_is_off(
    faulty: Path, new_page: NewPage, scheme: str, width: int
) -> None:
    opened = new_page(
        color_scheme=scheme, viewport={"width": width, "height": 900}, reduced_motion="reduce"
    )
    open_report(opened.page, faulty)
    opened.page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert opened.violations() == []
    assert opened.faults == []
    assert opened.page.evaluate("document.documentElement.scrollWidth") == width


@pytest.mark.parametrize("scripts", [True, False])
def test_the_sections_on_the_body_are_there_with_scripts_and_without(
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


@pytest.mark.parametrize("scripts", [True, False])
def test_the_figure_that_was_measured_is_shown_and_hidden_by_keyboard(
    faulty: Path, new_page: NewPage, scripts: bool
) -> None:
    page = new_page(java_script_enabled=scripts).page
    page.goto(faulty.as_uri())
    page.locator("#outline .outlines > summary").click()
    contour = page.locator("#outline .sil .contour").first
    expect(contour).to_be_visible()
    page.get_by_label("Show the figure that was measured").focus()
    page.keyboard.press("Space")
    expect(contour).to_be_hidden()
    page.keyboard.press("Space")
    expect(contour).to_be_visible()


def test_arrows_across_lie_level_and_point_the_right_way(faults_looked_at: Page) -> None:
    page = faults_looked_at
    way = page.locator(".move[data-mark='mark-three_quarter-knee_r']")
    box = way.locator(".way").bounding_box()
    head = way.locator(".head").bounding_box()
    at = page.locator("#mark-three_quarter-knee_r .origin").bounding_box()
    assert box is not None and head is not None and at is not None
    assert box["width"] > 8.0
    assert box["height"] < 3.0
    assert head["x"] + head["width"] / 2 > at["x"] + at["width"] / 2


@pytest.fixture(scope="module", params=product(LETTERS, (1440, 1024)), ids=str)
def laid_out(
    request: pytest.FixtureRequest,
    faulty: Path,
    shared_page: NewPage,
    tmp_path_factory: pytest.TempPathFactory,
) -> Page:
    """The report with everything wrong and everything open, in letters of every kind."""
    return lay_out(*request.param, faulty, shared_page, tmp_path_factory)


@pytest.fixture(scope="module", params=LETTERS)
def laid_out_narrow(
    request: pytest.FixtureRequest,
    faulty: Path,
    shared_page: NewPage,
    tmp_path_factory: pytest.TempPathFactory,
) -> Page:
    """The same on a phone."""
    return lay_out(request.param, 390, faulty, shared_page, tmp_path_factory)


def lay_out(
    letters: str,
    width: int,
    faulty: Path,
    shared_page: NewPage,
    tmp_path_factory: pytest.TempPathFactory,
) -> Page:
    copy = tmp_path_factory.mktemp("letters") / "report.html"
    copy.write_text(in_letters(faulty.read_text("utf-8"), letters), "utf-8")
    page = shared_page(viewport={"width": width, "height": 900}, bypass_csp=True).page
    open_report(page, copy)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    return page


def test_nothing_spills_over_in_any_letters(laid_out: Page) -> None:
    wide, shown = laid_out.evaluate(
        "[document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert wide == shown


def test_every_column_of_the_tables_is_in_sight(laid_out: Page) -> None:
    cut = "all => all.filter(e => e.scrollWidth > e.clientWidth).map(e => e.ariaLabel)"
    assert laid_out.locator(".check .scroll").evaluate_all(cut) == []


#: Of the texts that a picture shows: those that its edge cuts and those that cover others.
UNREADABLE = """(picture, [query, apart]) => {
  const room = picture.getBoundingClientRect();
  const shown = [...picture.querySelectorAll(query)]
    .filter((e) => e.textContent && e.getClientRects().length
      && e.checkVisibility({ visibilityProperty: true }))
    .map((e) => {
      const range = document.createRange();
      range.selectNodeContents(e);
      return [e.textContent, range.getBoundingClientRect()];
    });
  const cut = shown.filter(([, a]) => a.left < room.left - 1 || a.right > room.right + 1
    || a.top < room.top - 1 || a.bottom > room.bottom + 1).map(([says]) => `${says} is cut`);
  const across = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left);
  const down = (a, b) => Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
  const over = shown.flatMap(([says, a], i) => shown.slice(i + 1)
    .filter(([, b]) => across(a, b) > 1 && down(a, b) > apart * Math.min(a.height, b.height))
    .map(([other]) => `${says} over ${other}`));
  return [shown.length, [...cut, ...over]];
}"""
#: Share of a line's height that lies above and below its letters.
AIR = 0.3


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
    assert laid_out_narrow.evaluate("document.documentElement.scrollWidth") == 390
    assert words_of_the_plots(laid_out_narrow) == []


SIX = {
    "front": 0.0,
    "three_quarter_from_the_left_as_in_the_first_film": 45.0,
    "side": 90.0,
    "back_three_quarter": 135.0,
    "back": 180.0,
    "other_side": -90.0,
}


@pytest.mark.parametrize("width", [1440, 1024, 390])
def test_six_drawings_with_long_names_and_faults_far_off_are_whole(
    tmp_path: Path, new_page: NewPage, width: int
) -> None:
    drift = LOW_ARM | {("back", "chin"): (0.0, 14.0), ("front", "knee_r"): (0.0, -5.0)}
    drift[[*SIX][1], "knee_l"] = (0.0, 6.0)
    check(drifting_sheet(tmp_path / "sheet", drift=drift, views=SIX)).save(tmp_path)
    page = new_page(viewport={"width": width, "height": 900}).page
    open_report(page, tmp_path / "report.html")
    assert page.evaluate("document.documentElement.scrollWidth") == width
    assert words_of_the_plots(page) == []


@pytest.mark.parametrize("width", [1440, 390])
def test_two_points_a_drawing_are_enough_for_a_page(
    tmp_path: Path, new_page: NewPage, width: int
) -> None:
    sheet = drifting_sheet(tmp_path / "sheet")
    table = sheet / "landmarks.csv"
    lines = table.read_text("utf-8").splitlines()
    kept = [line for line in lines if line.split(",")[1] in ("landmark", "ground", "crown")]
    table.write_text("\n".join(kept) + "\n", "utf-8")
    check(sheet).save(tmp_path)
    opened = new_page(viewport={"width": width, "height": 900})
    open_report(opened.page, tmp_path / "report.html")
    assert opened.page.evaluate("document.documentElement.scrollWidth") == width
    assert opened.page.locator(".strips tbody tr").count() == 1
    assert opened.faults == []


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


@pytest.mark.parametrize("letters", LETTERS)
def test_words_on_the_cards_keep_off_each_other_on_a_phone(
    faulty: Path, new_page: NewPage, tmp_path: Path, letters: str
) -> None:
    copy = tmp_path / "report.html"
    copy.write_text(in_letters(faulty.read_text("utf-8"), letters), "utf-8")
    page = open_report(new_page(viewport={"width": 390, "height": 800}, bypass_csp=True).page, copy)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    assert unread_on_cards(page) == []


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

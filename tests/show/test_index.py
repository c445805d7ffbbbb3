"""The page of a show as text: everything is in it, in order, escaped and the same every time."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from types import SimpleNamespace

import pytest
from markupsafe import Markup

from tests.show.shows import page_of as text_of
from tests.show.shows import show
from turncheck.show.record import Record

HOSTILE = "</script><script>alert(1)</script>\"><img src=x onerror=alert(2)>'{{ 7*7 }}"
#: Elements without an end.
VOID = {"meta", "img", "input", "use", "path", "circle", "br", "symbol"}


@dataclass
class Element:
    """An element, with the text of all that is in it."""

    tag: str
    attributes: dict[str, str]
    inside: tuple[Element, ...]
    words: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        return " ".join("".join(self.words).replace("\N{NO-BREAK SPACE}", " ").split())

    @property
    def classes(self) -> set[str]:
        return set(self.attributes.get("class", "").split())


class Page(HTMLParser):
    """All elements of a page, each with those around it."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[Element] = []
        self._open: list[Element] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        made = Element(tag, {name: value or "" for name, value in attrs}, tuple(self._open))
        self.elements.append(made)
        if tag not in VOID:
            self._open.append(made)

    def handle_endtag(self, tag: str) -> None:
        while self._open and tag not in VOID and self._open.pop().tag != tag:
            pass

    def handle_data(self, data: str) -> None:
        for element in self._open:
            element.words.append(data)

    def all(self, tag: str, inside: str = "", **attributes: str) -> list[Element]:
        """Elements of a tag, such as lie in the one with an id, with such attributes."""
        return [
            one
            for one in self.elements
            if one.tag == tag
            and (not inside or any(o.attributes.get("id") == inside for o in one.inside))
            and attributes.items() <= one.attributes.items()
        ]

    def id(self, name: str) -> Element:
        (found,) = (one for one in self.elements if one.attributes.get("id") == name)
        return found

    def cells(self) -> list[list[str]]:
        """The table's rows, each as its cells' texts."""
        rows = [row for row in self.all("tr", "sheets") if "id" in row.attributes]
        cells = [one for one in self.elements if one.tag in ("td", "th")]
        return [[cell.text for cell in cells if row in cell.inside] for row in rows]


def page_of(records: list[Record], **more: object) -> Page:
    return Page(text_of(records, "The Kettle Pass Post", **more))


@pytest.fixture(scope="module")
def page() -> Page:
    return page_of(show(), sampled="1 of 7 sheets picked at random (seed 7).")


def test_the_first_lines_count_the_verdicts_and_name_the_worst(page: Page) -> None:
    tallies = [
        one.text for one in page.all("li") if any("tallies" in o.classes for o in one.inside)
    ]
    assert tallies == [
        "3 off model",
        "1 too close to call",
        "1 can't be used",
        "1 on model",
        "1 not measured",
        "1 approval stale",
    ]
    (worst,) = (one.text for one in page.all("p") if "worst" in one.classes)
    assert worst == "Furthest off: Ilse, revision A: chin 40 px (3.6 %) too high, 1 to redraw"
    (count,) = (one.text for one in page.all("p") if "count" in one.classes)
    assert count.startswith("7 sheets of 4 characters. 1 of 7 sheets picked at random (seed 7).")


def test_what_is_not_there_is_counted_too_and_filters_nothing() -> None:
    page = page_of(show()[:1])
    filters = [
        one.attributes["data-only"] for one in page.elements if "data-only" in one.attributes
    ]
    assert filters == ["is-on_model"]
    assert "0 can't be used" in page.all("header")[0].text


def test_characters_stand_worst_first_with_their_revisions_together_last_name_first(
    page: Page,
) -> None:
    assert [(cells[1], cells[2]) for cells in page.cells()] == [
        ("Ilsemain/ilse", "A"),
        ("Pimmain/pim_c", "B10"),
        ("Pimmain/pim_b", "B9"),
        ("Brindlegoats/brindle", "A"),
        ("old/kettle", ""),
        ("Odomain/odo", "B"),
        ("Odomain/odo_a", "A"),
    ]
    assert "which one is the newest is not told" in page.id("sheets").text


def test_a_row_says_all_that_is_kept_of_a_sheet(page: Page) -> None:
    rows = {row[1]: row for row in page.cells()}
    assert rows["Odomain/odo"] == [
        "on model", "Odomain/odo", "B", "", "", "approved", "6.0", "172 cm",
        "ana: front, back; Bö: side",
    ]  # fmt: skip
    assert rows["Pimmain/pim_c"][3:5] == ["5", "left wrist 27 px (2.5 %) too low"]
    assert rows["Brindlegoats/brindle"][5] == "stalethe side drawing and the points"
    assert rows["old/kettle"][4] == "old/kettle/landmarks.csv, row 12: x is not a number"


def test_each_heading_can_sort_and_drifts_sort_by_their_size(page: Page) -> None:
    heads = page.all("th", "sheets", scope="col")
    assert len(heads) == 9 and all("data-sort" in head.attributes for head in heads)
    drifts = [one.attributes["data-value"] for one in page.all("td") if "says" in one.classes]
    assert drifts == ["3.6", "2.5", "1.2", "", "", "", ""]


def test_every_sheet_stands_in_the_cast_with_its_mark_name_and_link(page: Page) -> None:
    stands = [one for one in page.all("li", "cast")]
    assert len(stands) == len(show())
    ilse = page.id("at-0")
    assert {"stand", "is-off_model"} <= ilse.classes and "guessed" not in ilse.classes
    assert ilse.text == "off model 1 to redraw Ilse160 cm · A"
    (link,) = (one for one in page.all("a", "at-0"))
    assert link.attributes["href"] == "e.html"
    marks = [one.attributes["href"] for one in page.all("use", "at-0")]
    assert marks == ["#shape-off_model"]


def test_a_picture_keeps_its_place_before_it_is_there(page: Page) -> None:
    pictures = page.all("img", "cast")
    assert len(pictures) == 5
    for one in pictures:
        assert one.attributes["loading"] == "lazy" and one.attributes["alt"]
        assert int(one.attributes["width"]) > 0 and int(one.attributes["height"]) > 0
        assert one.attributes["src"] == "pictures/a%20figure.webp"


def test_a_height_that_is_not_told_is_drawn_and_said_as_such(page: Page) -> None:
    guessed = [one for one in page.all("li", "cast") if "guessed" in one.classes]
    assert [one.attributes["id"] for one in guessed] == ["at-3", "at-4"]
    assert all("height not told" in one.text for one in guessed)
    (sizes,) = (one.text for one in page.all("p", "cast") if "sizes" in one.classes)
    assert sizes == (
        "5 stand at true size; 2 have no height_cm in sheet.toml and are drawn paler, "
        "as tall as the usual one."
    )


def test_lines_of_height_stand_only_where_a_height_is_told() -> None:
    told = text_of(show())
    assert '<ol class="cast ruled">' in told and "50 cm" in told
    untold = text_of([replace(one, height_cm=0.0) for one in show()])
    assert '<ol class="cast">' in untold and "50 cm" not in untold
    assert "No sheet.toml has a height_cm, so all are drawn paler, 2 by" in untold
    few = [Record("odo", heads=6.0), Record("pim"), Record("bo", height_cm=90.0)]
    says = "1 stands at true size; 2 have no height_cm in sheet.toml and are drawn paler, "
    assert (
        f"{says}1 by the count of heads and 1 as tall as the usual one."
        in page_of(few).id("cast").text
    )
    assert "1 has no height_cm in sheet.toml and is drawn paler" in page_of(few[1:]).id("cast").text


def test_what_is_to_be_decided_is_counted_where_nothing_is_to_redraw() -> None:
    page = page_of([Record("odo", verdict="off_model", to_decide=3), Record("pim", to_redraw=1)])
    assert [row[3] for row in page.cells()] == ["3 to decide", "1"]
    assert "3 to decide" in page.id("at-0").text


def test_the_worst_points_of_sampled_sheets_are_shown(page: Page) -> None:
    spots = [one for one in page.all("li", "points")]
    assert [one.text for one in spots] == [f"Left wrist {px} px too low Side" for px in (27, 12, 9)]
    assert [one.attributes["alt"] for one in page.all("img", "points")] == [
        f"Side: Left wrist {px} px too low" for px in (27, 12, 9)
    ]
    assert not [one for one in page_of(show()[:2]).all("section", id="points")]


def test_habits_stand_below_the_cast() -> None:
    habits = SimpleNamespace(
        title="Habits",
        sentence="Side drawings have the left wrist 0.4 % low.",
        plot=Markup('<svg id="plot"></svg>'),
        headings=("Drawing", "Drift"),
        rows=(("Side", "<0.4 %>"),),
        hint="",
    )
    page = page_of(show(), habits=habits)
    assert page.all("svg", "habits", id="plot")
    assert [one.text for one in page.all("td", "habits")] == ["Side", "<0.4 %>"]
    assert not page_of(show()).all("section", id="habits")


def test_what_users_wrote_is_text_wherever_it_stands() -> None:
    hostile = [
        replace(
            record,
            path=HOSTILE + record.path,
            character=HOSTILE,
            revision=HOSTILE,
            worst=HOSTILE,
            reason=record.reason and HOSTILE,
            changed=(HOSTILE,),
            drawn_by={HOSTILE: HOSTILE, "side": "ana"},
            report="javascript:alert(1)//" + HOSTILE,
            spots=tuple(replace(spot, says=HOSTILE, view=HOSTILE) for spot in record.spots),
        )
        for record in show()
    ]
    html = text_of(hostile, title=HOSTILE, sampled=HOSTILE)
    page = Page(html)
    assert len(page.all("script")) == 1
    assert not [one for one in page.elements if "onerror" in one.attributes]
    assert all(one.attributes["src"].startswith("pictures/") for one in page.all("img"))
    links = {one.attributes["href"].split("/")[0] for one in page.all("a")}
    assert links <= {"#sheets", "#points", "javascript%3Aalert%281%29"}
    assert page.all("h1")[0].text == " ".join(HOSTILE.split())
    assert "49" not in page.all("header")[0].text


@pytest.mark.parametrize("count", [0, 1])
def test_a_show_without_a_figure_is_a_page_too(count: int) -> None:
    page = page_of([Record("kettle", reason="kettle/sheet.toml: no such file")][:count])
    assert len(page.all("img")) == 0
    assert ("There is no sheet here." in page.id("main").text) == (count == 0)
    assert ("no drawing" in page.id("main").text) == (count == 1)


def test_ids_are_unique_and_links_within_lead_somewhere(page: Page) -> None:
    ids = [one.attributes["id"] for one in page.elements if "id" in one.attributes]
    assert len(ids) == len(set(ids))
    links = {one.attributes["href"] for one in page.all("a") + page.all("use")}
    assert {link[1:] for link in links if link.startswith("#")} <= set(ids)


def test_the_order_of_the_records_changes_nothing() -> None:
    assert text_of(show()) == text_of(show()[::-1])


def test_nothing_but_what_is_in_it_runs_and_pictures_lie_beside_it() -> None:
    html = text_of(show())
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)
    assert policy is not None
    assert "default-src &#39;none&#39;; img-src &#39;self&#39; file:; " in policy[1]
    assert "unsafe" not in policy[1] and "style=" not in html
    script = html[html.index('<script type="module">') : html.index("</script>")]
    assert len(script) < 20_000


def test_a_thousand_sheets_stay_a_light_page() -> None:
    """Beside the letters and the rest, 54 KB, a sheet takes what it says."""
    base = show()
    many = [
        replace(base[i % 7], path=f"main/part/sheet_{i}", character=f"Character {i}", spots=())
        for i in range(1000)
    ]
    assert len(text_of(many).encode("utf-8")) < 1_500_000


def test_names_stand_in_the_order_in_which_people_count() -> None:
    off = [
        Record(str(n), f"Kind {n}", verdict="off_model", worst="Line too light") for n in (10, 9)
    ]
    page = page_of(off)
    assert [row[1] for row in page.cells()] == ["Kind 99", "Kind 1010"]  # and the folder
    (worst,) = (one.text for one in page.all("p") if "worst" in one.classes)
    assert worst == "Off model: Kind 9: Line too light"  # how far is not told, so not furthest

"""Reports that are opened, and what is asked of them."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from playwright.sync_api import Page

ELBOW = "#mark-side-elbow_l"
ELBOW_ROW = "#row-pivot-side-elbow_l"
#: Screens that the pages are tried on, px.
SCREENS = ((1440, 900), (1024, 768), (390, 844))
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


def open_report(page: Page, report: Path) -> Page:
    """Open a report and wait until its words are measured and laid out."""
    page.goto(report.as_uri())
    page.wait_for_selector("body[data-ready]")
    return page


def open_all(page: Page) -> None:
    """Unfold everything that is folded."""
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")


def leave_out_alike(page: Page) -> None:
    """Take out the rows of a table that differ from one before it in words and numbers alone.

    What axe-core says of one it says of all, in a time that grows with their square.
    """
    page.evaluate("""document.querySelectorAll("tbody").forEach((body) => {
      const seen = new Set();
      for (const row of [...body.rows]) {
        const make = row.outerHTML
          .replace(/>[^<]*</g, "><")
          .replace(/ (?!class=)[a-z-]+="[^"]*"/g, "");
        if (seen.has(make)) row.remove();
        seen.add(make);
      }
    })""")


def seen_in(page: Page, scheme: Literal["light", "dark"], width: int) -> None:
    """Show a page in a colour scheme and so wide, px."""
    page.emulate_media(color_scheme=scheme)
    page.set_viewport_size({"width": width, "height": 900})


def width_of(page: Page) -> int:
    """How wide what stands on the page is, px; more than the window if it scrolls sideways."""
    return int(page.evaluate("document.documentElement.scrollWidth"))


def show_all_points(page: Page) -> None:
    """Show the points without a fault as well."""
    page.get_by_label("All points").check()


def focused(page: Page) -> str:
    return str(page.evaluate("document.activeElement.id"))


def shown_whole(page: Page, query: str) -> list[bool]:
    """Whether each such element lies whole in the window."""
    inside = """all => all.map(e => e.getBoundingClientRect()).map(b =>
      b.width > 0 && b.top >= 0 && b.left >= 0
        && b.bottom <= innerHeight && b.right <= innerWidth)"""
    return list(page.locator(query).evaluate_all(inside))

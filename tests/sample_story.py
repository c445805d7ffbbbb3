"""Draws the pictures of the README's tour anew: `python -m tests.sample_story`."""

from __future__ import annotations

import csv
import io
import shutil
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image
from playwright.sync_api import Page, sync_playwright

from tests import story
from tests.browser.conftest import ARGUMENTS
from tests.browser.marking_pages import Running, choose, rests
from tests.places import ROOT

FOLDER = ROOT / "reports" / "story"
#: Widest picture, px, and what is kept of it where it is packed.
WIDEST, QUALITY = 1440, 82
#: Where the angle not drawn yet and the drawings beside it are cut off left and right, px.
SIDES = ((150, 780), (0, 800), (150, 780))
#: What is placed of the side when the page is looked at.
PLACED = ("ground", "crown", "hair_top", "chin", "brow_r", "eye_r")


def keep(picture: Image.Image, name: str) -> None:
    """Write a picture of the tour, no wider than a page."""
    picture = picture.convert("RGB")
    picture.thumbnail((WIDEST, WIDEST), Image.Resampling.LANCZOS)
    picture.save(FOLDER / f"{name}.webp", quality=QUALITY, method=6)


def shot(page: Page) -> Image.Image:
    """Return what the window shows."""
    return Image.open(io.BytesIO(page.screenshot(animations="disabled")))


def opened(page: Page, path: Path) -> None:
    """Open a written page, and wait until it stands still."""
    page.goto(path.as_uri())
    page.wait_for_load_state("networkidle")


def laid(*layers: Path) -> Image.Image:
    """Return a drawing on paper, with what is laid over it."""
    whole: Image.Image | None = None
    for path in layers:
        with Image.open(path) as layer:
            whole = whole or Image.new("RGBA", layer.size, "white")
            whole = Image.alpha_composite(whole, layer.convert("RGBA"))
    assert whole is not None
    return whole


def in_a_row(pictures: list[Image.Image]) -> Image.Image:
    """Stand pictures of one height beside each other."""
    row = Image.new("RGB", (sum(one.width for one in pictures), pictures[0].height))
    at = 0
    for one in pictures:
        row.paste(one.convert("RGB"), (at, 0))
        at += one.width
    return row


def half_placed(told: story.Telling) -> Path:
    """Return revision A as it is while somebody places its side."""
    folder = shutil.copytree(told.folder / "pim_a", told.folder / "half")
    table = folder / "landmarks.csv"
    with table.open(encoding="utf-8", newline="") as file:
        heading, *rows = csv.reader(file)
    kept = [row for row in rows if row[0] != "side" or row[1] in PLACED]
    with table.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([heading, *kept])
    with (folder / "sheet.toml").open("a", encoding="utf-8") as file:
        file.write("[landmarks.neck_top]\nabsent = true\n")  # the scarf hides it in every drawing
    return folder


def draw(told: story.Telling, page: Page) -> None:
    """Draw all pictures of what was told."""
    a, b = told.folder / "pim_a", told.folder / "pim_b"
    with Image.open(told.folder / "pim_wide.png") as wide:
        keep(wide, "wide")

    running = Running(half_placed(told))
    page.goto(running.url)
    rests(page)
    choose(page, "right eye", "side")
    page.wait_for_timeout(1500)  # it glides there
    keep(shot(page), "placing")
    page.goto("about:blank")
    running.end()

    opened(page, told.out("Pim-A/report.html"))
    keep(shot(page), "report")

    guides = told.out("Pim-A/guides")
    views = ("three_quarter", "side", "back")
    keep(in_a_row([laid(a / f"{view}.png", guides / f"{view}.png") for view in views]), "guides")

    opened(page, told.out("Pim-B/compare.html"))
    keep(shot(page).crop((0, 0, 1180, 900)), "compare")

    opened(page, told.out("Pim-B/pivots.html"))
    keep(shot(page), "pivots")

    drawings = (b / "three_quarter.png", told.out("Pim-B/guides/yaw_60.png"), b / "side.png")
    three = [laid(path) for path in drawings]
    cut = [
        one.crop((left, 110, right, one.height))
        for one, (left, right) in zip(three, SIDES, strict=True)
    ]
    keep(in_a_row(cut), "angle")

    opened(page, told.out("Pim-rig_1/compare.html"))
    page.locator(".wipe input").first.fill("66")
    page.keyboard.press("n")
    page.wait_for_timeout(1500)  # it glides there
    keep(shot(page).crop((0, 0, 1180, 820)), "rig")


def main() -> None:
    FOLDER.mkdir(parents=True, exist_ok=True)
    with TemporaryDirectory() as folder, sync_playwright() as playwright:
        told = story.tell(Path(folder))
        story.check_rig(told, "rig_1", story.SAGS)
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=ARGUMENTS)
        draw(told, browser.new_page(viewport={"width": 1440, "height": 900}))
        browser.close()


if __name__ == "__main__":
    main()

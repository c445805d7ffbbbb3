"""Writes the kept report of Pim anew: `python -m tests.sample_report`."""

from __future__ import annotations

import turncheck
from tests.browser.conftest import ARGUMENTS
from tests.places import ROOT

FOLDER = ROOT / "reports" / "sample"


def main() -> None:
    from playwright.sync_api import sync_playwright

    turncheck.check(ROOT / "sample_views" / "pim").save(FOLDER)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=ARGUMENTS)
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto((FOLDER / "report.html").as_uri())
        page.screenshot(path=FOLDER / "pim.png")
        browser.close()


if __name__ == "__main__":
    main()

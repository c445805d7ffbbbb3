"""Chromium for the tests that open a page; where CI=true it must be there.

It finds the fonts of a bare machine alone; `FONTCONFIG_FILE=/etc/fonts/fonts.conf` gives it all
that this machine has.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Error, Page, sync_playwright

from tests.browser.letters import bare_machine
from tests.browser.marking_pages import Running, RunningAlone, starting
from tests.browser.pages import NewPage, Opened, Pages
from tests.browser.report_pages import open_report
from tests.places import SAMPLES
from tests.report.drifting import LOW_ARM, drifting_sheet
from tests.report.faulty import faulty_pim
from turncheck.checking import check

ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A headless Chromium; without one the tests are skipped, but never where CI=true."""
    program = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chrome")
    with sync_playwright() as playwright:
        try:
            browser = playwright.chromium.launch(
                executable_path=program,
                args=[*ARGUMENTS],
                env={**bare_machine(tmp_path_factory.mktemp("fonts"))},
            )
        except Error as error:
            if os.environ.get("CI") == "true":
                raise
            pytest.skip(f"Chromium does not start: {error}")
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def pages(chromium: Browser) -> Pages:
    return Pages(chromium)


@pytest.fixture
def new_page(pages: Pages, request: pytest.FixtureRequest) -> Iterator[NewPage]:
    """A function that opens an empty page; its keywords are the context's."""
    with pages.opening(request.session) as open_page:
        yield open_page


@pytest.fixture(scope="module")
def shared_page(pages: Pages, request: pytest.FixtureRequest) -> Iterator[NewPage]:
    """A function that opens a page for all tests of a file that only look at it."""
    with pages.opening(request.session) as open_page:
        yield open_page


@pytest.fixture(scope="session")
def drifted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of a small sheet with one arm too low, and a waiver."""
    folder = tmp_path_factory.mktemp("drifted")
    more = "[[waivers]]\ncheck = 'height'\nview = 'side'\nsubject = 'chin'\n"
    more += "reason = 'drawn so'\nby = 'lead'\n"
    sheet = drifting_sheet(folder / "sheet", drift=LOW_ARM, repeats=True, toml_extra=more)
    check(sheet).save(folder)
    return folder / "report.html"


@pytest.fixture
def opened(drifted: Path, new_page: NewPage) -> Opened:
    """The report for a test that does something on it."""
    report = new_page()
    open_report(report.page, drifted)
    return report


@pytest.fixture(scope="module")
def looked_at(drifted: Path, shared_page: NewPage) -> Opened:
    """The report for the tests that change nothing on it."""
    report = shared_page()
    open_report(report.page, drifted)
    return report


@pytest.fixture(scope="session")
def pim_report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of a sample."""
    folder = tmp_path_factory.mktemp("pim")
    check(SAMPLES / "pim").save(folder)
    return folder / "report.html"


@pytest.fixture(scope="module")
def pim(pim_report: Path, shared_page: NewPage) -> Page:
    return open_report(shared_page(reduced_motion="reduce").page, pim_report)


@pytest.fixture(scope="session")
def faulty(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of a sheet with faults of every kind."""
    folder = tmp_path_factory.mktemp("faulty")
    check(faulty_pim(folder / "sheet")).save(folder)
    return folder / "report.html"


@pytest.fixture(scope="module")
def faults_looked_at(faulty: Path, shared_page: NewPage) -> Opened:
    """The report with faults of every kind, for the tests that change nothing on it."""
    report = shared_page()
    open_report(report.page, faulty)
    return report


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., Running]]:
    """A function that starts marking a copy of a sample, in this process."""
    yield from starting(tmp_path, Running)


@pytest.fixture
def start_alone(tmp_path: Path) -> Iterator[Callable[..., RunningAlone]]:
    """The same as a person starts it, in a process of its own."""
    yield from starting(tmp_path, RunningAlone)

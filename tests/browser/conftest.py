"""Chromium for the tests that open a page; where CI=true it must be there.

It finds the fonts of a bare machine alone; `FONTCONFIG_FILE=/etc/fonts/fonts.conf` gives it all
that this machine has.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib import resources
from typing import Any

import pytest
from playwright.sync_api import Browser, Error, Page, sync_playwright

from tests.browser.letters import bare_machine

ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
WCAG_AA = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@dataclass
class Opened:
    """A page, what it complained of, and what it asked the network for."""

    page: Page
    faults: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    def violations(self) -> list[str]:
        """What axe-core finds against WCAG 2.2 AA and its best practices.

        The source is evaluated, since a strict policy lets no script element in.
        """
        axe = resources.files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8")
        self.page.evaluate(axe)
        found = self.page.evaluate(
            "tags => axe.run({runOnly: tags, rules: {'target-size': {enabled: true}}})",
            [*WCAG_AA, "best-practice"],
        )
        return [
            f"{violation['id']}: {node['html'][:160]} {node.get('failureSummary', '')[:300]}"
            for violation in found["violations"]
            for node in violation["nodes"]
        ]


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


@contextmanager
def opening(chromium: Browser) -> Iterator[Callable[..., Opened]]:
    """Give a function that opens an empty page; its keywords are the context's."""
    contexts = []

    def open_page(**options: Any) -> Opened:
        context = chromium.new_context(**{"viewport": {"width": 1440, "height": 900}} | options)
        context.set_default_timeout(10_000)
        contexts.append(context)
        opened = Opened(context.new_page())
        opened.page.on("pageerror", lambda error: opened.faults.append(str(error)))
        opened.page.on(
            "console",
            lambda message: (
                opened.faults.append(message.text) if message.type in ("error", "warning") else None
            ),
        )
        opened.page.on("request", lambda request: opened.requests.append(request.url))
        return opened

    yield open_page
    for context in contexts:
        context.close()


@pytest.fixture
def new_page(chromium: Browser) -> Iterator[Callable[..., Opened]]:
    """A function that opens an empty page; its keywords are the context's."""
    with opening(chromium) as open_page:
        yield open_page


@pytest.fixture(scope="module")
def shared_page(chromium: Browser) -> Iterator[Callable[..., Opened]]:
    """A function that opens a page for all tests of a file that only look at it."""
    with opening(chromium) as open_page:
        yield open_page

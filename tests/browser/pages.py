"""Open pages that are used again, what they complain of, and what axe-core finds on them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from importlib import resources
from typing import Any

import pytest
from playwright.sync_api import Browser, Error, Page, ViewportSize

#: A common screen, px.
USUAL: ViewportSize = {"width": 1440, "height": 900}
WCAG_AA = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


class Opened:
    """A page, what it complained of, and what it asked the network for."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.faults: list[str] = []
        self.requests: list[str] = []
        self._hears: dict[str, Callable[[Any], None]] = {
            "pageerror": lambda error: self.faults.append(str(error)),
            "console": lambda message: (
                self.faults.append(message.text) if message.type in ("error", "warning") else None
            ),
            "request": lambda request: self.requests.append(request.url),
        }
        for event, hear in self._hears.items():
            page.on(event, hear)  # type: ignore[call-overload]

    def leave(self) -> None:
        """Listen no more, and bring the page to where a new one is."""
        for event, hear in self._hears.items():
            self.page.remove_listener(event, hear)
        self.page.unroute_all()
        with suppress(Error):  # where it has no storage
            self.page.evaluate("localStorage.clear(); sessionStorage.clear()")
        self.page.goto("about:blank")
        self.page.mouse.move(0, 0)

    def violations(self) -> list[str]:
        """What axe-core finds against WCAG 2.2 AA and its best practices.

        The source is evaluated, since a strict policy lets no script element in.
        """
        axe = resources.files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8")
        self.page.evaluate(axe)
        found: list[str] = self.page.evaluate(VIOLATIONS, [*WCAG_AA, "best-practice"])
        return found


#: Each element that breaks a rule; of the rules that are kept nothing is told, which takes longer
#: than to try them.
VIOLATIONS = """async (tags) => {
  const rules = { "target-size": { enabled: true } };
  const found = await axe.run({ runOnly: tags, rules, resultTypes: ["violations"] });
  return found.violations.flatMap(({ id, nodes }) => nodes.map((node) =>
    `${id}: ${node.html.slice(0, 160)} ${(node.failureSummary ?? "").slice(0, 300)}`));
}"""


class Pages:
    """The open pages of a browser: each is used again, since a new one takes twice as long."""

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self._free: dict[str, list[Page]] = {}

    @contextmanager
    def opening(self, session: pytest.Session) -> Iterator[Callable[..., Opened]]:
        """Give a function that opens an empty page; its keywords are the context's."""
        used: list[tuple[str, Opened]] = []
        failed = session.testsfailed

        def open_page(
            *,
            viewport: ViewportSize = USUAL,
            color_scheme: Any = "light",
            reduced_motion: Any = "no-preference",
            **options: Any,
        ) -> Opened:
            kind = repr(sorted(options.items()))
            free = self._free.setdefault(kind, [])
            page = free.pop() if free else self._new(viewport=viewport, **options)
            page.set_viewport_size(viewport)
            page.emulate_media(
                media="null", color_scheme=color_scheme, reduced_motion=reduced_motion
            )
            used.append((kind, Opened(page)))
            return used[-1][1]

        yield open_page
        for kind, opened in used:
            if session.testsfailed > failed:  # who knows what is held down on it
                opened.page.context.close()
            else:
                opened.leave()
                self._free[kind].append(opened.page)

    def _new(self, **options: Any) -> Page:
        context = self._browser.new_context(**options)
        context.set_default_timeout(10_000)
        return context.new_page()


#: Opens an empty page; its keywords are the context's.
NewPage = Callable[..., Opened]

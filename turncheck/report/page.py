"""Puts the sections together into one self-contained page.

A section is a builder, a function of `Facts`, and a template of the same name; adding one is
adding it to `SECTIONS`. One whose builder returns None is left out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

from markupsafe import Markup

from turncheck import assets
from turncheck.assets.pages import environment, part, policy, style
from turncheck.geometry.guard_bands import COVERAGE, WIDTH
from turncheck.report.above import build_above
from turncheck.report.cards import FEW, PICTURE
from turncheck.report.deciding import build_deciding
from turncheck.report.driftmap import build_driftmap
from turncheck.report.facts import Facts
from turncheck.report.inks import build_inks
from turncheck.report.lineup import build_lineup
from turncheck.report.masthead import build_masthead
from turncheck.report.method import build_method, build_waivers
from turncheck.report.outline import build_outline
from turncheck.report.redraws import build_redraws
from turncheck.report.tables import UNITS, build_tables
from turncheck.wording.findings import VERDICTS


@dataclass(frozen=True)
class Section:
    """A part of the page: the template `<name>.html.j2` and what fills it."""

    name: str
    title: str
    build: Callable[[Facts], Any]


SECTIONS = (
    Section("lineup", "The line-up", build_lineup),
    Section("redraws", "What to redraw", build_redraws),
    Section("deciding", "Decide first", build_deciding),
    Section("driftmap", "Drift map", build_driftmap),
    Section("above", "Turn", build_above),
    Section("outline", "Outline", build_outline),
    Section("inks", "Ink and colours", build_inks),
    Section("tables", "Check by check", build_tables),
    Section("waivers", "Waivers", build_waivers),
    Section("method", "Method", build_method),
)

#: The page's own styles and scripts in their order; a later one has the last word.
STYLES = (
    "page",
    "masthead",
    "lineup",
    "wipe",
    "redraws",
    "driftmap",
    "pictures",
    "tables",
    "narrow",
    "print",
)
SCRIPTS = ("lineup", "links", "tables", "paper")


def render(facts: Facts) -> str:
    """Return the page."""
    looks, script = style("turncheck.report", STYLES), _script()
    page = environment("turncheck.report").get_template("page.html.j2")
    return page.render(
        policy=policy([looks], [script]),
        style=looks,
        script=script,
        shapes=Markup(assets.text("shapes.svg")),
        facts=facts,
        sheet=facts.checked.sheet,
        summary=facts.summary,
        head=build_masthead(facts),
        sections=[
            (section, content)
            for section in SECTIONS
            if (content := section.build(facts)) is not None
        ],
        words=VERDICTS,
        picture=PICTURE,
        few=FEW,
        units=UNITS,
        coverage=COVERAGE,
        width=WIDTH,
    )


@cache
def _script() -> Markup:
    """Return the scripts as one module: what one exports the other finds beside it."""
    own = (part("turncheck.report", f"script/{name}.js") for name in SCRIPTS)
    return Markup(
        "\n".join([assets.text("lettering.js"), assets.text("wipe.js"), *own])
    )  # files of this package alone

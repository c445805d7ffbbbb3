"""Puts the sections together into one self-contained page.

A section is a builder, a function of `Facts`, and a template of the same name; adding one is
adding it to `SECTIONS`. One whose builder returns None is left out.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable
from functools import cache
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

from markupsafe import Markup

from turncheck import assets
from turncheck.assets.pages import environment, part, policy, style
from turncheck.geometry.guard_bands import COVERAGE, WIDTH
from turncheck.report.above import build_above
from turncheck.report.cards import FEW, PICTURE
from turncheck.report.deciding import build_deciding, build_redraws
from turncheck.report.driftmap import build_driftmap
from turncheck.report.facts import Facts
from turncheck.report.flips import build_flips
from turncheck.report.inks import build_inks
from turncheck.report.lineup import build_lineup
from turncheck.report.masthead import build_masthead
from turncheck.report.method import build_method, build_waivers
from turncheck.report.outline import build_outline
from turncheck.report.rig import build_rig, build_turning
from turncheck.report.tables import UNITS, build_tables
from turncheck.sheet.model import Sheet
from turncheck.wording.findings import VERDICTS

#: The sections in their order: the template `<name>.html.j2`, its title, unless what fills it has
#: one that suits it better, and what fills it.
SECTIONS: tuple[tuple[str, str, Callable[[Facts], Any]], ...] = (
    ("lineup", "The line-up", build_lineup),
    ("redraws", "What to redraw", build_redraws),
    ("deciding", "Decide first", build_deciding),
    ("driftmap", "Drift from head to foot", build_driftmap),
    ("above", "Turn", build_above),
    ("outline", "Outline", build_outline),
    ("inks", "Ink and colours", build_inks),
    ("rig", "For the rig", build_rig),
    ("flips", "Flipped drawings", build_flips),
    ("turning", "Turn it", build_turning),
    ("tables", "All measurements", build_tables),
    ("waivers", "Waivers", build_waivers),
    ("method", "Method", build_method),
)

#: Letters at the edge of the paper, at most: half of an A4 sheet's width.
EDGE = 90

#: The page's own styles and scripts in their order; a later one has the last word.
STYLES = (
    "base",
    "masthead",
    "lineup",
    "wipe",
    "redraws",
    "driftmap",
    "pictures",
    "rows",
    "tables",
    "narrow",
    "print",
)
SCRIPTS = ("lineup", "links", "turning", "paper")


def render(facts: Facts) -> str:
    """Return the page."""
    sections = [
        (name, getattr(content, "title", title), content)
        for name, title, build in SECTIONS
        if (content := build(facts)) is not None
    ]
    looks, script = style("turncheck.report", STYLES), _script()
    own_looks = _own_style(facts.checked.sheet, sections[0][-1])
    page = environment("turncheck.report").get_template("page.html.j2")
    return page.render(
        policy=policy([looks, own_looks], [script]),
        style=looks,
        own_style=own_looks,
        script=script,
        shapes=Markup(assets.text("shapes.svg")),
        facts=facts,
        sheet=facts.checked.sheet,
        summary=facts.summary,
        head=build_masthead(facts),
        sections=sections,
        words=VERDICTS,
        picture=PICTURE,
        few=FEW,
        units=UNITS,
        coverage=COVERAGE,
        width=WIDTH,
    )


def _own_style(sheet: Sheet, lineup: SimpleNamespace) -> Markup:
    """Return what a sheet alone says in its style: its name, and where its drawings' cards stand.

    The name is escaped as CSS Syntax Level 3 has it (4.3.7), all but letters and digits, so that
    it can't be markup.
    """
    says = textwrap.shorten(f"{sheet.character}, revision {sheet.revision}", EDGE, placeholder="…")
    name = "".join(one if one.isascii() and one.isalnum() else f"\\{ord(one):x} " for one in says)
    starts = [lineup.view[0], *(drawing.start for drawing in lineup.drawings)]
    wide = [f"{100.0 * (b - a) / lineup.view[2]:.2f}%" for a, b in pairwise(starts)]
    columns = f"{' '.join(wide)} minmax(0, 1fr)"
    return Markup(
        f':root {{ --sheet-name: "{name}"; }} .captions {{ grid-template-columns: {columns}; }}'
    )


@cache
def _script() -> Markup:
    """Return the scripts as one module: what one exports the other finds beside it.

    Lines of comments and indents stay behind.
    """
    own = (part("turncheck.report", f"script/{name}.js") for name in SCRIPTS)
    # files of this package alone
    whole = "\n".join([*map(assets.text, ("lettering.js", "wipe.js", "tables.js")), *own])
    return Markup(re.sub(r"^[ \t]*(?:(?://|/?\*).*\n)?", "", whole, flags=re.MULTILINE))

"""Puts the sections together into one self-contained page.

A section is a builder, a function of `Facts`, and a template of the same name; adding one is
adding it to `SECTIONS`.
"""

from __future__ import annotations

import base64
import hashlib
import re
import sys
import textwrap
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from importlib import resources
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from jinja2.bccache import Bucket, FileSystemBytecodeCache
from markupsafe import Markup

from turncheck import assets
from turncheck.geometry.guard_bands import COVERAGE, WIDTH
from turncheck.plain import counted, degrees, number, spoken, together
from turncheck.report.above import build_above
from turncheck.report.driftmap import build_driftmap
from turncheck.report.facts import Facts, view_title
from turncheck.report.inks import build_inks
from turncheck.report.lineup import build_lineup
from turncheck.report.masthead import build_masthead
from turncheck.report.method import build_method, build_waivers
from turncheck.report.outline import build_outline
from turncheck.report.redraws import CROP, build_redraws
from turncheck.report.tables import UNITS, build_tables
from turncheck.sheet.model import Sheet
from turncheck.wording.findings import VERDICTS
from turncheck.wording.instructions import DECIDE_FIRST


@dataclass(frozen=True)
class Section:
    """A part of the page: the template `<name>.html.j2` and what fills it."""

    name: str
    title: str
    build: Callable[[Facts], Any]


SECTIONS = (
    Section("lineup", "The line-up", build_lineup),
    Section("redraws", "What to redraw", build_redraws),
    Section("driftmap", "Drift map", build_driftmap),
    Section("above", "Turn", build_above),
    Section("outline", "Outline", build_outline),
    Section("inks", "Ink and colours", build_inks),
    Section("tables", "Check by check", build_tables),
    Section("waivers", "Waivers", build_waivers),
    Section("method", "Method", build_method),
)

#: Letters at the edge of the paper, at most: half of an A4 sheet's width.
EDGE = 90

#: The page's own styles and scripts in their order; a later one has the last word.
STYLES = (
    "page",
    "masthead",
    "lineup",
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
    sections = [
        (section, content) for section in SECTIONS if (content := section.build(facts)) is not None
    ]
    style, script, own_style = _style(), _script(), _own_style(facts.checked.sheet, sections[0][1])
    page = _environment().get_template("page.html.j2")
    return page.render(
        policy=(
            "default-src 'none'; img-src data:; font-src data:; "
            f"style-src '{_hash(style)}' '{_hash(own_style)}'; script-src '{_hash(script)}'; "
            "base-uri 'none'; form-action 'none'"
        ),
        # files of this package, hashed as they stand; a sheet's own style holds no markup
        style=Markup(style),
        own_style=Markup(own_style),
        script=Markup(script),
        shapes=Markup(assets.text("shapes.svg")),
        facts=facts,
        sheet=facts.checked.sheet,
        summary=facts.summary,
        head=build_masthead(facts),
        sections=sections,
        words=VERDICTS,
        crop=CROP,
        units=UNITS,
        decide_first=DECIDE_FIRST,
        coverage=COVERAGE,
        width=WIDTH,
    )


class CompiledTemplates(FileSystemBytecodeCache):
    """Templates compiled once, kept as Python keeps its own modules; not where it may not."""

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep a compiled template."""
        if not sys.dont_write_bytecode:
            with suppress(OSError):
                Path(self.directory).mkdir(exist_ok=True)
                super().dump_bytecode(bucket)


@cache
def _environment() -> Environment:
    environment = Environment(
        bytecode_cache=CompiledTemplates(str(Path(__file__).parent / "templates/__pycache__")),
        loader=FunctionLoader(lambda name: _asset(f"templates/{name}")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"short": _short, "number": number, "spoken": spoken}
    environment.filters |= {"heading": view_title, "together": together}
    environment.filters |= {"counted": counted, "degrees": degrees}
    return environment


@cache
def _style() -> str:
    """Return the stylesheets as one, with the fonts in it."""
    own = (_asset(f"style/{name}.css") for name in STYLES)
    style = "\n".join([*map(assets.text, assets.STYLES), *own])
    for name, font in assets.fonts().items():
        held = base64.b64encode(font).decode("ascii")
        style = style.replace(f'url("{name}")', f'url("data:font/woff2;base64,{held}")')
    return style


def _own_style(sheet: Sheet, lineup: SimpleNamespace) -> str:
    """Return what a sheet alone says in its style: its name, and where its drawings' cards stand.

    The name is escaped as CSS Syntax Level 3 has it (4.3.7), all but letters and digits, so that
    it can't be markup.
    """
    says = textwrap.shorten(f"{sheet.character}, revision {sheet.revision}", EDGE, placeholder="…")
    name = "".join(one if one.isascii() and one.isalnum() else f"\\{ord(one):x} " for one in says)
    starts = [lineup.view[0], *(drawing.start for drawing in lineup.drawings)]
    wide = [f"{100.0 * (b - a) / lineup.view[2]:.2f}%" for a, b in pairwise(starts)]
    columns = f"{' '.join(wide)} minmax(0, 1fr)"
    return f':root {{ --sheet-name: "{name}"; }} .captions {{ grid-template-columns: {columns}; }}'


@cache
def _script() -> str:
    """Return the scripts as one module: what one exports the other finds beside it.

    Lines of comments and indents stay behind.
    """
    own = (_asset(f"script/{name}.js") for name in SCRIPTS)
    whole = "\n".join([assets.text("lettering.js"), *own])
    return re.sub(r"^[ \t]*(?:(?://|/?\*).*\n)?", "", whole, flags=re.MULTILINE)


@cache
def _asset(name: str) -> str:
    return (resources.files("turncheck.report") / name).read_text("utf-8")


def _hash(text: str) -> str:
    """Return a source expression for an inline element (CSP Level 3, 2.3.1)."""
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"sha256-{base64.b64encode(digest).decode('ascii')}"


def _short(value: float, decimals: int = 1) -> str:
    """Return a coordinate without needless digits.

    >>> _short(3.0), _short(-0.04), _short(12.345)
    ('3', '0', '12.3')
    """
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".") if decimals else f"{value:.0f}"
    return "0" if text in ("-0", "") else text

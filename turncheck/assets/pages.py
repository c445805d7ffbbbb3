"""How a page is put together: its templates, and one file that holds all it needs."""

from __future__ import annotations

import base64
import hashlib
import sys
from collections.abc import Iterable, Mapping
from contextlib import suppress
from functools import cache
from importlib import resources
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from jinja2.bccache import Bucket, FileSystemBytecodeCache
from markupsafe import Markup

from turncheck import assets
from turncheck.images.thumbnail import data_uri
from turncheck.plain import capital, counted, degrees, number, spoken, together


class CompiledTemplates(FileSystemBytecodeCache):
    """Templates compiled once, kept as Python keeps its own modules; not where it may not."""

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep a compiled template."""
        if not sys.dont_write_bytecode:
            with suppress(OSError):
                Path(self.directory).mkdir(exist_ok=True)
                super().dump_bytecode(bucket)


@cache
def environment(room: str) -> Environment:
    """Return what renders the templates of a room, such as `turncheck.report`.

    A room finds its own templates first, then those that all pages share.
    """
    folder, shared = (
        Path(str(resources.files(of))) / "templates" for of in (room, "turncheck.assets")
    )
    made = Environment(
        bytecode_cache=CompiledTemplates(str(folder / "__pycache__")),
        loader=FileSystemLoader([folder, shared]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    words = capital, counted, degrees, heading, number, numbers, short, spoken, together
    made.filters |= {each.__name__: each for each in words}
    made.globals |= {"shape": shape, "verdict_words": verdict_words}
    return made


@cache
def shape(verdict: str, colour: str = "") -> Markup:
    """Return the mark of a verdict, in its own colour or another's.

    >>> 'is-waived"' in shape("off_model", "waived"), "#shape-off_model" in shape("off_model")
    (True, True)
    """
    return Markup(
        '<svg class="shape is-{}" aria-hidden="true" focusable="false">'
        '<use href="#shape-{}"/></svg>'
    ).format(colour or verdict, verdict)


def verdict_words(verdict: str, words: Mapping[str, str]) -> Markup:
    """Return a verdict as its mark and in words."""
    return _worded(verdict, words[verdict])


@cache
def _worded(verdict: str, words: str) -> Markup:
    return Markup('<span class="verdict is-{}">{} {}</span>').format(verdict, shape(verdict), words)


def heading(view: str) -> str:
    """Return a view's name as a heading says it.

    >>> heading("three_quarter")
    'Three quarter'
    """
    return capital(spoken(view))


@cache
def style(room: str, sheets: tuple[str, ...]) -> Markup:
    """Return the stylesheets of all pages and those named as one, with the fonts in it.

    A room finds its own first, then those that some pages share.
    """
    own = (_sheet(room, name) for name in sheets)
    text = "\n".join([*map(assets.text, assets.STYLES), *own])
    for name, font in assets.fonts().items():
        text = text.replace(f'url("{name}")', f'url("{data_uri("font/woff2", font)}")')
    return Markup(text)  # files of this package alone


def _sheet(room: str, name: str) -> str:
    own = resources.files(room) / "style" / f"{name}.css"
    return own.read_text("utf-8") if own.is_file() else assets.text(f"{name}.css")


@cache
def part(room: str, name: str) -> str:
    """Return a file of a room as text."""
    return (resources.files(room) / name).read_text("utf-8")


def policy(styles: Iterable[str], scripts: Iterable[str] = (), pictures: str = "data:") -> str:
    """Return a policy that lets a page use these inline elements and what is in it, no more.

    They are known by their hashes (CSP Level 3, 2.3.1); `pictures` says where its pictures lie.
    """
    known = " ".join(f"'{_hash(text)}'" for text in styles)
    run = " ".join(f"'{_hash(text)}'" for text in scripts) or "'none'"
    return (
        f"default-src 'none'; img-src {pictures}; font-src data:; "
        f"style-src {known}; script-src {run}; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    digest = hashlib.sha256(text.encode("utf-8")).digest()
    return f"sha256-{base64.b64encode(digest).decode('ascii')}"


def short(value: float, decimals: int = 1) -> str:
    """Return a coordinate without needless digits.

    >>> short(3.0), short(-0.04), short(12.345)
    ('3', '0', '12.3')
    """
    text = f"{value:.{decimals}f}".rstrip("0").rstrip(".") if decimals else f"{value:.0f}"
    return "0" if text in ("-0", "") else text


def numbers(values: Iterable[float], decimals: int = 1) -> str:
    """Return coordinates as a viewBox or a matrix has them.

    >>> numbers((0.0, -3.14, 12.0))
    '0 -3.1 12'
    """
    return " ".join(short(value, decimals) for value in values)

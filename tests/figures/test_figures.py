"""The pages of figures and the constants in the package say the same."""

from __future__ import annotations

import ast
import io
import re
import tokenize
from ast import literal_eval
from pathlib import Path

import pytest

from tests.figures.constants import PAGES
from tests.figures.sweeping import STAR, value_of
from tests.places import ROOT

HERE = Path(__file__).parent
SOURCES = sorted((ROOT / "turncheck").rglob("*.py"))
ROW = re.compile(r"\| `([\w.]+)` \| ([^|]+) \|")
PAGE = re.compile(r"tests/figures/(\w+)\.md")
NUMBERS = (ast.Constant, ast.Tuple, ast.BinOp, ast.UnaryOp, ast.Call, ast.Attribute, ast.Name)
NUMBERS += (ast.operator, ast.unaryop, ast.expr_context)
#: Words that claim a measurement, and those that say that there is none.
CLAIM = re.compile(r"\bmeasure(d|ments?)\b|\btests/figures\b", re.IGNORECASE)
CANDID = re.compile(r"\bno\s+source\b|\bby\s+eye\b", re.IGNORECASE)


def rows(page: str) -> list[tuple[str, str]]:
    """Return constant and value of every row of a page that names a constant."""
    text = (HERE / f"{page}.md").read_text("utf-8")
    return [(name, value.strip()) for name, value in ROW.findall(text)]


def starred(page: str) -> dict[str, str]:
    return {n: v.removesuffix(STAR) for n, v in rows(page) if v.endswith(STAR)}


def said_of_constants(source: str) -> list[tuple[tuple[str, ...], str]]:
    """Return the constants of a module with what is said beside them.

    A comment speaks of the constants on the lines that follow it without a break, but of a private
    one only where it stands right above; a docstring speaks of the constant that it stands under,
    a comment on a constant's own line of that one.

    >>> said_of_constants("# one\\nA = 1\\nB = 2\\nC = 3  # own\\n\\nD = 4\\n'under'\\n")
    [(('A',), 'one'), (('B',), 'one'), (('C',), 'one own'), (('D',), 'under')]
    """
    comments = {
        token.start[0]: token.string.lstrip("#: ").strip()
        for token in tokenize.generate_tokens(io.StringIO(source).readline)
        if token.type == tokenize.COMMENT
    }
    body = ast.parse(source).body
    found, above, end = [], "", 0
    for this, after in zip(body, [*body[1:], None], strict=True):
        names = _names(this)
        if not names:
            continue
        lines = range(end + 1, this.lineno)
        block = [comments[line] for line in lines if line in comments and line > end]
        broken = end + 1 < this.lineno and not block
        private = all(name.startswith("_") for name in names)
        above = " ".join(block) if block else "" if broken or private else above
        own = " ".join(comments.get(line, "") for line in range(this.lineno, this.end_lineno + 1))
        under = after.value.value if _is_text(after) else ""
        words = " ".join(f"{above} {own} {under}".split())
        found.append((names, words))
        end = after.end_lineno if _is_text(after) else this.end_lineno
        above = "" if _is_text(after) else above
    return found


def _names(node: ast.stmt) -> tuple[str, ...]:
    """Return the numbers that a statement names in capitals."""
    if not isinstance(node, ast.Assign | ast.AnnAssign) or node.value is None:
        return ()
    parts = list(ast.walk(node.value))
    texts = [p for p in parts if isinstance(p, ast.Constant) and isinstance(p.value, str)]
    if texts or not all(isinstance(part, NUMBERS) for part in parts):
        return ()
    targets = node.targets if isinstance(node, ast.Assign) else [node.target]
    parts = [part for target in targets for part in ast.walk(target)]
    return tuple(part.id for part in parts if isinstance(part, ast.Name) and part.id.isupper())


def _is_text(node: ast.stmt | None) -> bool:
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    )


@pytest.mark.parametrize("page", PAGES)
def test_a_page_was_written_by_its_command_and_has_the_rows_of_its_constants(page):
    text = (HERE / f"{page}.md").read_text("utf-8")
    assert text.rstrip().endswith(f"Written by `python -m tests.figures {page}`.")
    tried = [
        (name, str(value))
        for constants in PAGES[page]
        for name, values in constants.items()
        for value in values
    ]
    assert [(name, value.removesuffix(STAR)) for name, value in rows(page)] == tried


@pytest.mark.parametrize("page", PAGES)
def test_a_star_marks_the_value_in_use(page):
    for name in {name for name, _ in rows(page)}:
        stars = [v for n, v in rows(page) if n == name and v.endswith(STAR)]
        assert len(stars) == 1, f"{page}: {name} has {len(stars)} starred rows"
        value = literal_eval(stars[0].removesuffix(STAR))
        assert value == value_of(name), (
            f"{page}: {name} is {value_of(name)}, the star is at {value}"
        )


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_constant_is_called_measured_without_a_starred_row(path):
    home = ".".join(path.relative_to(ROOT / "turncheck").with_suffix("").parts)
    for names, words in said_of_constants(path.read_text("utf-8")):
        pages = PAGE.findall(words)
        if not pages and (CANDID.search(words) or not CLAIM.search(words)):
            continue
        assert pages, f"{home}: {', '.join(names)} is said to be measured: name the page"
        known = {name for page in pages for name in starred(page)}
        for name in names:
            assert f"{home}.{name}" in known, f"no starred row of {home}.{name} in {pages}"


def test_what_the_package_says_of_figures_is_there():
    for path in SOURCES:
        text = " ".join(path.read_text("utf-8").split())
        assert "DEVELOPERS.md" not in text, f"{path.name}: figures stand in tests/figures"
        for page in PAGE.findall(text):
            assert page in PAGES, f"{path.name}: there is no page {page}"
        for found in re.finditer(r"by the (?:# ?:? ?)?measurement", text):
            assert "tests/figures/" in text[found.end() : found.end() + 40], f"{path.name}: which?"

"""The rooms of the package: imports point down one list, and never in a circle."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache

import pytest

from tests.places import ROOT

PACKAGE = ROOT / "turncheck"
#: From the top down: a room may import those below it, and itself.
ROOMS = (
    "__main__",
    "cli",
    "__init__",
    "show",
    "checking",
    "placing",
    "report",
    "handover",
    "revisions",
    "assets",
    "instructions",
    "wording",
    "checks",
    "mistakes",
    "geometry",
    "sheet",
    "images",
    "numerics",
    "files",
    "plain",
    "errors",
)


@cache
def modules() -> dict[str, ast.Module]:
    """Every module of the package, dotted, without 'turncheck' in front; '__init__' is itself."""
    found = {}
    for path in PACKAGE.rglob("*.py"):
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        name = ".".join(parts[:-1] if len(parts) > 1 and parts[-1] == "__init__" else parts)
        found[name] = ast.parse(path.read_text("utf-8"))
    return found


@cache
def imports() -> dict[str, set[str]]:
    """What each module imports of the package: at its top, for types, and inside functions."""
    return {name: set(_imported(tree)) - {name} for name, tree in modules().items()}


def _imported(tree: ast.Module) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (_module(alias.name) for alias in node.names if _is_ours(alias.name))
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are written out from 'turncheck'"
            if _is_ours(node.module or ""):
                yield from (_module(f"{node.module}.{alias.name}") for alias in node.names)


def _is_ours(dotted: str) -> bool:
    return dotted.split(".")[0] == "turncheck"


def _module(dotted: str) -> str:
    """Return the module that a dotted name is, or stands in."""
    parts = dotted.split(".")[1:]
    while parts and ".".join(parts) not in modules():
        parts.pop()
    return ".".join(parts) or "__init__"


def room_of(module: str) -> str:
    return module.split(".")[0]


def test_every_module_is_in_a_room_of_the_list():
    assert {room_of(name) for name in modules()} == set(ROOMS)


@pytest.mark.parametrize("room", ROOMS)
def test_a_room_imports_only_rooms_below_it(room):
    allowed = ROOMS[ROOMS.index(room) :]
    wrong = [
        f"{name} imports {other}"
        for name, others in sorted(imports().items())
        if room_of(name) == room
        for other in sorted(others)
        if room_of(other) not in allowed
    ]
    assert not wrong


def test_no_import_goes_in_a_circle():
    """Modules that only circles are left of, once all that import nothing left are taken away."""
    left = {name: set(others) for name, others in imports().items()}
    while done := {name for name, others in left.items() if not others}:
        left = {name: others - done for name, others in left.items() if name not in done}
    circling = {name for name in left if name in _reached(left, name)}
    assert not circling


def _reached(graph: dict[str, set[str]], start: str) -> set[str]:
    """Return the modules that are imported from a module on."""
    reached, ahead = set(), set(graph[start])
    while ahead:
        reached |= ahead
        ahead = {after for name in ahead for after in graph[name]} - reached
    return reached


def test_at_most_five_modules_lie_loose_at_the_top():
    assert len(list(PACKAGE.glob("*.py"))) <= 5


def test_no_two_modules_are_called_after_reading():
    last = [name.split(".")[-1] for name in modules()]
    assert sum(name in ("read", "reads", "reading", "readings") for name in last) <= 1

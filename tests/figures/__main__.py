"""Writes a page of figures anew: `python -m tests.figures turn` writes tests/figures/turn.md."""

from __future__ import annotations

import sys
from importlib import import_module

from tests.figures.constants import PAGES
from tests.places import ROOT


def main() -> None:
    unknown = set(sys.argv[1:]) - set(PAGES)
    if unknown or not sys.argv[1:]:
        sys.exit(f"python -m tests.figures PAGE...: {', '.join(PAGES)}")
    for name in sys.argv[1:]:
        text = import_module(f"tests.figures.{name}").page()
        by = f"Written by `python -m tests.figures {name}`.\n"
        (ROOT / "tests" / "figures" / f"{name}.md").write_text(f"{text.strip()}\n\n{by}", "utf-8")


if __name__ == "__main__":
    main()

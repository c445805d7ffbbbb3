"""The page on speed and memory."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.bench import timing
from tests.figures.markdown import table
from tests.figures.sweeping import Row


def rates() -> Iterator[Row]:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        figures = [
            timing.check(folder / "small", 840, 1100),
            timing.check(folder / "large", 3000, 4000),
            timing.peak_memory(folder / "peak"),
            timing.help_page(),
            timing.turn(),
            timing.load(),
            timing.outlines(folder / "outlines"),
        ]
    for one in figures:
        yield {
            "what": one.what,
            "times": f"{one.times:.2f}",
            "of": one.bare,
            "goal": f"{one.goal:g}",
            "limit": f"{one.limit:g}",
        }


def page() -> str:
    return f"""# Speed and memory

The quickest of a few runs against the bare work, on the same machine in the same minute; `pytest
tests/bench` holds each to its limit.

{table(rates())}

What keeps it so: a drawing's pixels are sampled and let go, and its features and its picture for
the page are made beside the decoding of the next.
"""

"""Tables as DEVELOPERS.md has them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import pandas as pd


def print_table(rows: pd.DataFrame | Iterable[Mapping[str, object]]) -> None:
    """Print rows as a markdown table and an empty line."""
    table = pd.DataFrame(rows)
    for line in (table.columns, ["---"] * len(table.columns), *table.to_numpy()):
        print(f"| {' | '.join(map(str, line))} |")
    print(flush=True)

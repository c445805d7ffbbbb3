"""Tables of the pages of figures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import pandas as pd


def table(rows: pd.DataFrame | Iterable[Mapping[str, object]]) -> str:
    """Return rows as a markdown table.

    Examples
    --------
    >>> print(table([{"n": 1, "found": "95%"}]))
    | n | found |
    | --- | --- |
    | 1 | 95% |
    """
    frame = pd.DataFrame(rows)
    lines = (frame.columns, ["---"] * len(frame.columns), *frame.astype(object).to_numpy())
    return "\n".join(f"| {' | '.join(map(str, line))} |" for line in lines)

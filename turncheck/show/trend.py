"""Whether drawings drift more or less from one revision to the next: a hint, never a fact."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import pandas as pd

from turncheck.show.sign_flips import mean_within

#: Fewer characters with more than one revision give no hint; common practice, no source.
TREND_LEAST = 10


@dataclass(frozen=True)
class Trend:
    """By how much drawings drift more from one revision to the next: a hint, no more.

    Attributes
    ----------
    change_pct, within_pct
        Of the usual size of a drift, % of the figure height a revision; half of the interval that
        holds it in 95 % of cases.
    characters
        How many have more than one revision.
    """

    change_pct: float
    within_pct: float
    characters: int

    @property
    def shows(self) -> bool:
        """Whether the interval leaves out that nothing changes."""
        return abs(self.change_pct) > self.within_pct


def trend_of(frame: pd.DataFrame, sheets: Sequence[tuple[str, str, str]]) -> Trend | None:
    """Return how drifts change from revision to revision; None for too few characters.

    One value a character: by how much the usual size of a drift, over all points that both
    revisions have, changes a step.

    Parameters
    ----------
    frame
        As of `turncheck.show.habits.habits_of`, no row twice.
    sheets
        Revision, path and character, the oldest revision first.
    """
    revisions: dict[str, dict[str, str]] = {}
    for revision, path, character in sheets:
        revisions.setdefault(character, {})[revision] = path
    steps = [
        (character, old, new)
        for character, paths in revisions.items()
        for old, new in pairwise(paths.values())
    ]
    point = ["view", "landmark"]
    sizes = frame[["path", *point]].assign(size=frame["drift_pct"].abs()).dropna()
    both = (
        pd.DataFrame(steps, columns=["character", "old", "new"], dtype=object)
        .merge(sizes, left_on="old", right_on="path")
        .merge(sizes, left_on=["new", *point], right_on=["path", *point], suffixes=("_old", "_new"))
    )
    usual = both.groupby(["character", "old"])[["size_old", "size_new"]].median()
    changes = (usual["size_new"] - usual["size_old"]).groupby("character").mean()
    if len(changes) < TREND_LEAST:
        return None
    values = changes.to_numpy()
    return Trend(float(np.median(values)), mean_within(values), len(values))

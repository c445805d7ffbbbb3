"""Whether drawings drift more or less from one revision to the next: a hint, never a fact."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from turncheck.show.drifts import Drifts
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


def trend_of(drifts: Drifts, order: Iterable[int]) -> Trend | None:
    """Return how drifts change from revision to revision; None for too few characters.

    One value a character: by how much the usual size of a drift, over all points that both
    revisions have, changes a step.

    Parameters
    ----------
    order
        The sheets, the oldest revision first.
    """
    revisions: dict[str, dict[str, int]] = {}
    for s in order:
        record = drifts.sheets[s]
        revisions.setdefault(record.character, {})[record.revision] = s
    changes = []
    for sheets in revisions.values():
        steps = []
        for step in pairwise(sheets.values()):
            old, new = np.abs(drifts.pct[list(step)])
            both = np.isfinite(old) & np.isfinite(new)
            if both.any():
                steps.append(np.median(new[both]) - np.median(old[both]))
        if steps:
            changes.append(np.mean(steps))
    if len(changes) < TREND_LEAST:
        return None
    values = np.array(changes)
    return Trend(float(np.median(values)), mean_within(values), len(values))

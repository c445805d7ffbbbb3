"""How far the points of all drawings of a show lie from the other drawings of their sheets."""

from __future__ import annotations

from array import array
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from turncheck.numerics.arrays import Floats
from turncheck.show.record import Record


@dataclass(frozen=True)
class Drifts:
    """Arrays over sheets (S), views (V) and landmarks (L).

    Attributes
    ----------
    sheets
        (S,) their records.
    views, landmarks
        (V,) and (L,) names.
    pct
        (S, V, L) as `drift_pct` of `turncheck.show.recording.Drift`; NaN where it is not known.
    """

    sheets: tuple[Record, ...]
    views: tuple[str, ...]
    landmarks: tuple[str, ...]
    pct: Floats


class DriftRows:
    """The drifts of a show as they come in, a few bytes each."""

    def __init__(self) -> None:
        self._sheets: list[Record] = []
        self._views: dict[str, int] = {}
        self._landmarks: dict[str, int] = {}
        self._at = array("I"), array("H"), array("H")
        self._pct = array("d")

    def add(self, record: Record, drifts: Mapping[str, Mapping[str, float]]) -> None:
        """Take in the drifts of a sheet, by view and landmark."""
        if not drifts:
            return
        sheets, views, landmarks = self._at
        for view, of_view in drifts.items():
            v = self._views.setdefault(view, len(self._views))
            for landmark, pct in of_view.items():
                sheets.append(len(self._sheets))
                views.append(v)
                landmarks.append(self._landmarks.setdefault(landmark, len(self._landmarks)))
                self._pct.append(pct)
        self._sheets.append(record)

    def all(self) -> Drifts:
        """Return what was taken in."""
        pct = np.full((len(self._sheets), len(self._views), len(self._landmarks)), np.nan)
        pct[tuple(np.array(at, dtype=np.intp) for at in self._at)] = self._pct
        return Drifts(tuple(self._sheets), tuple(self._views), tuple(self._landmarks), pct)

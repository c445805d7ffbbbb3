"""Placing error: what repeated placings of the same landmarks say of their precision."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt
import pandas as pd

Floats = npt.NDArray[np.float64]

#: Repeats (placings beyond the first of their kind) from which a landmark's own error counts.
OWN_ERROR_REPEATS_LEAST = 3


@dataclass(frozen=True)
class PlacingError:
    """Technical error of measurement of a set of repeated values.

    Attributes
    ----------
    tem
        sqrt(within-subject variance), unit of the values.
    relative
        `tem` in % of the mean value.
    reliability
        1 - tem² / variance of all values; NaN where they do not vary.
    repeats
        Degrees of freedom: placings beyond the first of each subject.
    """

    tem: float
    relative: float
    reliability: float
    repeats: int


def placing_error(groups: list[Floats]) -> PlacingError:
    """Return the technical error of measurement of repeated values.

    For two values each, TEM = sqrt(Σ d² / 2n); for more, the pooled within-subject standard
    deviation, TEM = sqrt(Σ (Σ m² - (Σ m)² / k) / Σ (k - 1)) (Ulijaszek and Kerr 1999,
    Br J Nutr 82:165, equations 1 and 2).

    Parameters
    ----------
    groups
        The repeated values of each subject, one array each; single values only widen the
        variance that `reliability` compares with.

    Raises
    ------
    ValueError
        If no subject has a repeat.

    Examples
    --------
    >>> round(placing_error([np.array([10.0, 12.0]), np.array([20.0, 20.0])]).tem, 4)
    1.0
    """
    repeats = sum(len(group) - 1 for group in groups)
    if repeats < 1:
        raise ValueError("no subject was measured twice")
    within = sum(float(np.sum((group - group.mean()) ** 2)) for group in groups) / repeats
    values = np.concatenate(groups)
    spread = float(np.var(values, ddof=1))
    mean = float(values.mean())
    return PlacingError(
        tem=math.sqrt(within),
        relative=100.0 * math.sqrt(within) / abs(mean) if mean else math.nan,
        reliability=1.0 - within / spread if spread > 0 else math.nan,
        repeats=repeats,
    )


def person(placed_by: str) -> str:
    """Return who placed: `ana#2` is Ana's second placing."""
    return placed_by.split("#", 1)[0].strip()


def placing_error_table(placings: pd.DataFrame) -> pd.DataFrame:
    """Return the placing error per landmark and over all, within and between people.

    Parameters
    ----------
    placings
        As `read_landmarks` gives it, repeats not yet averaged.

    Returns
    -------
    DataFrame
        landmark ('' for all together), people ('within' or 'between'), tem_px, relative_pct
        (of y), reliability (of y), repeats. Landmarks without a repeat have no row; x counts
        except for `ground`, whose x means nothing.
    """
    columns = ["landmark", "people", "tem_px", "relative_pct", "reliability", "repeats"]
    people = [person(by) for by in placings["placed_by"]]
    each = _grouped(zip(placings["view"], placings["landmark"], people, strict=True), placings)
    averages: dict[tuple[str, ...], list[Floats]] = {}
    for (view, landmark, _), xy in each.items():
        averages.setdefault((view, landmark), []).append(np.mean(xy, axis=0))
    same = [(key[1], np.array(xy)) for key, xy in each.items()]
    others = [(key[1], np.array(xy)) for key, xy in averages.items()]
    rows = []
    for who, groups in (("within", same), ("between", others)):
        names = dict.fromkeys(landmark for landmark, _ in groups)
        for name in ["", *names]:
            mine = [xy for landmark, xy in groups if name in ("", landmark)]
            if not any(len(xy) > 1 for xy in mine):
                continue
            up = placing_error([xy[:, 1] for xy in mine])
            across = [xy[:, 0] for lm, xy in groups if lm != "ground" and name in ("", lm)]
            tem = up.tem
            if any(len(x) > 1 for x in across):
                tem = math.hypot(up.tem, placing_error(across).tem) / math.sqrt(2.0)
            rows.append((name, who, tem, up.relative, up.reliability, up.repeats))
    return pd.DataFrame(rows, columns=columns)


def who_differs(placings: pd.DataFrame) -> pd.DataFrame:
    """Return how far people place the same landmarks apart, and where most.

    Parameters
    ----------
    placings
        As `read_landmarks` gives it, repeats not yet averaged.

    Returns
    -------
    DataFrame
        One row for two people who placed something both, the furthest apart first: person,
        other, both (landmarks on views that both placed), right_px and up_px (mean of other -
        person), tem_px (their technical error of measurement), worst_view, worst_landmark,
        worst_px (the distance there). A placing without a name has no row.
    """
    columns = ["person", "other", "both", "right_px", "up_px", "tem_px"]
    columns += ["worst_view", "worst_landmark", "worst_px"]
    named = placings.assign(person=placings["placed_by"].map(person))
    named = named[named["person"] != ""]
    mean = named.groupby(["view", "landmark", "person"], sort=False)[["x", "y"]].mean()
    x, y = mean["x"].unstack("person"), mean["y"].unstack("person")
    x[x.index.get_level_values("landmark") == "ground"] = 0.0  # its x means nothing
    rows = []
    for one, other in combinations(sorted(x.columns), 2):
        right, up = (x[other] - x[one]), (y[one] - y[other])
        both = right.notna() & up.notna()
        if not both.any():
            continue
        apart = (right[both] ** 2 + up[both] ** 2) ** 0.5
        worst_at = apart.index[int(apart.to_numpy().argmax())]
        tem = float(np.sqrt(np.mean(apart**2) / 4.0))  # Σ d² / 2n along each of the two axes
        means = float(right[both].mean()), float(up[both].mean())
        worst = (str(worst_at[0]), str(worst_at[1]), float(apart.max()))
        rows.append((one, other, int(both.sum()), *means, tem, *worst))
    table = pd.DataFrame(rows, columns=columns)
    return table.sort_values("tem_px", ascending=False, kind="stable", ignore_index=True)


def own_errors(table: pd.DataFrame) -> dict[str, float]:
    """Return the placing error (px) of landmarks with enough repeats of their own.

    Between people where several placed it, else within one person.
    """
    enough = table[(table["landmark"] != "") & (table["repeats"] >= OWN_ERROR_REPEATS_LEAST)]
    return dict(zip(enough["landmark"], enough["tem_px"], strict=True))  # 'between' comes last


def _grouped(
    keys: Iterable[tuple[str, ...]], placings: pd.DataFrame
) -> dict[tuple[str, ...], list[Floats]]:
    groups: dict[tuple[str, ...], list[Floats]] = {}
    for key, xy in zip(keys, placings[["x", "y"]].to_numpy(dtype=np.float64), strict=True):
        groups.setdefault(key, []).append(xy)
    return groups

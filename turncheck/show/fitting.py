"""Fits a show's shapes and outlines, and what its outlines tell of its shapes."""

from __future__ import annotations

from typing import Any

import numpy as np
from sklearn.covariance import LedoitWolf
from sklearn.decomposition import PCA
from sklearn.linear_model import Ridge, RidgeCV
from sklearn.model_selection import GroupKFold, cross_val_predict

from turncheck.numerics.arrays import Floats
from turncheck.placing.learned.shapes import Scores, ShapeSpace
from turncheck.show.examples import Shapes

#: Share of the outlines' variance that their scores keep; the ridge weighs the small ones down.
#: Measured in tests/figures/learned.md, as is the next.
OUTLINE_SHARE = 0.999
#: Most scores of a shape, as a share of the sheets that it is learned from.
SCORES_MOST = 0.5
#: The variance of any number is not known to be less, % of the figure's height squared: about that
#: of a hand's steadiest placing; common practice, no source, as are the next three.
NOISE_LEAST = 0.05**2
#: By how much the ridge may shrink, in % of the height squared.
STRENGTHS = tuple(10.0 ** (half / 2.0) for half in range(-2, 13))
#: Groups of characters left out in turn to choose the shrinking, and to see what outlines leave.
PARTS = 5
#: Rounds in which unknown numbers are filled in by what the space expects of them.
ROUNDS = 8


def fit(show: Shapes) -> dict[str, Any]:
    """Fit the two spaces, and the ridge from the outlines' scores to the shapes'.

    Returns
    -------
    dict
        What `ShowModel` has of the same names.
    """
    outlines, seen = _space(show.outlines, share=OUTLINE_SHARE)
    shapes, scores = _space(show.shapes, rest=float(np.nanmean(show.variance)))
    parts = GroupKFold(min(PARTS, show.count))
    splits = list(parts.split(seen, groups=show.characters))
    chosen = RidgeCV(STRENGTHS, cv=splits, scoring="neg_mean_squared_error").fit(seen, scores)
    missed = scores - cross_val_predict(Ridge(chosen.alpha_), seen, scores, cv=splits)
    left = LedoitWolf(assume_centered=True).fit(missed).covariance_
    return {
        "outlines": outlines,
        "shapes": shapes,
        "slopes": chosen.coef_.reshape(scores.shape[1], -1).T,
        "start": np.ravel(chosen.intercept_),
        "left": left,
    }


def _space(
    values: Floats, share: float | None = None, rest: float = 0.0
) -> tuple[ShapeSpace, Floats]:
    """Return the space of vectors, and the scores of each.

    Parameters
    ----------
    values
        (S, D), NaN where unknown: filled by the mean, then by what the space expects.
    share
        Of the variance that the scores keep; without it, they keep all but what is left by the
        hand, whose variance `rest` is, of one number.
    """
    unknown = ~np.isfinite(values)
    full = np.where(unknown, np.nanmean(values, axis=0), values)
    for _ in range(ROUNDS if unknown.any() else 1):
        found = PCA(svd_solver="full").fit(full)
        variances = found.explained_variance_
        kept = np.cumsum(variances)
        enough = share * kept[-1] if share is not None else kept[-1] - rest * values.shape[1]
        most = len(values) - 2 if share is not None else int(SCORES_MOST * len(values))
        count = int(np.clip(np.searchsorted(kept, enough) + 1, 1, min(most, len(variances))))
        axes = found.components_[:count]
        scores = (full - found.mean_) @ axes.T
        off = ((full - found.mean_ - scores @ axes) ** 2).sum(axis=0)
        noise = off / max(len(values) - count - 1, 1) + NOISE_LEAST
        space = ShapeSpace(found.mean_, axes, np.maximum(variances[:count], NOISE_LEAST), noise)
        for row in np.flatnonzero(unknown.any(axis=1)):
            known = np.where(unknown[row], np.nan, values[row])
            told: Scores = space.scores(known, space.unknown)
            full[row] = np.where(unknown[row], space.vector(told)[0], values[row])
    return space, scores

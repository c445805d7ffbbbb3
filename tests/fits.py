"""One drawing fitted to known heights, by the joint adjustment of both."""

from __future__ import annotations

import numpy as np

from turncheck.geometry.height_adjustment import adjust_heights
from turncheck.geometry.height_scale import HeightScale

#: How much more certain a height is that is given as known, and less what says nothing.
SURE = 1e-4


def fit_heights(
    y: np.ndarray, heights: np.ndarray, y_sd: np.ndarray, heights_sd: np.ndarray
) -> HeightScale:
    """The scale of a drawing whose landmarks lie at these heights, known with these errors."""
    least = SURE * np.median(y_sd)
    nothing = np.median(y_sd) / SURE
    both = np.array([np.r_[0.0, -heights], np.r_[y.mean(), y]])
    sd = np.array([np.r_[least, np.maximum(heights_sd, least)], np.r_[nothing, y_sd]])
    used = np.ones(both.shape[1], dtype=bool)
    return adjust_heights(both, sd, used, base=0, ground=0).scales[1]

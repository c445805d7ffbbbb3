"""From a sheet and its placings to heights on one ruler: what every check works from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import pandas as pd

from turncheck.errors import TurncheckError
from turncheck.geometry.colour_matching import MatchedColour, match_colours
from turncheck.geometry.height_scale import (
    HeightScale,
    fit_height_scale,
    fixed_height_scale,
    start_line,
)
from turncheck.geometry.majority import find_majority
from turncheck.geometry.outlines import Outline, OutlineComparison, compare_outlines
from turncheck.geometry.placing_error import (
    LandmarkError,
    from_frame,
    own_errors,
    placing_errors,
)
from turncheck.geometry.turn import Turn, solve_turn
from turncheck.sheet.model import CONSENSUS, LANDMARKS_FILE, Sheet

if TYPE_CHECKING:
    from turncheck.images.features import ImageFeatures

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

#: A landmark behind another part is estimated, not seen: its placing is this much less certain;
#: common practice, no source.
HIDDEN_FACTOR = 2.0
#: Share of the figure height within which heights of one landmark count as agreeing when the
#: consensus is built, in %; the default tolerance of the height check.
CONSENSUS_TOLERANCE = 1.0

#: Degrees by which a drawing whose turn could not be solved may be off its nominal yaw; common
#: practice, no source.
UNSOLVED_YAW_SD = 1.0


@dataclass(frozen=True)
class Measurement:
    """A sheet's placings as arrays over views (V) and landmarks (N), and its height_scales.

    Attributes
    ----------
    views, landmarks
        Names along the two axes; landmarks in the vocabulary's order, only those placed.
    x, y, sd
        (V, N) px of each view's own drawing, y down; NaN where not placed.
    hidden
        (V, N) placed behind another part.
    figure_height
        Ground to crown in the base view, base px; all percentages are of it.
    height_scales
        Per view, as the sheet's `placing` says.
    fitted
        Per view, the robust fit of size and position; what it explains is the whole drawing's.
    placing_error
        What the repeats say.
    features
        Per view, what was read off the drawing's pixels; None where nobody looked at them.
    """

    sheet: Sheet
    views: tuple[str, ...]
    landmarks: tuple[str, ...]
    x: Floats
    y: Floats
    sd: Floats
    hidden: Bools
    figure_height: float
    height_scales: tuple[HeightScale, ...]
    fitted: tuple[HeightScale, ...]
    placing_error: tuple[LandmarkError, ...]
    features: tuple[ImageFeatures, ...] | None = None

    @property
    def reference(self) -> int | None:
        """Row of the reference view, None for the consensus."""
        if self.sheet.reference == CONSENSUS:
            return None
        return self.views.index(self.sheet.reference)

    @cached_property
    def turn(self) -> Turn:
        """The body seen from above and each view's yaw, from where the points fall sideways.

        Landmarks that slide over the surface have no part in it. Solved once, when first asked.
        """
        vocabulary, symmetric = self.sheet.vocabulary, self.sheet.symmetric
        fixed = {n for n in self.landmarks if not vocabulary.landmarks[n].slides}
        meant = [n for n in self.landmarks if n in fixed and vocabulary.landmarks[n].symmetric]
        return solve_turn(
            np.where([name in fixed for name in self.landmarks], self.x, np.nan),
            self.sd,
            np.array([ruler.scale for ruler in self.trusted_scales]),
            np.array([view.yaw for view in self.sheet.views.values()]),
            figure_height=self.figure_height,
            reference=self.views.index(self.sheet.base),
            pairs=[
                (self.landmarks.index(left.name), self.landmarks.index(right.name))
                for left, right in vocabulary.pairs()
                if symmetric and left.name in meant and right.name in meant
            ],
            midline=[
                self.landmarks.index(name)
                for name in meant
                if symmetric and vocabulary.landmarks[name].midline
            ],
            ahead=[
                (self.landmarks.index(first), self.landmarks.index(second))
                for first, second in vocabulary.ahead
                if first in fixed and second in fixed
            ],
        )

    @cached_property
    def outlines(self) -> OutlineComparison | None:
        """Whether any solid body has the drawings' outlines; None where nobody looked at them."""
        if self.features is None:
            return None
        outlines = [self._outline(v, study) for v, study in enumerate(self.features)]
        symmetric = self.sheet.symmetric and not self.turn.asymmetric.any()
        return compare_outlines(outlines, self.figure_height, symmetric=symmetric)

    @cached_property
    def paints(self) -> list[MatchedColour]:
        """The paints of the character, the base view's first; none where nobody looked."""
        if self.features is None:
            return []
        base = self.views.index(self.sheet.base)
        return match_colours([study.fills for study in self.features], base)

    def _outline(self, v: int, study: ImageFeatures) -> Outline:
        """Return a view's outline; where its turn is not solved, only its opposite may tell."""
        turn, ruler, view = self.turn, self.trusted_scales[v], self.views[v]
        solved = bool(turn) and (view == self.sheet.base or not turn.yaw_unsolved_because[v])
        return Outline(
            left=study.left + 0.5,  # from a pixel's outer edge to its centre
            right=study.right - 0.5,
            scale=ruler.scale,
            ground=ruler.ground,
            yaw=float(turn.yaw[v]) if solved else self.sheet.views[view].yaw,
            yaw_sd=float(np.nan_to_num(turn.yaw_sd[v])) if solved else UNSOLVED_YAW_SD,
            axis=float(turn.axis[v]) if solved else np.nan,
            axis_sd=float(turn.axis_sd[v]) if solved else np.nan,
            height_sd=float(ruler.height_sd(np.float64(self.figure_height / 2.0))),
        )

    @property
    def straight_on(self) -> list[int]:
        """Rows of the views from straight in front or behind."""
        return [self.views.index(name) for name in self.sheet.straight_on]

    @property
    def trusted_scales(self) -> tuple[HeightScale, ...]:
        """Per view, the fitted ruler, or the sheet's own placing where that can't be trusted."""
        both = zip(self.height_scales, self.fitted, strict=True)
        return tuple(ruler if fitted.distrust else fitted for ruler, fitted in both)

    def columns(self, *landmarks: str) -> list[int]:
        """Return the columns of these landmarks, leaving out those that no view has."""
        return [self.landmarks.index(name) for name in landmarks if name in self.landmarks]

    def line(
        self, height_scales: Sequence[HeightScale], columns: list[int]
    ) -> tuple[Floats, Floats]:
        """Return the mean height of some landmarks in each view.

        Returns
        -------
        heights, sd
            (V,) base px, of those of the landmarks that the view has; NaN where it has none.
            The uncertainty counts the placings and the ruler.
        """
        return _line(height_scales, self.y[:, columns], self.sd[:, columns])

    def size(self, view: int) -> float:
        """Return the best known scale of a view, drawing px per base px."""
        return self.trusted_scales[view].scale

    def percent(self, base_px: float) -> float:
        """Return a length in base px as % of the figure height."""
        return 100.0 * base_px / self.figure_height


def measure(sheet: Sheet, placings: pd.DataFrame) -> Measurement:
    """Put all views on one ruler.

    Parameters
    ----------
    placings
        As `read_landmarks` gives it.

    Raises
    ------
    TurncheckError
        If the figure has no height.
    """
    views = tuple(sheet.views)
    names = set(placings["landmark"])
    landmarks = tuple(name for name in sheet.vocabulary.landmarks if name in names)
    errors = placing_errors(from_frame(placings))
    x, y, given_sd, hidden, repeats = _arrays(placings, views, landmarks, own_errors(errors))

    base = views.index(sheet.base)
    ground = landmarks.index("ground")
    base_heights = y[base, ground] - y[base]
    figure_height = float(base_heights[landmarks.index("crown")])
    if figure_height < 1.0:
        raise TurncheckError(
            f"{sheet.folder / LANDMARKS_FILE}: on {sheet.base} the crown lies at or below the "
            "ground, so the figure has no height; place crown and ground again"
        )
    tall = np.array([sheet.vocabulary.landmarks[name].has_height for name in landmarks])
    both = np.isfinite(y) & np.isfinite(y[base]) & tall
    scales = [
        start_line(row[use], base_heights[use])[1] if use.sum() >= 2 else 1.0
        for row, use in zip(y, both, strict=True)
    ]
    default = sheet.placing_sd / 100.0 * figure_height * np.array(scales)[:, None]
    default = np.where(hidden, HIDDEN_FACTOR, 1.0) * default
    sd = np.where(np.isnan(given_sd), default, given_sd) / np.sqrt(np.maximum(repeats, 1))
    sd = np.where(np.isfinite(y), sd, np.nan)

    if sheet.reference == CONSENSUS:
        known, known_sd = _consensus_heights(sheet, y, sd, tall, base, ground, figure_height)
    else:
        known, known_sd = base_heights, sd[base]
    fitted = [_fitted(y[v], sd[v], known, known_sd, tall) for v in range(len(views))]
    if sheet.reference != CONSENSUS:
        fitted[base] = fixed_height_scale(float(y[base, ground]), 0.0)
    height_scales = fitted
    if sheet.placing != "fit":
        height_scales = _height_scales(sheet, y[:, ground], sd[:, ground], base)
    return Measurement(
        sheet=sheet,
        views=views,
        landmarks=landmarks,
        x=x,
        y=y,
        sd=sd,
        hidden=hidden,
        figure_height=figure_height,
        height_scales=tuple(height_scales),
        fitted=tuple(fitted),
        placing_error=errors,
    )


def _arrays(
    placings: pd.DataFrame,
    views: Sequence[str],
    landmarks: Sequence[str],
    own: dict[str, float],
) -> tuple[Floats, Floats, Floats, Bools, Floats]:
    """Return x, y, sd of one placing, hidden and number of placings; repeats are averaged."""
    known = placings["landmark"].map(own)
    grouped = placings.assign(sd=placings["sd"].fillna(known)).groupby(["view", "landmark"])
    table = grouped.agg(
        x=("x", "mean"),
        y=("y", "mean"),
        sd=("sd", "mean"),
        hidden=("hidden", "max"),
        n=("x", "size"),
    )

    def spread(column: str, missing: float) -> Floats:
        wide = table[column].unstack("landmark").reindex(index=list(views), columns=list(landmarks))
        return wide.astype(float).fillna(missing).to_numpy(copy=True)

    return (
        spread("x", np.nan),
        spread("y", np.nan),
        spread("sd", np.nan),
        spread("hidden", 0.0) > 0,
        spread("n", 0.0),
    )


def _fitted(y: Floats, sd: Floats, known: Floats, known_sd: Floats, tall: Bools) -> HeightScale:
    use = np.isfinite(y) & np.isfinite(known) & tall
    return fit_height_scale(y[use], known[use], sd[use], known_sd[use])


def _height_scales(sheet: Sheet, ground: Floats, ground_sd: Floats, base: int) -> list[HeightScale]:
    if sheet.placing == "canvas":
        return [fixed_height_scale(float(ground[base]), 0.0)] * len(ground)
    return [fixed_height_scale(float(g), float(s)) for g, s in zip(ground, ground_sd, strict=True)]


def _line(height_scales: Sequence[HeightScale], y: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """Return (V,) the mean height of (V, n) placings on each view's ruler, and its uncertainty."""
    placed = np.isfinite(y)
    count = np.where(placed.any(axis=1), placed.sum(axis=1), np.nan)
    mean_y = np.where(placed, y, 0.0).sum(axis=1) / count
    mean_sd = np.sqrt(np.where(placed, sd**2, 0.0).sum(axis=1)) / count
    heights, heights_sd = np.empty(len(y)), np.empty(len(y))
    for v, ruler in enumerate(height_scales):
        heights[v] = ruler.heights(mean_y[v])
        heights_sd[v] = np.hypot(mean_sd[v] / ruler.scale, ruler.height_sd(heights[v]))
    return heights, heights_sd


def _consensus_heights(
    sheet: Sheet,
    y: Floats,
    sd: Floats,
    tall: Bools,
    base: int,
    ground: int,
    figure_height: float,
) -> tuple[Floats, Floats]:
    """Return (N,) heights of the views' majority and their uncertainties, base px."""
    base_heights = y[base, ground] - y[base]
    first: list[HeightScale]
    if sheet.placing == "fit":
        first = [
            _fitted(row, s, base_heights, sd[base], tall) for row, s in zip(y, sd, strict=True)
        ]
    else:
        first = _height_scales(sheet, y[:, ground], sd[:, ground], base)
    tolerance = CONSENSUS_TOLERANCE / 100.0 * figure_height
    found = [
        find_majority(*_line(first, y[:, [i]], sd[:, [i]]), tolerance) for i in range(y.shape[1])
    ]
    return np.array([f.centre for f in found]), np.array([f.centre_sd for f in found])

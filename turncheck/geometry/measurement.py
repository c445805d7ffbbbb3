"""From a sheet, its placings and its drawings to one body: what every check works from."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from turncheck.errors import TurncheckError
from turncheck.geometry.camera import Camera, fit_camera
from turncheck.geometry.colour_matching import MatchedColour, join_repainted, match_colours
from turncheck.geometry.height_scale import (
    HeightScale,
    fit_height_scale,
    fixed_height_scale,
    start_line,
)
from turncheck.geometry.majority import find_majority
from turncheck.geometry.outlines import (
    Outline,
    OutlineComparison,
    compare_outlines,
    refused_comparison,
)
from turncheck.geometry.placing_error import LandmarkError, own_errors, placing_errors
from turncheck.geometry.turn import Turn, solve_turn
from turncheck.images.features import NO_FEATURES, ImageFeatures
from turncheck.numerics.arrays import Bools, Floats
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import CONSENSUS, LANDMARKS_FILE, Sheet

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
class Heights:
    """A sheet's placings as arrays over views (V) and landmarks (N), and its height scales.

    Attributes
    ----------
    views, landmarks
        Names along the two axes; landmarks in the vocabulary's order, only those placed.
    x, y, sd, hidden
        (V, N) px of each view's own drawing, y down, NaN where not placed; and whether it was
        placed behind another part.
    figure_height
        Ground to crown in the base view, base px; all percentages are of it.
    height_scales
        Per view, as the sheet's `placing` says.
    fitted
        Per view, the robust fit of size and position; what it explains is the whole drawing's.
    trusted_scales
        Per view, the fitted scale, or the sheet's own placing where that can't be trusted.
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
    trusted_scales: tuple[HeightScale, ...]

    @property
    def reference(self) -> int | None:
        """Row of the reference view, None for the consensus."""
        if self.sheet.reference == CONSENSUS:
            return None
        return self.views.index(self.sheet.reference)

    @property
    def base(self) -> int:
        """Row of the view whose px are the unit."""
        return self.views.index(self.sheet.base)

    @property
    def straight_on(self) -> list[int]:
        """Rows of the views from straight in front or behind."""
        return [self.views.index(name) for name in self.sheet.straight_on]

    def columns(self, *landmarks: str) -> list[int]:
        """Return the columns of these landmarks, leaving out those that no view has."""
        return [self.landmarks.index(name) for name in landmarks if name in self.landmarks]

    def line(self, scales: Sequence[HeightScale], columns: list[int]) -> tuple[Floats, Floats]:
        """Return the mean height of some landmarks in each view.

        Returns
        -------
        heights, sd
            (V,) base px, of those of the landmarks that the view has; NaN where it has none.
            The uncertainty counts the placings and the scale.
        """
        return _mean_heights(scales, self.y[:, columns], self.sd[:, columns])

    def size(self, view: int) -> float:
        """Return the best known scale of a view, drawing px per base px."""
        return self.trusted_scales[view].scale

    def percent(self, base_px: float) -> float:
        """Return a length in base px as % of the figure height."""
        return 100.0 * base_px / self.figure_height


@dataclass(frozen=True)
class Measurement(Heights):
    """All that is measured of a sheet: heights, turn, outlines and paints, solved.

    Attributes
    ----------
    placing_error, features
        What the repeats say; per view, what was read off the drawing's pixels.
    turn
        The body seen from above and each view's yaw, from where the points fall sideways;
        landmarks that slide over the surface have no part in it.
    camera
        Whether all drawings are seen level, as everything else takes them to be.
    outlines, paints
        Whether any solid body has the drawings' outlines; the character's paints, the base
        view's first.
    """

    placing_error: tuple[LandmarkError, ...]
    features: tuple[ImageFeatures, ...]
    turn: Turn
    camera: Camera
    outlines: OutlineComparison
    paints: tuple[MatchedColour, ...]


def measure(
    sheet: Sheet, placings: Iterable[Placing], features: Mapping[str, ImageFeatures]
) -> Measurement:
    """Measure a sheet: every view on one ruler, the body's turn, its outlines and its paints.

    Parameters
    ----------
    placings
        Of the sheet's views, a ground on each; repeats are averaged.
    features
        By view; a drawing that nobody decoded has none.

    Raises
    ------
    TurncheckError
        If the figure has no height.
    """
    placings = tuple(placings)
    errors = placing_errors(placings)
    heights = _heights(sheet, averaged(placings, own_errors(errors)))
    seen = tuple(features.get(name, NO_FEATURES) for name in heights.views)
    turn = _turn(heights)
    camera = _camera(heights, turn)
    return Measurement(
        **vars(heights),
        placing_error=errors,
        features=seen,
        turn=turn,
        camera=camera,
        outlines=_outlines(heights, turn, camera, seen),
        paints=tuple(_paints(heights, seen)),
    )


@dataclass(frozen=True)
class Average:
    """All placings of one landmark on one view as one; px of the drawing.

    Attributes
    ----------
    sd, hidden, count
        Of one placing, NaN where nothing says so; whether one of them was placed behind another
        part; how many there are.
    """

    x: float
    y: float
    sd: float
    hidden: bool
    count: int


def averaged(
    placings: Iterable[Placing], own: Mapping[str, float] | None = None
) -> dict[tuple[str, str], Average]:
    """Return the average of each landmark on each view, by both.

    Parameters
    ----------
    own
        The placing error of landmarks that have one of their own, px: for placings without one.
    """
    own = own or {}
    groups: dict[tuple[str, str], list[Placing]] = {}
    for placing in placings:
        groups.setdefault((placing.view, placing.landmark), []).append(placing)
    found = {}
    for (view, name), group in groups.items():
        given = [own.get(name, math.nan) if math.isnan(p.sd) else p.sd for p in group]
        known = [sd for sd in given if not math.isnan(sd)]
        found[view, name] = Average(
            x=sum(p.x for p in group) / len(group),
            y=sum(p.y for p in group) / len(group),
            sd=sum(known) / len(known) if known else math.nan,
            hidden=any(p.hidden for p in group),
            count=len(group),
        )
    return found


def _heights(sheet: Sheet, averages: Mapping[tuple[str, str], Average]) -> Heights:
    """Put all views on one ruler."""
    views = tuple(sheet.views)
    names = {landmark for _, landmark in averages}
    landmarks = tuple(name for name in sheet.vocabulary.landmarks if name in names)
    x, y, given_sd = np.full((3, len(views), len(landmarks)), np.nan)
    hidden = np.zeros(x.shape, dtype=bool)
    repeats = np.ones(x.shape)
    for (view, name), one in averages.items():
        at = views.index(view), landmarks.index(name)
        x[at], y[at], given_sd[at] = one.x, one.y, one.sd
        hidden[at], repeats[at] = one.hidden, one.count

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
    sd = np.where(np.isnan(given_sd), default, given_sd) / np.sqrt(repeats)
    sd = np.where(np.isfinite(y), sd, np.nan)

    def fits(known: Floats, known_sd: Floats) -> list[HeightScale]:
        use = np.isfinite(y) & np.isfinite(known) & tall
        rows = zip(use, y, sd, strict=True)
        return [fit_height_scale(row[u], known[u], s[u], known_sd[u]) for u, row, s in rows]

    fitted = fits(base_heights, sd[base])
    if sheet.placing == "canvas":
        placed = [fixed_height_scale(float(y[base, ground]), 0.0)] * len(views)
    else:
        on_line = zip(y[:, ground], sd[:, ground], strict=True)
        placed = [fixed_height_scale(float(at), float(at_sd)) for at, at_sd in on_line]
    if sheet.reference == CONSENSUS:
        first = fitted if sheet.placing == "fit" else placed
        fitted = fits(*_majority_heights(first, y, sd, figure_height))
    else:
        fitted[base] = fixed_height_scale(float(y[base, ground]), 0.0)
    height_scales = fitted if sheet.placing == "fit" else placed
    return Heights(
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
        trusted_scales=tuple(
            fit if fit.trusted else own for own, fit in zip(height_scales, fitted, strict=True)
        ),
    )


def _turn(heights: Heights) -> Turn:
    sheet, marks = heights.sheet, heights.sheet.vocabulary.landmarks
    fixed = {n: i for i, n in enumerate(heights.landmarks) if not marks[n].slides}
    meant = {n: i for n, i in fixed.items() if sheet.symmetric and marks[n].symmetric}
    return solve_turn(
        np.where([name in fixed for name in heights.landmarks], heights.x, np.nan),
        heights.sd,
        np.array([scale.scale for scale in heights.trusted_scales]),
        np.array([view.yaw for view in sheet.views.values()]),
        figure_height=heights.figure_height,
        reference=heights.base,
        pairs=[
            (meant[left.name], meant[right.name])
            for left, right in sheet.vocabulary.pairs()
            if left.name in meant and right.name in meant
        ],
        midline=[i for name, i in meant.items() if marks[name].midline],
        ahead=[
            (fixed[first], fixed[second])
            for first, second in sheet.vocabulary.ahead
            if first in fixed and second in fixed
        ],
    )


def _camera(heights: Heights, turn: Turn) -> Camera:
    marks, scales = heights.sheet.vocabulary.landmarks, heights.trusted_scales
    tall = np.array([marks[name].has_height for name in heights.landmarks])
    on_ruler = [scale.heights(row) for scale, row in zip(scales, heights.y, strict=True)]
    size = np.array([[scale.scale] for scale in scales])
    known = np.where(tall, np.array(on_ruler), np.nan)
    return fit_camera(known, heights.sd / size, turn, heights.figure_height)


def _outlines(
    heights: Heights, turn: Turn, camera: Camera, features: Sequence[ImageFeatures]
) -> OutlineComparison:
    if camera.looks:
        reason = f"{camera.looks}, and outlines can only be compared of drawings seen level"
        return refused_comparison(reason, ("",) * len(features))
    outlines = [
        replace(_outline(heights, turn, camera, v, one), inked_out=out)
        for v, (one, out) in enumerate(zip(features, _inked_out(heights, features), strict=True))
    ]
    symmetric = heights.sheet.symmetric and not turn.asymmetric.any()
    return compare_outlines(outlines, heights.figure_height, symmetric=symmetric)


def _inked_out(heights: Heights, features: Sequence[ImageFeatures]) -> list[float]:
    """Return how much further out each drawing's line reaches than a line of the usual weight, px.

    A line is drawn along its middle, so that half of what it is heavier by lies outside.
    """
    sizes = [scale.scale for scale in heights.trusted_scales]
    widths = [one.strokes.width if one.strokes else math.nan for one in features]
    ratios = [width / size for width, size in zip(widths, sizes, strict=True)]
    known = [ratio for ratio in ratios if math.isfinite(ratio)]
    usual = float(np.median(known)) if known else math.nan
    return [
        float(np.nan_to_num((ratio - usual) * size / 2.0))
        for ratio, size in zip(ratios, sizes, strict=True)
    ]


def _outline(
    heights: Heights, turn: Turn, camera: Camera, v: int, features: ImageFeatures
) -> Outline:
    """Return a view's outline; where its turn is not solved, only its opposite may tell."""
    scale = heights.trusted_scales[v]
    solved = bool(turn) and (v == heights.base or bool(turn.yaw_solved[v]))
    ruler_sd = float(scale.height_sd(np.float64(heights.figure_height / 2.0)))
    return Outline(
        left=features.left + 0.5,  # from a pixel's outer edge to its centre
        right=features.right - 0.5,
        scale=scale.scale,
        ground=scale.ground,
        yaw=float(turn.yaw[v]) if solved else heights.sheet.views[heights.views[v]].yaw,
        yaw_sd=float(np.nan_to_num(turn.yaw_sd[v])) if solved else UNSOLVED_YAW_SD,
        axis=float(turn.axis[v]) if solved else np.nan,
        axis_sd=float(turn.axis_sd[v]) if solved else np.nan,
        height_sd=math.hypot(ruler_sd, camera.height_sd),
    )


def _paints(heights: Heights, features: Sequence[ImageFeatures]) -> list[MatchedColour]:
    paints = match_colours([one.fills for one in features], heights.base)
    scales, nowhere = heights.trusted_scales, (math.nan, math.nan)
    rows = [[fill.rows if fill else nowhere for fill in paint.fills] for paint in paints]
    spans = [
        np.array([scale.heights(np.array(at[::-1])) for scale, at in zip(scales, one, strict=True)])
        for one in rows
    ]
    return join_repainted(paints, spans)


def _mean_heights(scales: Sequence[HeightScale], y: Floats, sd: Floats) -> tuple[Floats, Floats]:
    """Return (V,) the mean height of (V, n) placings on each view's ruler, and its uncertainty."""
    placed = np.isfinite(y)
    count = np.where(placed.any(axis=1), placed.sum(axis=1), np.nan)
    mean_y = np.where(placed, y, 0.0).sum(axis=1) / count
    mean_sd = np.sqrt(np.where(placed, sd**2, 0.0).sum(axis=1)) / count
    heights, heights_sd = np.empty((2, len(y)))
    for v, ruler in enumerate(scales):
        heights[v] = ruler.heights(mean_y[v])
        heights_sd[v] = np.hypot(mean_sd[v] / ruler.scale, ruler.height_sd(heights[v]))
    return heights, heights_sd


def _majority_heights(
    scales: Sequence[HeightScale], y: Floats, sd: Floats, figure_height: float
) -> tuple[Floats, Floats]:
    """Return (N,) heights of the views' majority and their uncertainties, base px."""
    tolerance = CONSENSUS_TOLERANCE / 100.0 * figure_height
    lines = [_mean_heights(scales, y[:, [i]], sd[:, [i]]) for i in range(y.shape[1])]
    found = [find_majority(*line, tolerance) for line in lines]
    return np.array([f.centre for f in found]), np.array([f.centre_sd for f in found])

"""From a sheet, its placings and its drawings to one body: what every check works from."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from turncheck.errors import TurncheckError
from turncheck.geometry.camera import Camera, fit_camera
from turncheck.geometry.colour_matching import MatchedColour, join_repainted, match_colours
from turncheck.geometry.height_adjustment import (
    HeightTable,
    Stand,
    adjust_heights,
    height_table,
    stand_on,
)
from turncheck.geometry.height_scale import HeightScale, fixed_height_scale, start_line
from turncheck.geometry.outlines import (
    Outline,
    OutlineComparison,
    compare_outlines,
    refused_comparison,
)
from turncheck.geometry.placing_error import LandmarkError, axes_of, placing_errors
from turncheck.geometry.placing_sd import PlacingSd, dof_of_sum, placing_sd
from turncheck.geometry.scatter import Scatter, find_scatter
from turncheck.geometry.turn import Turn, solve_turn
from turncheck.images.features import NO_FEATURES, ImageFeatures
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Bools, Floats
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import CONSENSUS, LANDMARKS_FILE, Sheet

#: Degrees by which a drawing whose turn could not be solved may be off its nominal yaw; common
#: practice, no source.
UNSOLVED_YAW_SD = 1.0
#: Standard uncertainties within which a base that looks turned may be straight; common practice,
#: no source.
BASE_STRAIGHT_WITHIN = 2.0


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
    placing
        What `sd` is made of, and how well it is known.
    figure_height
        Ground to crown in the base view, base px; all percentages are of it.
    fitted
        Per view, its size and position as all heights of all views have them.
    trusted_scales, table
        Per view, the fitted scale, or the sheet's own placing where that can't be trusted; and the
        heights on these: the body's.
    height_scales, tables
        Per view, the scale that it is judged on: the trusted one; but where the sheet's `placing`
        says how a drawing stands, and all its heights together say for certain that it does not,
        or say less surely, it is the sheet's. And its heights on that beside the others' of
        `table`.
    stand
        How each drawing stands on the line that `placing` gives it.
    residuals, scatter
        (V, N) what is left of each placing's height, over its uncertainty; and by how much
        placings are less certain than stated, which `sd` counts in.
    """

    sheet: Sheet
    views: tuple[str, ...]
    landmarks: tuple[str, ...]
    x: Floats
    y: Floats
    sd: Floats
    hidden: Bools
    placing: PlacingSd
    figure_height: float
    fitted: tuple[HeightScale, ...]
    trusted_scales: tuple[HeightScale, ...]
    table: HeightTable
    height_scales: tuple[HeightScale, ...]
    tables: tuple[HeightTable, ...]
    stand: Stand
    residuals: Floats
    scatter: Scatter

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

    def dof(self, *landmarks: str) -> float:
        """Return the degrees of freedom that the placing error of some landmarks rests on."""
        columns = self.columns(*landmarks)
        return dof_of_sum(self.sd[:, columns] ** 2, self.placing.dof[:, columns])

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
    averages = averaged(placings)
    heights = _heights(sheet, averages, Scatter())
    sizes = {name: heights.size(v) for v, name in enumerate(heights.views)}
    spots = {(one.view, one.landmark, one.x, one.y): one for one in placings}  # without copies
    turn = _turn(heights)
    scatter = _scatter(heights, turn)
    if not scatter.raised:
        heights = replace(heights, scatter=scatter)
    else:
        heights = _heights(sheet, averages, scatter)
        turn = _turn(heights)
    seen = tuple(features.get(name, NO_FEATURES) for name in heights.views)
    camera = _camera(heights, turn)
    return Measurement(
        **vars(heights),
        placing_error=placing_errors(list(spots.values()), sizes),
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
        part; how many there are on spots of their own.
    squares
        Sum of those spots' squared distances from their mean, px²; of `ground` only in y.
    """

    x: float
    y: float
    sd: float
    hidden: bool
    count: int
    squares: float


def averaged(placings: Iterable[Placing]) -> dict[tuple[str, str], Average]:
    """Return the average of each landmark on each view, by both.

    A placing on the very spot of another is a copy of it, and counts once.
    """
    groups: dict[tuple[str, str], list[Placing]] = {}
    for placing in placings:
        groups.setdefault((placing.view, placing.landmark), []).append(placing)
    found = {}
    for (view, name), group in groups.items():
        known = [p.sd for p in group if not math.isnan(p.sd)]
        spots = np.array(sorted({(p.y, p.x) for p in group}))
        y, x = spots.mean(axis=0)
        found[view, name] = Average(
            x=float(x),
            y=float(y),
            sd=sum(known) / len(known) if known else math.nan,
            hidden=any(p.hidden for p in group),
            count=len(spots),
            squares=float(np.sum((spots - (y, x))[:, : axes_of(name)] ** 2)),
        )
    return found


def _heights(
    sheet: Sheet, averages: Mapping[tuple[str, str], Average], scatter: Scatter
) -> Heights:
    """Put all views on one scale of heights; placings are less certain than stated by a scatter."""
    views = tuple(sheet.views)
    names = {landmark for _, landmark in averages}
    landmarks = tuple(name for name in sheet.vocabulary.landmarks if name in names)
    x, y, given_sd = np.full((3, len(views), len(landmarks)), np.nan)
    count, squares = np.zeros((2, *x.shape))
    hidden = np.zeros(x.shape, dtype=bool)
    for (view, name), one in averages.items():
        at = views.index(view), landmarks.index(name)
        x[at], y[at], given_sd[at], hidden[at] = one.x, one.y, one.sd, one.hidden
        count[at], squares[at] = one.count, one.squares

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
    percent_px = figure_height / 100.0 * np.array(scales)
    axes = np.array([float(axes_of(name)) for name in landmarks])
    stated = sheet.placing_sd
    sure = placing_sd(stated, percent_px, count, squares, axes, given_sd, hidden)
    sd = sure.px * scatter.of(hidden)

    adjusted = adjust_heights(y, sd, tall, base=base, ground=ground)
    lines, click = y[:, ground], sd[:, ground]
    if sheet.placing == "canvas":
        lines, click = np.full_like(lines, lines[base]), np.zeros_like(click)
    stand = stand_on(adjusted, lines, None if sheet.placing == "canvas" else ground)
    placed = [fixed_height_scale(float(at), float(u)) for at, u in zip(lines, click, strict=True)]
    trusted = [fit.trusted for fit in adjusted.scales]
    surer = [
        sheet.placing == "fit"
        or (fit.trusted and not off and _height_sd(fit, figure_height) <= own.ground_sd)
        for fit, own, off in zip(adjusted.scales, placed, stand.shows, strict=True)
    ]

    def on(fits: list[bool]) -> tuple[tuple[HeightScale, ...], HeightTable]:
        """Return the fitted scales of some views and the placed ones of others, with heights."""
        pairs = zip(adjusted.scales, placed, fits, strict=True)
        scales = tuple(fit if use else own for fit, own, use in pairs)
        fitting = np.array(fits)[:, None]
        grounds = np.where(fitting, adjusted.ground_errors, stand.line_errors)
        sizes = np.where(fitting, adjusted.scale_errors, 0.0)
        return scales, height_table(y, sd, scales, grounds, sizes)

    trusted_scales, table = on(trusted)
    height_scales, judged = on(surer)
    return Heights(
        sheet=sheet,
        views=views,
        landmarks=landmarks,
        x=x,
        y=y,
        sd=sd,
        hidden=hidden,
        placing=sure,
        figure_height=figure_height,
        fitted=adjusted.scales,
        trusted_scales=trusted_scales,
        table=table,
        height_scales=height_scales,
        tables=tuple(
            table if scale is height_scales[v] else table.with_view(v, judged)
            for v, scale in enumerate(trusted_scales)
        ),
        stand=stand,
        residuals=adjusted.residuals,
        scatter=scatter,
    )


def _scatter(heights: Heights, turn: Turn) -> Scatter:
    """Return how the placings scatter, up and sideways; repeats know better than residuals."""
    sideways = np.where(turn.measurable, turn.drift / turn.drift_u, np.nan)
    marks = heights.sheet.vocabulary.landmarks
    parts = [marks[name].part or name for name in heights.landmarks]
    found = find_scatter(np.stack([heights.residuals, sideways]), heights.hidden, parts)
    return Scatter(wild=found.wild) if heights.placing.learned else found


def _height_sd(scale: HeightScale, figure_height: float) -> float:
    """Return a scale's own uncertainty where it is largest on the figure, base px."""
    return float(scale.height_sd(np.array([0.0, figure_height])).max())


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
        scale_sd=_scale_sd(heights),
        hidden=heights.hidden,
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


def _scale_sd(heights: Heights) -> Floats:
    """Return (V,) each scale's own uncertainty, as a share of it.

    All scales are against the base's, so what its placings have wrong is in all of them: half of
    the surest one's variance is taken for it.
    """
    sd = np.array([scale.scale_sd / scale.scale for scale in heights.trusted_scales])
    if sd[heights.base] > 0.0 or len(sd) < 2:
        return sd
    shared = float(np.delete(sd, heights.base).min()) ** 2 / 2.0
    own = np.sqrt(np.maximum(sd**2 - shared, 0.0))
    own[heights.base] = np.sqrt(shared)
    return own


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
    ruler_sd = float(scale.height_sd(np.float64(heights.figure_height / 2.0)))
    solved = bool(turn) and (v == heights.base or bool(turn.yaw_solved[v]))
    asked = heights.sheet.views[heights.views[v]].yaw
    yaw, yaw_sd = (turn.yaw[v], turn.yaw_sd[v]) if solved else (asked, UNSOLVED_YAW_SD)
    # outlines tell drawings from each other, so a base that may be straight is taken for it
    out = wrapped(float(turn.yaw[heights.base]) - heights.sheet.views[heights.sheet.base].yaw)
    if solved and abs(out) < BASE_STRAIGHT_WITHIN * turn.yaw_sd[heights.base]:
        yaw, yaw_sd = turn.yaw[v] - out, turn.yaw_gap_sd[v]
    return Outline(
        left=features.left + 0.5,  # from a pixel's outer edge to its centre
        right=features.right - 0.5,
        scale=scale.scale,
        ground=scale.ground,
        yaw=float(yaw),
        yaw_sd=float(np.nan_to_num(yaw_sd)),
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

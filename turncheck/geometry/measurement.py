"""From a sheet, its placings and its drawings to one body: what every check works from."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from turncheck.geometry.camera import Camera, fit_camera
from turncheck.geometry.colour_matching import MatchedColour, join_repainted, match_colours
from turncheck.geometry.heights import Heights, averaged, solve_heights
from turncheck.geometry.outlines import (
    Outline,
    OutlineComparison,
    compare_outlines,
    refused_comparison,
)
from turncheck.geometry.placing_error import LandmarkError, placing_errors
from turncheck.geometry.scatter import Scatter, find_scatter
from turncheck.geometry.turn import Turn, solve_turn
from turncheck.images.features import NO_FEATURES, ImageFeatures
from turncheck.numerics.angles import wrapped
from turncheck.numerics.arrays import Floats
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import Sheet

#: Degrees by which a drawing whose turn could not be solved may be off its nominal yaw; common
#: practice, no source.
UNSOLVED_YAW_SD = 1.0
#: Standard uncertainties within which a base that looks turned may be straight; common practice,
#: no source.
BASE_STRAIGHT_WITHIN = 2.0


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
    heights = solve_heights(sheet, averages, Scatter())
    sizes = {name: heights.size(v) for v, name in enumerate(heights.views)}
    spots = {(one.view, one.landmark, one.x, one.y): one for one in placings}  # without copies
    turn = _turn(heights)
    scatter = _scatter(heights, turn)
    if scatter.raised:
        heights = solve_heights(sheet, averages, scatter)
        turn = _turn(heights)
        again = _scatter(heights, turn)
        scatter = replace(scatter, heavy=again.heavy, count=again.count)
    heights = replace(heights, scatter=scatter)
    seen = tuple(features.get(name, NO_FEATURES) for name in heights.views)
    camera = _camera(heights, turn)
    return Measurement(
        **{one.name: getattr(heights, one.name) for one in fields(heights)},
        placing_error=placing_errors(list(spots.values()), sizes),
        features=seen,
        turn=turn,
        camera=camera,
        outlines=_outlines(heights, turn, camera, seen),
        paints=tuple(_paints(heights, seen)),
    )


def _scatter(heights: Heights, turn: Turn) -> Scatter:
    """Return how the placings scatter, up and sideways; repeats know better than residuals."""
    sideways = np.where(turn.measurable, turn.drift / turn.drift_u, np.nan)
    marks = heights.sheet.vocabulary.landmarks
    parts = [marks[name].part or name for name in heights.landmarks]
    found = find_scatter(np.stack([heights.residuals, sideways]), heights.hidden, parts)
    surer = Scatter(heavy=found.heavy, count=found.count)
    return surer if heights.placing.learned else found


def _turn(heights: Heights) -> Turn:
    sheet, marks = heights.sheet, heights.sheet.vocabulary.landmarks
    fixed = {n: i for i, n in enumerate(heights.landmarks) if not marks[n].slides}
    meant = {n: i for n, i in fixed.items() if sheet.symmetric and marks[n].symmetric}
    return solve_turn(
        np.where([name in fixed for name in heights.landmarks], heights.x, np.nan),
        heights.sd,
        heights.sizes,
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
    known = np.where(heights.firm, heights.table.heights, np.nan)
    return fit_camera(known, heights.table.sd, turn, heights.figure_height)


def _outlines(
    heights: Heights, turn: Turn, camera: Camera, features: Sequence[ImageFeatures]
) -> OutlineComparison:
    if camera.looks:
        reason = f"{camera.looks}, and outlines can only be compared of drawings seen level"
        return refused_comparison(reason, ("",) * len(features))
    outlines = _stood(heights, turn, camera, features)
    symmetric = heights.sheet.symmetric and not turn.asymmetric.any()
    return compare_outlines(outlines, heights.figure_height, symmetric=symmetric)


def outlines_of(measured: Measurement) -> list[Outline]:
    """Return the outlines of all drawings as they are compared."""
    return _stood(measured, measured.turn, measured.camera, measured.features)


def _stood(
    heights: Heights, turn: Turn, camera: Camera, features: Sequence[ImageFeatures]
) -> list[Outline]:
    return [
        replace(_outline(heights, turn, camera, v, one), inked_out=out)
        for v, (one, out) in enumerate(zip(features, _inked_out(heights, features), strict=True))
    ]


def _inked_out(heights: Heights, features: Sequence[ImageFeatures]) -> list[float]:
    """Return how much further out each drawing's line reaches than a line of the usual weight, px.

    A line is drawn along its middle, so that half of what it is heavier by lies outside.
    """
    sizes = heights.sizes
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

"""A sheet's placings on one scale of heights, and how sure they are."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from turncheck.errors import TurncheckError
from turncheck.geometry.height_adjustment import (
    HeightAdjustment,
    HeightTable,
    Stand,
    adjust_heights,
    height_table,
    stand_on,
)
from turncheck.geometry.height_scale import HeightScale, fixed_height_scale, start_line
from turncheck.geometry.placing_error import axes_of
from turncheck.geometry.placing_sd import PlacingSd, dof_of_sum, placing_sd
from turncheck.geometry.scatter import Scatter
from turncheck.numerics.arrays import Bools, Floats
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import CONSENSUS, LANDMARKS_FILE, Sheet


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
    adjusted: HeightAdjustment

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
        if landmarks not in self._dofs:
            columns = self.columns(*landmarks)
            self._dofs[landmarks] = dof_of_sum(
                self.sd[:, columns] ** 2, self.placing.dof[:, columns]
            )
        return self._dofs[landmarks]

    @cached_property
    def _dofs(self) -> dict[tuple[str, ...], float]:
        return {}

    @property
    def tall(self) -> Bools:
        """(N,) the landmarks whose heights are compared."""
        marks = self.sheet.vocabulary.landmarks
        return np.array([marks[name].has_height for name in self.landmarks])

    @property
    def firm(self) -> Bools:
        """(N,) those among them that lie at one height from every side."""
        marks = self.sheet.vocabulary.landmarks
        return np.array([marks[name].is_firm for name in self.landmarks])

    @property
    def pairs(self) -> list[list[int]]:
        """Columns of the left and the right one of each pair that is placed somewhere."""
        pairs = self.sheet.vocabulary.pairs()
        columns = (self.columns(left.name, right.name) for left, right in pairs)
        return [pair for pair in columns if len(pair) == 2]

    @property
    def sizes(self) -> Floats:
        """(V,) the best known scale of each view, drawing px per base px."""
        return np.array([scale.scale for scale in self.trusted_scales])

    def size(self, view: int) -> float:
        """Return the best known scale of a view, drawing px per base px."""
        return self.trusted_scales[view].scale

    def percent(self, base_px: float) -> float:
        """Return a length in base px as % of the figure height."""
        return 100.0 * base_px / self.figure_height


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
        spots = sorted({(p.y, p.x) for p in group})
        y, x = (sum(axis) / len(spots) for axis in zip(*spots, strict=True))
        squares = [((v - y) ** 2, (u - x) ** 2) for v, u in spots]
        found[view, name] = Average(
            x=x,
            y=y,
            sd=sum(known) / len(known) if known else math.nan,
            hidden=any(p.hidden for p in group),
            count=len(spots),
            squares=sum(sum(each[: axes_of(name)]) for each in squares),
        )
    return found


def solve_heights(
    sheet: Sheet, averages: Mapping[tuple[str, str], Average], scatter: Scatter
) -> Heights:
    """Put all views on one scale of heights.

    Parameters
    ----------
    averages
        By view and landmark, as of `averaged`; a ground in each view, a crown in the base.
    scatter
        By how much placings are less certain than is stated or learned.

    Raises
    ------
    TurncheckError
        If the figure has no height.
    """
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
    firm = np.array([sheet.vocabulary.landmarks[name].is_firm for name in landmarks])
    both = np.isfinite(y) & np.isfinite(y[base]) & firm
    scales = [
        start_line(row[use], base_heights[use])[1] if use.sum() >= 2 else 1.0
        for row, use in zip(y, both, strict=True)
    ]
    percent_px = figure_height / 100.0 * np.array(scales)
    axes = np.array([float(axes_of(name)) for name in landmarks])
    stated = sheet.placing_sd
    sure = placing_sd(stated, percent_px, count, squares, axes, given_sd, hidden)
    sd = sure.px * scatter.of(hidden)

    adjusted = adjust_heights(y, sd, firm, base=base, ground=ground)
    canvas = sheet.placing == "canvas"
    lines = np.full(len(views), y[base, ground]) if canvas else y[:, ground]
    stand = stand_on(adjusted, lines, None if canvas else ground)
    line_sd = np.sqrt((stand.line_errors**2).sum(axis=1))
    placed = [fixed_height_scale(float(at), float(u)) for at, u in zip(lines, line_sd, strict=True)]
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
        adjusted=adjusted,
    )


def _height_sd(scale: HeightScale, figure_height: float) -> float:
    """Return a scale's own uncertainty where it is largest on the figure, base px."""
    return float(scale.height_sd(np.array([0.0, figure_height])).max())

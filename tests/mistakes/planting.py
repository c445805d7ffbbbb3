"""Mistakes of people, made in correct sheets in memory."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np

from turncheck.geometry.measurement import Measurement, measure
from turncheck.images.features import ImageFeatures
from turncheck.sheet.landmark_table import Placing
from turncheck.sheet.model import Sheet

OTHER_SIDE = {"_l": "_r", "_r": "_l"}
#: Measurements by what they rest on.
_SOLVED: dict[tuple[object, ...], Measurement] = {}


@dataclass(frozen=True)
class Drawn:
    """A sheet, its placings, what its drawings look like and the SHA-256 of each."""

    sheet: Sheet
    placings: tuple[Placing, ...]
    features: Mapping[str, ImageFeatures]
    sha256: Mapping[str, str]

    def measured(self) -> Measurement:
        """The sheet measured, the same points once; no slip asks what fits the drawings' pixels."""
        yaws, settings = tuple(self.yaws.items()), (self.sheet.placing_sd, self.sheet.reference)
        key = self.sheet.folder, yaws, settings, self.placings
        if key not in _SOLVED:
            _SOLVED[key] = measure(self.sheet, self.placings, {})
        seen = tuple(self.features[name] for name in self.sheet.views)
        return replace(_SOLVED[key], sheet=self.sheet, features=seen)

    def placed(self, change: Callable[[Placing], Placing]) -> Drawn:
        """The sheet with every placing changed."""
        return replace(self, placings=tuple(map(change, self.placings)))

    def with_yaws(self, yaws: Mapping[str, float]) -> Drawn:
        views = {n: replace(v, yaw=yaws.get(n, v.yaw)) for n, v in self.sheet.views.items()}
        return replace(self, sheet=replace(self.sheet, views=views))

    @property
    def yaws(self) -> dict[str, float]:
        return {name: view.yaw for name, view in self.sheet.views.items()}

    @property
    def turned(self) -> list[str]:
        """The drawings from neither straight in front nor straight behind."""
        return [name for name in self.yaws if name not in self.sheet.straight_on]

    def at(self, yaw: float) -> str:
        """The drawing asked for at this yaw."""
        return next(name for name, own in self.yaws.items() if own == yaw)


def mirror_image(drawn: ImageFeatures) -> ImageFeatures:
    """What a drawing's mirror image looks like, as far as mistakes are told by it."""
    if not drawn.area:
        return drawn
    last = drawn.width - 1
    fills = tuple(replace(fill, at=(last - fill.at[0], fill.at[1])) for fill in drawn.fills)
    cells = drawn.detail
    far = cells.x + (cells.drawn.shape[1] - 1) * cells.cell
    detail = replace(cells, drawn=cells.drawn[:, ::-1], x=last - far)
    left, right = last - drawn.right, last - drawn.left
    return replace(drawn, left=left, right=right, fills=fills, detail=detail)


def _renamed(placing: Placing) -> Placing:
    side = placing.landmark[-2:]
    if side not in OTHER_SIDE:
        return placing
    return replace(placing, landmark=placing.landmark[:-2] + OTHER_SIDE[side])


def names_exchanged(drawn: Drawn, *views: str) -> Drawn:
    """Left and right names exchanged on some drawings, on all where none is named."""
    return drawn.placed(lambda p: _renamed(p) if p.view in (views or drawn.yaws) else p)


def mirrored(drawn: Drawn, *views: str) -> Drawn:
    """Some drawings mirrored, on all where none is named, the points with their names in them."""
    chosen = views or tuple(drawn.yaws)
    features = {n: mirror_image(f) if n in chosen else f for n, f in drawn.features.items()}
    sha256 = {n: own + "m" if n in chosen else own for n, own in drawn.sha256.items()}
    width = {n: view.picture.width - 1.0 for n, view in drawn.sheet.views.items()}
    moved = drawn.placed(lambda p: replace(p, x=width[p.view] - p.x) if p.view in chosen else p)
    return replace(moved, features=features, sha256=sha256)


def drawn_facing_left(drawn: Drawn, *views: str) -> Drawn:
    """Some turned drawings drawn facing left: mirrored, named anew as the character's own."""
    chosen = views or tuple(drawn.turned)
    return names_exchanged(mirrored(drawn, *chosen), *chosen)


def files_exchanged(drawn: Drawn, one: str, other: str) -> Drawn:
    """Two drawings' files exchanged after their points were placed."""
    features = dict(drawn.features) | {one: drawn.features[other], other: drawn.features[one]}
    sha256 = dict(drawn.sha256) | {one: drawn.sha256[other], other: drawn.sha256[one]}
    return replace(drawn, features=features, sha256=sha256)


def drawings_exchanged(drawn: Drawn, one: str, other: str) -> Drawn:
    """Two drawings exchanged together with their points: each in the other's place."""
    names = {one: other, other: one}
    return files_exchanged(drawn, one, other).placed(
        lambda p: replace(p, view=names.get(p.view, p.view))
    )


def same_file(drawn: Drawn, one: str, other: str) -> Drawn:
    """One drawing's file given for another too."""
    features = dict(drawn.features) | {other: drawn.features[one]}
    return replace(drawn, features=features, sha256={**drawn.sha256, other: drawn.sha256[one]})


def landmarks_exchanged(drawn: Drawn, one: str, other: str, *views: str) -> Drawn:
    """Two landmarks' names exchanged on some drawings, on all where none is named."""

    def change(p: Placing) -> Placing:
        stem, side = p.landmark[:-2], p.landmark[-2:]
        if p.view not in (views or drawn.yaws) or stem not in (one, other):
            return p
        return replace(p, landmark=(other if stem == one else one) + side)

    return drawn.placed(change)


def on_one_spot(drawn: Drawn, *views: str) -> Drawn:
    """Every landmark of some drawings on one pixel."""
    return drawn.placed(lambda p: replace(p, x=300.0, y=400.0) if p.view in views else p)


def ground_raised(drawn: Drawn, share: float) -> Drawn:
    """The ground of all drawings too high by a share of the figure's height."""
    by = share * drawn.measured().figure_height
    return drawn.placed(lambda p: replace(p, y=p.y - by) if p.landmark == "ground" else p)


def from_another_export(drawn: Drawn, scale: float) -> Drawn:
    """Points placed on drawings that were exported at another size."""
    return drawn.placed(lambda p: replace(p, x=p.x * scale, y=p.y * scale))


def yaws_in_radians(drawn: Drawn) -> Drawn:
    return drawn.with_yaws({n: round(float(np.radians(y)), 3) for n, y in drawn.yaws.items()})


def yaws_exchanged(drawn: Drawn, one: str, other: str) -> Drawn:
    return drawn.with_yaws({one: drawn.yaws[other], other: drawn.yaws[one]})


def placing_sd_in_px(drawn: Drawn) -> Drawn:
    return replace(drawn, sheet=replace(drawn.sheet, placing_sd=6.0))


def flipped_since(drawn: Drawn, *views: str) -> Drawn:
    """Some drawings mirrored after their points were placed."""
    flipped = {n: mirror_image(f) if n in views else f for n, f in drawn.features.items()}
    return replace(drawn, features=flipped)


def of_views(drawn: Drawn, views: Collection[str]) -> Drawn:
    """The sheet with some of its drawings alone."""
    kept = {name: view for name, view in drawn.sheet.views.items() if name in views}
    reference = drawn.sheet.reference if drawn.sheet.reference in kept else next(iter(kept))
    return Drawn(
        replace(drawn.sheet, views=kept, reference=reference),
        tuple(one for one in drawn.placings if one.view in kept),
        {name: drawn.features[name] for name in kept},
        {name: drawn.sha256[name] for name in kept},
    )

"""The page of two revisions: what became of each thing that was told, and both drawings as one.

Frame of the pictures: a thousandth of the figure height of each revision's own base drawing, y
down from the ground line, so that both drawings stand on one line at one scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import SimpleNamespace

import numpy as np
from markupsafe import Markup

from turncheck import assets
from turncheck.assets.pages import environment, part, policy, style
from turncheck.files.version import VERSION
from turncheck.instructions.instruction import Instruction
from turncheck.instructions.result import Result
from turncheck.revisions.comparing import Change, Comparison, Difference
from turncheck.revisions.words import (
    CHANGES,
    became,
    by_itself,
    counts,
    tally,
    told,
    told_beside,
    unsaid,
    where,
)

_ROOM = "turncheck.revisions"
#: How tall the figure is in the pictures.
TALL = 1000.0
#: Paper around the figures, and around the points of a difference, and the least side of what is
#: zoomed to; chosen by eye.
_AROUND, _BESIDE, _LEAST = 40.0, 90.0, 260.0
#: The shape and colour that goes with what became of something.
_LOOKS: Mapping[Change, tuple[str, str]] = {
    Change.WORSE: ("off_model", "off_model"),
    Change.NEW: ("off_model", "off_model"),
    Change.SAME: ("plain", "off_model"),
    Change.GONE: ("not_measured", "not_measured"),
    Change.FIXED: ("on_model", "on_model"),
}

Box = tuple[float, float, float, float]


def render(comparison: Comparison) -> str:
    """Return the page; the same input gives the same text."""
    looks = style(_ROOM, ("wipe", "compare"))
    script = Markup(assets.text("wipe.js") + part(_ROOM, "script/compare.js"))
    shown = [_shown(n, one, comparison) for n, one in enumerate(comparison.differences, 1)]
    drawings = [
        _drawing(view, shown, comparison)
        for view in comparison.new.measured.views
        if view in comparison.old.measured.views
    ]
    old, new = comparison.old.sheet, comparison.new.sheet
    left = {one.change for one in comparison.differences} - {Change.FIXED}
    stamp = "undecided" if left or comparison.carried.uncarried else "on_model"
    return (
        environment(_ROOM)
        .get_template("compare.html.j2")
        .render(
            policy=policy([looks], [script]),
            style=looks,
            script=script,
            shapes=Markup(assets.text("shapes.svg")),
            version=VERSION,
            old=old,
            new=new,
            is_other=old.character != new.character,
            tally=tally(comparison),
            counts=[
                (count, CHANGES[change], *_LOOKS[change]) for change, count in counts(comparison)
            ],
            unsaid=unsaid(comparison),
            stamp="off_model" if comparison.is_worse else stamp,
            by_itself=by_itself(comparison),
            warnings=comparison.new.warnings,
            remarks=told_beside(comparison),
            shown=shown,
            telling=sorted(
                (one for one in drawings if one.numbers), key=lambda one: one.numbers[0][0].number
            ),
            quiet=[one for one in drawings if not one.numbers],
            elsewhere=[one for one in shown if not one.home],
            only=sorted({*old.views} ^ {*new.views}),
        )
    )


def _shown(number: int, one: Difference, comparison: Comparison) -> SimpleNamespace:
    before, now = told(one)
    shape, colour = ("undecided",) * 2 if one.undecided else _LOOKS[one.change]
    return SimpleNamespace(
        number=number,
        became=became(one),
        shape=shape,
        colour=colour,
        views=one.views,
        home=comparison.home(one),
        where=where(one.views),
        before=before,
        now=now,
        spots={
            view: (
                _spots(one.before or one.after, view, comparison.old),
                _spots(one.after or one.before, view, comparison.new),
            )
            for view in one.views
        },
    )


def _spots(task: Instruction | None, view: str, of: Result) -> list[tuple[float, float]]:
    """Return where the points of an instruction lie in a view, px of its drawing."""
    if task is None or view not in of.measured.views:
        return []
    measured = of.measured
    v, columns = measured.views.index(view), measured.columns(*task.landmarks)
    return [
        (float(x), float(y))
        for x, y in zip(measured.x[v, columns], measured.y[v, columns], strict=True)
        if np.isfinite(x + y)
    ]


@dataclass(frozen=True)
class _Ruler:
    """How a drawing lies in the pictures' frame: times its px, and where its first one falls."""

    times: float
    x: float
    y: float

    def to(self, spot: Sequence[float]) -> tuple[float, float]:
        return self.times * spot[0] + self.x, self.times * spot[1] + self.y


def _ruler(of: Result, view: str, middle: float) -> _Ruler:
    """Return how a drawing stands, a place of it, px, at the middle."""
    measured = of.measured
    v = measured.views.index(view)
    scale = measured.height_scales[v]
    size = scale.scale if of.sheet.placing == "fit" else 1.0
    times = TALL / (measured.figure_height * size)
    return _Ruler(times, -times * middle, -times * scale.ground)


def _drawing(
    view: str, shown: Iterable[SimpleNamespace], comparison: Comparison
) -> SimpleNamespace:
    old, new = comparison.old, comparison.new
    lies = comparison.carried.laid.get(view)
    if lies is not None:
        middle = float(lies.centre[0])
        middles = middle, lies.to(middle, float(lies.centre[1]))[0]
    else:
        middles = _middle(old, view), _middle(new, view)
    rulers = _ruler(old, view, middles[0]), _ruler(new, view, middles[1])
    box = _around([_figure(old, view, rulers[0]), _figure(new, view, rulers[1])], _AROUND)
    mine = [one for one in shown if view in one.views]
    takes = [
        SimpleNamespace(
            revision=of.sheet.revision,
            picture=of.drawings[view],
            size=of.sheet.views[view].picture,
            ruler=ruler,
            spots=[
                (one.number, one.colour, [ruler.to(spot) for spot in one.spots[view][which]])
                for one in mine
            ],
        )
        for which, (of, ruler) in enumerate(zip((old, new), rulers, strict=True))
    ]
    return SimpleNamespace(
        view=view,
        box=box,
        takes=takes,
        numbers=[(one, _zoom(one.number, takes, box)) for one in mine if one.home == view],
        is_same_file=old.drawings[view].sha256 == new.drawings[view].sha256,
    )


def _middle(of: Result, view: str) -> float:
    return float(np.nanmean(of.measured.x[of.measured.views.index(view)]))


def _figure(of: Result, view: str, ruler: _Ruler) -> Box:
    """Return what the figure of a drawing takes: left, top, right, bottom."""
    measured = of.measured
    v = measured.views.index(view)
    if box := measured.features[v].box:
        left, top, right, bottom = box
    else:
        left, right = float(np.nanmin(measured.x[v])), float(np.nanmax(measured.x[v]))
        top, bottom = float(np.nanmin(measured.y[v])), float(np.nanmax(measured.y[v]))
    return *ruler.to((left, top)), *ruler.to((right, bottom))


def _around(boxes: Sequence[Box], paper: float) -> Box:
    """Return the box, as a viewBox has it, around boxes with paper beside."""
    left, top = (min(box[side] for box in boxes) - paper for side in (0, 1))
    right, bottom = (max(box[side] for box in boxes) + paper for side in (2, 3))
    return left, top, right - left, bottom - top


def _zoom(number: int, takes: Iterable[SimpleNamespace], whole: Box) -> Box:
    """Return what to look at for a difference, as wide for its height as the whole."""
    spots = [spot for take in takes for n, _, at in take.spots if n == number for spot in at]
    if not spots:
        return whole
    x, y, wide, high = _around([(*spot, *spot) for spot in spots], _BESIDE)
    times = max(wide / whole[2], high / whole[3], _LEAST / min(whole[2:]))
    times = min(times, 1.0)
    width, height = times * whole[2], times * whole[3]
    return x + (wide - width) / 2.0, y + (high - height) / 2.0, width, height

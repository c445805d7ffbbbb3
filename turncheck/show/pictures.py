"""The pictures beside the index page: a sheet's figure cut out, and its worst points magnified."""

from __future__ import annotations

import base64
import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import cv2
import numpy as np

from turncheck.checks.finding import Finding, Kind
from turncheck.images.colour import on_white
from turncheck.images.picture_file import decode
from turncheck.images.thumbnail import webp
from turncheck.instructions.instruction import target_of
from turncheck.instructions.result import Result
from turncheck.numerics.arrays import Bytes
from turncheck.plain import capital, spoken
from turncheck.show.record import Figure, Spot
from turncheck.wording.findings import drift_phrase, subject_title

#: Of a cut-out figure: its height at most, px, and how good its WebP is. So it takes some 3 KB.
_FIGURE_HIGH, _FIGURE_QUALITY = 160, 60
#: Of a magnified point: its picture's side, px, how good its WebP is, what lies around it, % of the
#: figure height, and how many there are at most; chosen by eye.
_SPOT_SIDE, _SPOT_QUALITY, _SPOT_AROUND, _SPOTS_MOST = 320, 75, 6.0, 3
#: Lines on a magnified point, BGR: ink where it lies, the ruler's blue where it should, and what
#: parts them from the drawing.
_INK, _RULED, _HALO = (44, 36, 32), (138, 106, 29), (255, 255, 255)


def cut_out(checked: Result) -> tuple[Figure, bytes] | None:
    """Return the base drawing's figure with its paper clear, without its file name, and its WebP.

    None where no figure was found.
    """
    measured = checked.measured
    v = measured.base
    features, shown = measured.features[v], checked.drawings[measured.views[v]]
    if not features.contours:
        return None
    whole = _pixels(shown.uri)
    factor = shown.width / features.width
    lines = [np.round((line + 0.5) * factor - 0.5).astype(np.int32) for line in features.contours]
    mask = np.zeros(whole.shape[:2], np.uint8)
    cv2.fillPoly(mask, lines, 255)  # even-odd, so gaps stay clear
    x, y, across, down = cv2.boundingRect(mask)
    box = slice(y, y + down), slice(x, x + across)
    pixels, alpha = whole[box], mask[box]
    if pixels.shape[2] == 4:
        alpha = np.asarray(cv2.multiply(alpha, pixels[:, :, 3], scale=1.0 / 255.0), np.uint8)
    inked = cv2.multiply(pixels[:, :, :3], cv2.merge([alpha] * 3), scale=1.0 / 255.0)
    smaller = min(_FIGURE_HIGH / down, 1.0)
    size = max(round(across * smaller), 1), max(round(down * smaller), 1)
    inked, cover = (cv2.resize(one, size, interpolation=cv2.INTER_AREA) for one in (inked, alpha))
    colours = 255.0 * inked / np.maximum(cover, 1)[:, :, None]  # the paper has no part in them
    small = np.round(np.dstack([colours, cover])).clip(0, 255).astype(np.uint8)

    def there(at: float, start: int) -> float:
        return round(((at + 0.5) * factor - start) * smaller - 0.5, 2)

    crown = float(measured.y[v, measured.columns("crown")[0]])
    axis = float(measured.turn.axis[v]) if measured.turn else math.nan
    if not math.isfinite(axis):
        axis = float(np.nanmean([features.left, features.right]))
    ground = measured.trusted_scales[v].ground
    figure = Figure("", *size, there(crown, y), there(ground, y), there(axis, x))
    return figure, webp(small, _FIGURE_QUALITY)


def _pixels(uri: str) -> Bytes:
    data = np.frombuffer(base64.b64decode(uri.partition(",")[2]), np.uint8)
    return np.asarray(cv2.imdecode(data, cv2.IMREAD_UNCHANGED), np.uint8)


@dataclass(frozen=True)
class _Point:
    """A point that is off, or nearest to it: in which drawing, where, and where it should be."""

    finding: Finding
    x: float
    y: float
    to_x: float
    to_y: float


def magnified(checked: Result) -> list[tuple[Spot, bytes]]:
    """Return the points that are furthest off model, without their file names, and their WebP.

    Those nearest to their tolerance where none is. A ring shows where the point lies, a line
    where it should.
    """
    marks = checked.sheet.vocabulary.landmarks
    decoded: dict[str, Bytes] = {}
    found = []
    for point in _worst(checked):
        view = point.finding.view
        if view not in decoded:
            pixels = decode(checked.sheet.views[view].picture)
            decoded[view] = on_white(pixels) if pixels.shape[2] == 4 else pixels
        says = f"{capital(subject_title(point.finding.subject, marks))} "
        says += drift_phrase(point.finding, marks)
        picture = webp(_crop(checked, decoded[view], point), _SPOT_QUALITY)
        found.append((Spot(says, capital(spoken(view)), ""), picture))
    return found


def _worst(checked: Result) -> list[_Point]:
    follows = checked.follows
    rows = [
        (row, finding)
        for row, finding in enumerate(checked.rows)
        if finding.subject.kind is Kind.POINT and math.isfinite(finding.drift_px)
    ]
    rows.sort(
        key=lambda one: (
            not one[1].is_off_model,
            one[0] in follows,
            -abs(one[1].drift_pct) / one[1].tolerance_pct,
        )
    )
    chosen: dict[tuple[str, tuple[str, ...]], _Point] = {}
    for point in _placed(checked, (finding for _, finding in rows)):
        chosen.setdefault((point.finding.view, point.finding.subject.landmarks), point)
        if len(chosen) == _SPOTS_MOST:
            break
    return list(chosen.values())


def _placed(checked: Result, findings: Iterator[Finding]) -> Iterator[_Point]:
    """Yield findings with where their points lie, each in the drawing that it speaks against."""
    measured = checked.measured
    for finding in findings:
        target = target_of(measured, finding)
        if target.settled and target.views[0] != finding.view and math.isfinite(target.amount):
            size = measured.size(measured.views.index(target.views[0]))
            px = target.amount / 100.0 * measured.figure_height * size
            finding = replace(finding, view=target.views[0], drift_pct=target.amount, drift_px=px)
        v = measured.views.index(finding.view)
        columns = measured.columns(*finding.subject.landmarks)
        if columns and np.isfinite(measured.y[v, columns]).any():
            x, y = (float(np.nanmean(at[v, columns])) for at in (measured.x, measured.y))
            px = finding.drift_px
            aside = finding.subject.sideways
            yield _Point(finding, x, y, x - px * aside, y + px * (not aside))


def _crop(checked: Result, pixels: Bytes, point: _Point) -> Bytes:
    measured = checked.measured
    size = measured.size(measured.views.index(point.finding.view))
    px = abs(point.finding.drift_px)
    around = max(_SPOT_AROUND / 100.0 * measured.figure_height * size, 1.5 * px)
    scale = _SPOT_SIDE / (2.0 * around)
    left, top = (point.x + point.to_x) / 2.0 - around, (point.y + point.to_y) / 2.0 - around
    matrix = np.array([[scale, 0.0, -left * scale], [0.0, scale, -top * scale]])
    seen = cv2.warpAffine(
        pixels,
        matrix,
        (_SPOT_SIDE, _SPOT_SIDE),
        flags=cv2.INTER_AREA if scale < 1.0 else cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=(255, 255, 255),
    )
    at, to = (
        (round((x - left) * scale), round((y - top) * scale))
        for x, y in ((point.x, point.y), (point.to_x, point.to_y))
    )
    ends = (
        ((to[0], 0), (to[0], _SPOT_SIDE))
        if point.finding.subject.sideways
        else ((0, to[1]), (_SPOT_SIDE, to[1]))
    )
    cv2.line(seen, *ends, _HALO, 5, cv2.LINE_AA)
    cv2.line(seen, *ends, _RULED, 2, cv2.LINE_AA)
    cv2.circle(seen, at, 9, _HALO, 6, cv2.LINE_AA)
    cv2.circle(seen, at, 9, _INK, 2, cv2.LINE_AA)
    return np.asarray(seen, np.uint8)

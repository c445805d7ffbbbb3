"""The whole turn as one small picture: the character at each angle, side by side, for the report.

Frame of a cell: px of the angles' canvas, cut to what any angle shows, and made smaller.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from pydantic import BaseModel, Field, FiniteFloat, PositiveInt, ValidationError

from turncheck.files.user_files import fingerprint
from turncheck.handover.angle import Angle
from turncheck.handover.guides_kept import kept_in
from turncheck.handover.guides_shapes import Shape, dots, limbs, painted
from turncheck.handover.under_drawing_look import faint
from turncheck.images.colour import on_white
from turncheck.images.thumbnail import webp
from turncheck.numerics.arrays import Bytes
from turncheck.sheet.approval import Sums
from turncheck.sheet.vocabulary import Vocabulary

TURN_FILE = "turn.webp"
#: Height of an angle and of the paper below it for words, px, paper around the figure, as a share
#: of its height, and angles in a row; chosen by eye.
_HIGH, _WORDS, _PAPER, _COLUMNS = 300, 24, 0.03, 8
#: Of the colours so much is left, and of the picture's quality; chosen by eye.
_FAINT, _QUALITY = 0.75, 50
#: Standard deviation of the blur before the picture is made smaller, px of a cell, so that fine
#: lines stay even; chosen by eye.
_SOFT = 0.4
#: Least width of a line, px of a cell; chosen by eye.
_LINE = 1.0


class TurnStrip(BaseModel, frozen=True):
    """Where each angle stands in the picture, as `guides.json` has it.

    Attributes
    ----------
    yaws
        Degrees, as the nose goes from left to right.
    columns, cell
        Angles in a row, and width and height of a cell, px.
    """

    file: str = TURN_FILE
    yaws: tuple[FiniteFloat, ...] = Field(min_length=1)
    columns: PositiveInt
    cell: tuple[PositiveInt, PositiveInt]

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the whole picture, px."""
        return self.columns * self.cell[0], -(-len(self.yaws) // self.columns) * self.cell[1]

    def corner(self, number: int) -> tuple[int, int]:
        """Return the upper left corner of an angle's cell, px."""
        return number % self.columns * self.cell[0], number // self.columns * self.cell[1]


@dataclass(frozen=True)
class KeptTurn:
    """A whole turn that lies in a folder; without strip and picture where it no longer holds."""

    strip: TurnStrip | None = None
    picture: bytes = b""


def turn_in(folder: Path, sums: Sums) -> KeptTurn | None:
    """Return the whole turn that was drawn into a folder, None where none was.

    Parameters
    ----------
    sums
        Of the sheet as it is now.
    """
    kept = kept_in(folder)
    try:
        strip = TurnStrip.model_validate(kept.turn)
        picture = (folder / TURN_FILE).read_bytes()
    except (ValidationError, OSError):
        return KeptTurn() if kept.turn else None
    holds = kept.sums == sums.as_json() and kept.files.get(TURN_FILE) == fingerprint(picture)
    return KeptTurn(strip, picture) if holds else KeptTurn()


@dataclass(frozen=True)
class Window:
    """What of the canvas is shown of each angle.

    Attributes
    ----------
    left, top, width, height
        px of the canvas.
    """

    left: float
    top: float
    width: float
    height: float

    @property
    def scale(self) -> float:
        """Px of a cell for one of the canvas."""
        return _HIGH / self.height

    @property
    def cell(self) -> tuple[int, int]:
        """Width and height of a cell, px."""
        return math.ceil(self.width * self.scale), _HIGH + _WORDS


def window_of(angles: Sequence[Angle]) -> Window:
    """Return the least window that shows every angle whole."""
    across, down = [angles[0].canvas.axis], [angles[0].canvas.ground]
    for angle in angles:
        known, rows = angle.spots.known, angle.rows
        across += [*angle.x[known], *rows[:, 2], *rows[:, 5]]
        down += [*angle.y[known], *rows[:, 0]]
    paper = _PAPER * (max(down) - min(down))
    left, top = min(across) - paper, min(down) - paper
    return Window(left, top, max(across) + paper - left, max(down) + paper - top)


def cell_of(window: Window, drawn: Bytes, angle: Angle, vocabulary: Vocabulary) -> Bytes:
    """Return an angle as a cell, (H, W, 3) BGR on paper: its under-drawing, limbs and points.

    Parameters
    ----------
    drawn
        (H, W, 4) RGBA, the under-drawing on the canvas.
    """
    k = window.scale
    width, height = window.cell
    blurred = cv2.GaussianBlur(_premultiplied(drawn), (0, 0), max(_SOFT / k, 0.1))
    to = np.array([[k, 0.0, -k * window.left], [0.0, k, -k * window.top]])
    small = cv2.warpAffine(blurred, to, (width, height), flags=cv2.INTER_LINEAR)
    tall = window.height
    shapes = [*limbs(angle, vocabulary, tall), *dots(angle, tall)]
    under = faint(_plain(np.asarray(small, np.uint8)), _FAINT)
    rgba = painted(under, [_smaller(one, window) for one in shapes])
    return on_white(rgba[..., [2, 1, 0, 3]])


def _premultiplied(picture: Bytes) -> Bytes:
    colours = picture[..., :3] * (picture[..., 3:] / np.float32(255.0))
    return np.dstack([np.rint(colours).astype(np.uint8), picture[..., 3]])


def _plain(picture: Bytes) -> Bytes:
    share = np.maximum(picture[..., 3:], 1) / np.float32(255.0)
    colours = np.minimum(picture[..., :3] / share, 255.0)
    return np.dstack([np.rint(colours).astype(np.uint8), picture[..., 3]])


def _smaller(shape: Shape, window: Window) -> Shape:
    points = (shape.points - [window.left, window.top]) * window.scale
    return replace(shape, points=points, size=max(shape.size * window.scale, _LINE))


def strip_of(window: Window, cells: Mapping[float, Bytes]) -> tuple[TurnStrip, bytes]:
    """Return the strip of a turn, and the picture as a WebP file.

    Parameters
    ----------
    cells
        By yaw, degrees.
    """
    yaws = tuple(sorted(cells))
    strip = TurnStrip(yaws=yaws, columns=min(_COLUMNS, len(yaws)), cell=window.cell)
    width, height = strip.size
    whole = np.full((height, width, 3), 255, np.uint8)
    for number, yaw in enumerate(yaws):
        x, y = strip.corner(number)
        whole[y : y + strip.cell[1], x : x + strip.cell[0]] = cells[yaw]
    return strip, webp(whole, _QUALITY)

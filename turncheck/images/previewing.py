"""Pictures that show what was found on a drawing, for a person to look at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from turncheck.images.colour import on_white
from turncheck.images.thumbnail import png
from turncheck.numerics.arrays import Bytes

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

    from turncheck.images.wide_sheet.parts import Box


#: Size of the lettering as a share of the picture's longer side; common practice, no source.
_LETTER = 1 / 70
_STRIP = 128  # rows
_SURE, _DOUBTFUL, _PAPER = (0, 90, 200), (200, 60, 0), (255, 255, 255)


@dataclass(frozen=True)
class Ring:
    """A disc that was found: centre and radius in px of the drawing, and what to write by it."""

    x: float
    y: float
    radius: float
    says: str
    sure: bool = True


def with_boxes(pixels: Bytes, boxes: Iterable[tuple[Box, str]]) -> bytes:
    """Return a PNG of a picture with numbered boxes, each with its words."""
    image, pen, letter = _page(pixels)
    width = max(2, letter // 8)
    for box, says in boxes:
        corners = (box.left - width, box.top - width, box.right + width, box.bottom + width)
        pen.rectangle(corners, outline=_SURE, width=width)
        _write(pen, (box.left, max(box.top - round(1.6 * letter), 0)), says, letter, _SURE)
    return png(image)


def with_rings(pixels: Bytes, rings: Iterable[Ring]) -> bytes:
    """Return a PNG of a picture with a ring and a cross at every disc, and its words."""
    image, pen, letter = _page(pixels)
    for ring in rings:
        colour = _SURE if ring.sure else _DOUBTFUL
        # Pillow's (0, 0) is the centre of the top-left pixel for lines, as ours is
        far = ring.radius + 4
        pen.ellipse((ring.x - far, ring.y - far, ring.x + far, ring.y + far), outline=colour)
        pen.line((ring.x - 2, ring.y, ring.x + 2, ring.y), fill=_PAPER)
        pen.line((ring.x, ring.y - 2, ring.x, ring.y + 2), fill=_PAPER)
        _write(pen, (ring.x + far + 2, ring.y - letter / 2), ring.says, letter, colour)
    return png(image)


def _page(pixels: Bytes) -> tuple[Image.Image, ImageDraw.ImageDraw, int]:
    from PIL import Image, ImageDraw

    image = Image.new("RGB", (pixels.shape[1], pixels.shape[0]))
    for top in range(0, len(pixels), _STRIP):  # a whole copy at once would be held three times
        strip = on_white(pixels[top : top + _STRIP])
        image.paste(Image.fromarray(np.ascontiguousarray(strip[:, :, ::-1])), (0, top))
    return image, ImageDraw.Draw(image), max(11, round(max(image.size) * _LETTER))


def _write(
    pen: ImageDraw.ImageDraw,
    at: tuple[float, float],
    text: str,
    letter: int,
    colour: tuple[int, int, int],
) -> None:
    from PIL import ImageFont

    font = ImageFont.load_default(letter)
    pen.text(at, text, fill=colour, font=font, stroke_width=max(1, letter // 8), stroke_fill=_PAPER)

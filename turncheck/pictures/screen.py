"""Gets drawings ready for the report: measured at full size, shown at the screen's."""

from __future__ import annotations

import base64
from dataclasses import dataclass

import numpy as np

from turncheck.pictures.reading import Picture, decode_bytes, fingerprint, read_bytes

#: Longest side of an embedded drawing, px.
LONGEST_SIDE = 1600
WEBP_QUALITY = 82


@dataclass(frozen=True)
class ScreenPicture:
    """A drawing as the report embeds it.

    Attributes
    ----------
    uri
        A data URI (RFC 2397) of a WebP picture.
    width, height
        Size of the embedded picture, px.
    sha256
        Of the drawing's own file.
    """

    uri: str
    width: int
    height: int
    sha256: str


def for_screen(picture: Picture) -> ScreenPicture:
    """Decode a drawing once and return it at a size that serves the screen.

    Raises
    ------
    TurncheckError
        If the file is broken.
    """
    import cv2

    data = read_bytes(picture)
    pixels = decode_bytes(data, picture)
    longest = max(pixels.shape[:2])
    if longest > LONGEST_SIDE:
        factor = LONGEST_SIDE / longest
        size = (round(pixels.shape[1] * factor), round(pixels.shape[0] * factor))
        pixels = np.asarray(
            cv2.resize(pixels, (max(size[0], 1), max(size[1], 1)), interpolation=cv2.INTER_AREA),
            dtype=np.uint8,
        )
    _, encoded = cv2.imencode(".webp", pixels, [cv2.IMWRITE_WEBP_QUALITY, WEBP_QUALITY])
    text = base64.b64encode(encoded.tobytes()).decode("ascii")
    return ScreenPicture(
        uri=f"data:image/webp;base64,{text}",
        width=int(pixels.shape[1]),
        height=int(pixels.shape[0]),
        sha256=fingerprint(data),
    )

"""Gets drawings ready for the report: measured at full size, shown at the screen's."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

Bytes = npt.NDArray[np.uint8]

#: Longest side of an embedded drawing, px.
THUMBNAIL_SIDE_MOST = 1600
THUMBNAIL_QUALITY = 82
#: libwebp's effort, 0 to 6: twice as fast as its usual 4, and 2 to 6 % larger.
_WEBP_METHOD = 2


@dataclass(frozen=True)
class Thumbnail:
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


def shrunk(pixels: Bytes) -> Bytes:
    """Return a drawing at a size that serves the screen."""
    longest = max(pixels.shape[:2])
    if longest <= THUMBNAIL_SIDE_MOST:
        return pixels.copy()
    height, width = (
        max(round(side * THUMBNAIL_SIDE_MOST / longest), 1) for side in pixels.shape[:2]
    )
    return np.asarray(cv2.resize(pixels, (width, height), interpolation=cv2.INTER_AREA), np.uint8)


def encoded(pixels: Bytes, sha256: str) -> Thumbnail:
    """Return a shrunk drawing as the page embeds it; `sha256` is of the drawing's own file."""
    text = base64.b64encode(webp(pixels, THUMBNAIL_QUALITY)).decode("ascii")
    return Thumbnail(
        uri=f"data:image/webp;base64,{text}",
        width=int(pixels.shape[1]),
        height=int(pixels.shape[0]),
        sha256=sha256,
    )


def webp(pixels: Bytes, quality: int) -> bytes:
    """Return a picture, BGR or BGRA, as a WebP file."""
    from PIL import Image, WebPImagePlugin  # named, or saving looks through all that Pillow knows

    height, width, channels = pixels.shape
    mode, order = ("RGBA", "BGRA") if channels == 4 else ("RGB", "BGR")
    file = io.BytesIO()
    image = Image.frombytes(mode, (width, height), pixels.tobytes(), "raw", order)
    image.save(file, WebPImagePlugin.WebPImageFile.format, quality=quality, method=_WEBP_METHOD)
    return file.getvalue()

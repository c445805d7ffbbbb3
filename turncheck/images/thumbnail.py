"""Pictures as pages and folders hold them: at a size that serves the screen, and encoded."""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from turncheck.numerics.arrays import Bytes

if TYPE_CHECKING:
    from PIL.Image import Image


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


def shrunk(pixels: Bytes, most: int = THUMBNAIL_SIDE_MOST) -> Bytes:
    """Return a copy of a drawing of which no side is longer than `most` px."""
    longest = max(pixels.shape[:2])
    if longest <= most:
        return pixels.copy()
    height, width = (max(round(side * most / longest), 1) for side in pixels.shape[:2])
    return np.asarray(cv2.resize(pixels, (width, height), interpolation=cv2.INTER_AREA), np.uint8)


def encoded(pixels: Bytes, sha256: str) -> Thumbnail:
    """Return a shrunk drawing as the page embeds it; `sha256` is of the drawing's own file."""
    return Thumbnail(
        uri=data_uri("image/webp", webp(pixels, THUMBNAIL_QUALITY)),
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


def png(image: Image) -> bytes:
    """Return a picture as a PNG file."""
    file = io.BytesIO()
    image.save(file, "PNG")
    return file.getvalue()


def data_uri(kind: str, data: bytes) -> str:
    """Return a file of a media type as a data URI (RFC 2397)."""
    return f"data:{kind};base64,{base64.b64encode(data).decode('ascii')}"

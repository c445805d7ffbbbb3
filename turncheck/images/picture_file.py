"""Reads drawings' files: the header when the sheet is read, the pixels when they are needed."""

from __future__ import annotations

import io
import os
import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, TYPE_CHECKING

import numpy as np

from turncheck.errors import FileFaults, TurncheckError, did_you_mean, quoted
from turncheck.files.user_files import (
    fingerprint,
    is_file,
    is_folder,
    is_inside,
    is_special,
    why_missing,
)
from turncheck.numerics.arrays import Bytes, Floats

if TYPE_CHECKING:
    from PIL import Image

FORMATS = ("PNG", "JPEG", "MPO", "WEBP", "TIFF", "BMP")  # MPO: a JPEG that holds more than one
#: Largest drawing that is opened, in pixels (a sheet of A2 at 600 dpi has 139 million); below
#: the 179 million at which Pillow itself refuses; common practice, no source.
MOST_PIXELS = 150_000_000
_STRIP = 128  # rows
_BYTES_DECODED = 4  # of a pixel, as Pillow holds it
_PNG_DEPTH = 24  # the byte that holds it: PNG (ISO/IEC 15948) 11.2.2
_EXIF_ORIENTATION = 0x0112  # Exif 2.32 (CIPA DC-008), tag 274


@dataclass(frozen=True)
class Picture:
    """A drawing's file and its size as it is seen, that is with its EXIF orientation applied.

    Attributes
    ----------
    file
        The name in the sheet, relative to the sheet's folder.
    width, height
        Size in px.
    orientation
        EXIF orientation that the pixels still need, 1 to 8 (1: none).
    frames
        How many pictures the file holds, of which the first is read.
    """

    path: Path
    file: str
    width: int
    height: int
    orientation: int = 1
    frames: int = 1


def inspect_picture(folder: Path, file: str, place: str, faults: FileFaults) -> Picture | None:
    """Read the header of a drawing that a sheet names; note a fault where it can't be used.

    Parameters
    ----------
    folder
        The sheet's folder; a drawing that lies elsewhere is refused.
    place
        Where the sheet names the drawing, for the fault's sentence.
    """
    path = folder / file
    if not is_inside(path, folder):
        faults.add(place, f"{quoted(file)} leads outside the sheet's folder; copy it there")
        return None
    if is_special(path) or is_folder(path):
        faults.add(place, f"{quoted(file)}: {why_missing(path, 'drawing')}")
        return None
    if not is_file(path):
        there = _pictures_in(folder)
        mend = did_you_mean(file, there)
        if os.path.islink(path):
            mend = "it is a link to nothing; copy the drawing itself there"
        faults.add(place, f"{quoted(file)} is not there; {mend}")
        return None
    return read_header(path, file, place, faults)


def read_header(path: Path, file: str, place: str, faults: FileFaults) -> Picture | None:
    """Read the header of a drawing, wherever it lies; note a fault where it can't be used."""
    from PIL import Image

    name = quoted(file)
    try:
        with _opened(path) as header:
            width, height = header.size
            kind = header.format
            # not header.getexif(), which decodes a PNG that has no EXIF
            orientation = Image.Image.getexif(header).get(_EXIF_ORIENTATION, 1)
            frames = _frames(header)
            bytes_px = _BYTES_DECODED + _bytes_waiting(header)
    except Image.DecompressionBombError:
        faults.add(place, f"{name} is too large to open; {_SMALLER}")
        return None
    except Exception as error:  # a damaged file may raise anything in its decoder
        if isinstance(error, OSError) and error.strerror:
            faults.add(place, f"{name} can't be opened ({error.strerror}); see to that first")
        else:
            faults.add(place, f"{name} can't be read as a picture; save it again as PNG")
        return None
    if kind not in FORMATS:
        faults.add(place, f"{name} is {kind}; save it as PNG, JPEG, WebP, TIFF or BMP")
        return None
    if width * height > MOST_PIXELS:
        faults.add(place, f"{name} is {width} × {height} px, too large; {_SMALLER}")
        return None
    if width * height * bytes_px > MOST_PIXELS * 2 * _BYTES_DECODED:
        says = f"{name} is a progressive JPEG of {width} × {height} px, too large for that"
        faults.add(place, f"{says}; save it as PNG or as a JPEG that is not progressive")
        return None
    if kind == "TIFF" or orientation not in range(1, 9):  # Pillow turns a TIFF upright itself
        orientation = 1
    if orientation >= 5:
        width, height = height, width
    return Picture(path, file, width, height, orientation, frames)


def _bytes_waiting(header: Image.Image) -> int:
    """Return the bytes a pixel that a decoder keeps to itself until it has read the whole file.

    Of a progressive JPEG those are the coefficients of each channel (ITU-T T.81, annex G; 16 bit
    in libjpeg).
    """
    return 2 * len(header.getbands()) if header.info.get("progressive") else 0


def _frames(header: Image.Image) -> int:
    """Return how many pictures a file shows in turn or on its pages, as far as it can be read."""
    if header.format == "MPO":  # its further pictures are smaller copies and the like
        return 1
    try:
        return int(getattr(header, "n_frames", 1))
    except Exception:  # a damaged file may raise anything in its decoder
        return 1


_SMALLER = f"scale it to under {MOST_PIXELS // 1_000_000} million pixels"
_SUFFIXES = {".png", ".jpg", ".jpeg", ".webp", ".tif", ".tiff", ".bmp"}


def _pictures_in(folder: Path) -> list[str]:
    """Return the names of the pictures in a folder, none where it can't be looked through."""
    try:
        return sorted(path.name for path in folder.iterdir() if path.suffix.lower() in _SUFFIXES)
    except OSError:
        return []


@contextmanager
def _opened(source: Path | IO[bytes]) -> Iterator[Image.Image]:
    from PIL import Image

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a picture that can be used is used without remarks
        with Image.open(source) as image:
            yield image


def read_bytes(picture: Picture) -> bytes:
    """Return the contents of a drawing's file.

    Raises
    ------
    TurncheckError
        If the file has gone or may not be read.
    """
    try:
        return picture.path.read_bytes()
    except OSError as error:
        raise TurncheckError(
            f"{picture.path}: can't be opened ({error.strerror}); see to that first"
        ) from error


def decode(picture: Picture) -> Bytes:
    """Return a drawing's pixels as it is seen.

    Returns
    -------
    ndarray
        (height, width, 3) BGR, or (height, width, 4) BGRA where the file carries alpha; 8 bit.

    Raises
    ------
    TurncheckError
        If the file is broken.
    """
    return decode_marked(picture)[0]


def decode_marked(picture: Picture) -> tuple[Bytes, str]:
    """Return a drawing's pixels, as `decode` does, and the SHA-256 of the file they are from."""
    data = read_bytes(picture)
    sha256 = fingerprint(data)
    try:
        with io.BytesIO(data) as file, _opened(file) as image:
            stored = _direct(data, image)
            if stored is None:
                image.load()
                file.close()  # a plain TIFF is as large as its pixels
                del data
                stored = _eight_bit(image)
        del image  # a drawing that is turned is held twice
        pixels = _upright(stored, picture.orientation)
    except Exception as error:  # a damaged file may raise anything in its decoder
        raise TurncheckError(
            f"{picture.path}: the picture is broken; save it again as PNG"
        ) from error
    if pixels.shape[:2] != (picture.height, picture.width):
        raise TurncheckError(
            f"{picture.path}: the picture changed while it was read; run the check again"
        )
    return pixels, sha256


def _direct(data: bytes, image: Image.Image) -> Bytes | None:
    """Return the pixels as `_eight_bit` does, decoded in less time by OpenCV.

    None where Pillow has to see to them.
    """
    if image.mode not in ("RGB", "RGBA") or getattr(image, "is_animated", False):
        return None
    if image.format == "PNG" and data[_PNG_DEPTH] != 8:
        return None
    if image.format == "PNG" and not (image.mode == "RGB" and image.has_transparency_data):
        data = _bare_png(data)
    elif image.format != "WEBP":  # of a JPEG OpenCV tells the terminal what is odd about it
        return None
    import cv2

    flags = cv2.IMREAD_UNCHANGED | cv2.IMREAD_IGNORE_ORIENTATION
    pixels = cv2.imdecode(np.frombuffer(data, dtype=np.uint8), flags) if data else None
    shape = (image.height, image.width, len(image.mode))
    if pixels is None or pixels.dtype != np.uint8 or pixels.shape != shape:
        return None
    return np.asarray(pixels, dtype=np.uint8)


def _bare_png(data: bytes) -> bytes:
    """Return a PNG file without whatever OpenCV would remark on, b"" where it is broken.

    PNG (ISO/IEC 15948) 5.3: each chunk has its length, type, contents and CRC.
    """
    kept, at, kind = [data[:8]], 8, b""
    while kind != b"IEND":
        length, kind = int.from_bytes(data[at : at + 4]), data[at + 4 : at + 8]
        body, end = data[at + 4 : at + 8 + length], at + 12 + length
        if zlib.crc32(body) != int.from_bytes(data[end - 4 : end]) or end > len(data):
            return b""
        if kind in (b"IHDR", b"IDAT", b"IEND"):
            kept.append(data[at:end])
        at = end
    return b"".join(kept)


def _eight_bit(image: Image.Image) -> Bytes:
    """Return (height, width, 3 or 4) BGR or BGRA as the pixels are stored."""
    image.load()
    if image.mode.startswith(("I", "F")):  # one channel of 16 or 32 bit
        whites = (65535.0,) if image.mode.startswith("I") else (1.0, 255.0, 65535.0)
        peak = max(float(_values(strip).max()) for _, strip in _strips(image))
        white = next((white for white in whites if peak <= white), peak)
        grey = np.empty((image.height, image.width, 3), dtype=np.uint8)
        for top, strip in _strips(image):
            eight = np.clip(np.round(_values(strip) * (255.0 / white)), 0, 255)
            grey[top : top + _STRIP] = eight.astype(np.uint8)[:, :, None]
        return grey
    mode = "RGBA" if image.has_transparency_data else "RGB"
    order = "BGRA" if mode == "RGBA" else "BGR"
    width, height = image.size
    pixels = np.empty((height, width, len(mode)), dtype=np.uint8)
    for top, strip in _strips(image):
        strip = strip if strip.mode == mode else strip.convert(mode)
        data = np.frombuffer(strip.tobytes("raw", order), dtype=np.uint8)
        pixels[top : top + _STRIP] = data.reshape(-1, width, len(mode))
    return pixels


def _strips(image: Image.Image) -> Iterator[tuple[int, Image.Image]]:
    """Yield a picture's strips with their first row; a whole copy would be held three times."""
    width, height = image.size
    for top in range(0, height, _STRIP):
        yield top, image.crop((0, top, width, min(top + _STRIP, height)))


def _values(strip: Image.Image) -> Floats:
    return np.nan_to_num(np.asarray(strip, dtype=np.float64))


def _upright(pixels: Bytes, orientation: int) -> Bytes:
    if orientation >= 5:
        pixels = pixels.swapaxes(0, 1)
    if orientation in (3, 4, 7, 8):
        pixels = pixels[::-1]
    if orientation in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    return np.ascontiguousarray(pixels)

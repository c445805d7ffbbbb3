"""Reads drawings: the header when the sheet is read, the pixels only when they are needed."""

from __future__ import annotations

import hashlib
import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from turncheck.errors import FileFaults, TurncheckError, did_you_mean

FORMATS = ("PNG", "JPEG", "WEBP", "TIFF", "BMP")
#: Largest drawing that is opened, in pixels (a sheet of A2 at 600 dpi has 139 million);
#: common practice, no source.
MOST_PIXELS = 200_000_000
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
        EXIF orientation, 1 to 8 (1: as stored).
    """

    path: Path
    file: str
    width: int
    height: int
    orientation: int = 1


def inspect_picture(folder: Path, file: str, place: str, faults: FileFaults) -> Picture | None:
    """Read a drawing's header; note a fault where it can't be used.

    Parameters
    ----------
    folder
        The sheet's folder; a drawing that lies elsewhere is refused.
    place
        Where the sheet names the drawing, for the fault's sentence.
    """
    from PIL import Image, UnidentifiedImageError

    path = folder / file
    resolved = path.resolve()
    if not resolved.is_relative_to(folder.resolve()):
        faults.add(place, f'image "{file}" leads outside the sheet\'s folder; copy it there')
        return None
    if not path.is_file():
        there = sorted(p.name for p in folder.iterdir() if p.suffix.lower() in _SUFFIXES)
        faults.add(place, f'image "{file}" is not there; {did_you_mean(file, there)}')
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(path) as header:
                width, height = header.size
                orientation = int(header.getexif().get(_EXIF_ORIENTATION, 1))
                kind = header.format
    except Image.DecompressionBombError:
        faults.add(place, f'image "{file}" is too large to open; {_SMALLER}')
        return None
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError):
        faults.add(place, f'image "{file}" can\'t be read as a picture; save it again as PNG')
        return None
    if kind not in FORMATS:
        faults.add(place, f'image "{file}" is {kind}; save it as PNG, JPEG, WebP, TIFF or BMP')
        return None
    if width * height > MOST_PIXELS:
        faults.add(place, f'image "{file}" is {width} × {height} px, too large; {_SMALLER}')
        return None
    if orientation not in range(1, 9):
        orientation = 1
    if orientation >= 5:
        width, height = height, width
    return Picture(path, file, width, height, orientation)


_SMALLER = f"scale it to under {MOST_PIXELS // 1_000_000} million pixels"
_SUFFIXES = {".png", ".jpg", ".jpeg", ".webp", ".tif", ".tiff", ".bmp"}


def decode(picture: Picture) -> npt.NDArray[np.uint8]:
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
    return decode_bytes(picture.path.read_bytes(), picture)


def decode_bytes(data: bytes, picture: Picture) -> npt.NDArray[np.uint8]:
    """Return the pixels of a drawing's file contents, as `decode` does."""
    import cv2

    try:
        raw = cv2.imdecode(
            np.frombuffer(data, dtype=np.uint8),
            cv2.IMREAD_UNCHANGED | cv2.IMREAD_IGNORE_ORIENTATION,
        )
    except cv2.error:
        raw = None
    if raw is None or raw.size == 0:
        raise TurncheckError(f"{picture.path}: the picture is broken; save it again as PNG")
    pixels = _upright(_colour(_eight_bit(np.asarray(raw))), picture.orientation)
    if pixels.shape[:2] != (picture.height, picture.width):
        raise TurncheckError(
            f"{picture.path}: the picture's size is not what its header says; save it again as PNG"
        )
    return pixels


def fingerprint(data: bytes) -> str:
    """Return the SHA-256 (FIPS 180-4) of a file's contents, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def _eight_bit(raw: npt.NDArray[np.generic]) -> npt.NDArray[np.uint8]:
    if raw.dtype == np.uint8:
        return raw.astype(np.uint8, copy=False)
    if raw.dtype == np.uint16:
        return (raw.astype(np.uint16, copy=False) >> 8).astype(np.uint8)
    values = np.nan_to_num(raw.astype(np.float64))
    top = float(values.max()) or 1.0
    scaled: npt.NDArray[np.uint8] = np.clip(values * (255.0 / max(top, 1.0)), 0, 255).astype(
        np.uint8
    )
    return scaled


def _colour(raw: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    if raw.ndim == 2:
        return np.repeat(raw[:, :, None], 3, axis=2)
    if raw.shape[2] == 1:
        return np.repeat(raw, 3, axis=2)
    if raw.shape[2] == 2:
        return np.concatenate([np.repeat(raw[:, :, :1], 3, axis=2), raw[:, :, 1:]], axis=2)
    return raw[:, :, :4]


def _upright(pixels: npt.NDArray[np.uint8], orientation: int) -> npt.NDArray[np.uint8]:
    if orientation >= 5:
        pixels = pixels.swapaxes(0, 1)
    if orientation in (3, 4, 7, 8):
        pixels = pixels[::-1]
    if orientation in (2, 3, 6, 7):
        pixels = pixels[:, ::-1]
    return np.ascontiguousarray(pixels)

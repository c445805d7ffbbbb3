"""Describes every drawing of a sheet: decodes it once, reads off its features, and shrinks it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from threading import Lock
from typing import Protocol

from turncheck.images.features import ImageFeatures, features_of, sample_pixels
from turncheck.images.figure_mask import mask_from
from turncheck.images.picture_file import (
    Picture,
    decode,
    decode_bytes,
    fingerprint,
    read_bytes,
)
from turncheck.images.thumbnail import Thumbnail, encoded, shrunk

#: Called with a drawing's name, its number and how many there are.
Progress = Callable[[str, int, int], None]
#: Two drawings are held decoded at the same time where neither has more pixels than so many: what
#: the second takes besides, 4 bytes a pixel, is little against the libraries themselves.
_MOST_PIXELS_OF_TWO = 16_000_000


class Pictured(Protocol):
    """What has a picture, and a mask of its figure where a user painted one."""

    @property
    def picture(self) -> Picture:
        """The drawing."""

    @property
    def figure(self) -> Picture | None:
        """The mask that overrides the figure found in it."""


@dataclass(frozen=True)
class Described:
    """What was seen in the drawings, by view."""

    features: Mapping[str, ImageFeatures]
    thumbnails: Mapping[str, Thumbnail]


def describe_drawings(
    views: Mapping[str, Pictured],
    progress: Progress | None = None,
    meanwhile: Callable[[], object] = lambda: None,
) -> Described:
    """Describe the drawings, two at a time where they are not very large.

    Parameters
    ----------
    views
        By name.
    progress
        Called before each drawing is waited for.
    meanwhile
        Called once, while the first drawings are decoded.

    Raises
    ------
    TurncheckError
        If a drawing or its mask is broken.
    """
    largest = max(view.picture.width * view.picture.height for view in views.values())
    decoding = Lock()
    workers = ThreadPoolExecutor(2 if largest <= _MOST_PIXELS_OF_TWO else 1)
    try:
        started = {name: workers.submit(_describe, view, decoding) for name, view in views.items()}
        meanwhile()
        described: dict[str, tuple[ImageFeatures, Thumbnail]] = {}
        for number, (name, job) in enumerate(started.items(), start=1):
            if progress is not None:
                progress(views[name].picture.file, number, len(views))
            described[name] = job.result()
    finally:
        workers.shutdown(cancel_futures=True)
    return Described(
        features={name: features for name, (features, _) in described.items()},
        thumbnails={name: thumbnail for name, (_, thumbnail) in described.items()},
    )


def _describe(view: Pictured, decoding: Lock) -> tuple[ImageFeatures, Thumbnail]:
    """Describe one drawing; what is taken from its pixels outlives them, so that they may go."""
    data = read_bytes(view.picture)
    sha256 = fingerprint(data)
    with decoding:  # the libraries hold two copies while they decode
        pixels = decode_bytes(data, view.picture)
    mask = None
    if view.figure is not None:
        mask = mask_from(decode(view.figure), pixels.shape[:2], str(view.figure.path))
    small, samples = shrunk(pixels), sample_pixels(pixels, mask)
    del data, pixels, mask
    return features_of(samples), encoded(small, sha256)

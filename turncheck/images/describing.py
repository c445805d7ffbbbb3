"""Describes every drawing of a sheet: decodes it once, reads off its features, and shrinks it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from threading import Lock
from typing import Protocol

import cv2

from turncheck.images.features import ImageFeatures, Samples, features_of, sample_pixels
from turncheck.images.figure_mask import mask_from
from turncheck.images.picture_file import (
    Picture,
    decode,
    decode_marked,
)
from turncheck.images.thumbnail import Thumbnail, encoded, shrunk
from turncheck.numerics.arrays import Bytes

#: Called with a drawing's name, its number and how many there are.
Progress = Callable[[str, int, int], None]


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
) -> Described:
    """Describe the drawings, two at a time.

    Only one is held decoded at a time: what its features and the page need is taken from it, and
    the next is decoded while another thread works on that.

    Parameters
    ----------
    views
        By name.
    progress
        Called before each drawing is waited for.

    Raises
    ------
    TurncheckError
        If a drawing or its mask is broken.
    """
    decoded = Lock()
    workers = ThreadPoolExecutor(min(cv2.getNumThreads(), 2))  # one where OpenCV is to have one
    try:
        started = {name: workers.submit(_described, view, decoded) for name, view in views.items()}
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


def _described(view: Pictured, decoded: Lock) -> tuple[ImageFeatures, Thumbnail]:
    with decoded:
        samples, small, sha256 = _sampled(view)
    return features_of(samples), encoded(small, sha256)


def _sampled(view: Pictured) -> tuple[Samples, Bytes, str]:
    """Return what is needed of a drawing's pixels, small ones for the page, and its SHA-256."""
    pixels, sha256 = decode_marked(view.picture)
    mask = None
    if view.figure is not None:
        mask = mask_from(decode(view.figure), pixels.shape[:2], str(view.figure.path))
    return sample_pixels(pixels, mask), shrunk(pixels), sha256

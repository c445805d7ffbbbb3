"""Describes every drawing of a sheet once: decodes it, reads off its features, and shrinks it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Protocol, TypeVar

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

T = TypeVar("T")
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
    meanwhile: Callable[[], object] = lambda: None,
) -> Described:
    """Describe the drawings one after the other.

    Only one is held decoded at a time: what its features and the page need is taken from it, and
    the next is decoded while another thread works on that.

    Parameters
    ----------
    views
        By name.
    progress
        Called before each drawing is decoded.
    meanwhile
        Called once, in another thread, while the first drawing is decoded.

    Raises
    ------
    TurncheckError
        If a drawing or its mask is broken.
    """
    seen: dict[str, Future[ImageFeatures]] = {}
    shown: dict[str, Future[Thumbnail]] = {}
    with ThreadPoolExecutor(1) as beside:
        done = beside.submit(meanwhile)
        for number, (name, view) in enumerate(views.items(), start=1):
            if progress is not None:
                progress(view.picture.file, number, len(views))
            data = read_bytes(view.picture)
            pixels = decode_bytes(data, view.picture)
            shown[name] = beside.submit(encoded, shrunk(pixels), fingerprint(data))
            mask = None
            if view.figure is not None:
                mask = mask_from(decode(view.figure), pixels.shape[:2], str(view.figure.path))
            seen[name] = beside.submit(features_of, sample_pixels(pixels, mask))
            del data, pixels
        done.result()
    return Described(_results(seen), _results(shown))


def _results(futures: Mapping[str, Future[T]]) -> dict[str, T]:
    return {name: future.result() for name, future in futures.items()}

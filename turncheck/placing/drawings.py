"""Decodes each drawing once: a picture for the page, and the figure's shape for the proposals."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cached_property

import cv2
import numpy as np

from turncheck.errors import TurncheckError
from turncheck.images.figure_mask import figure_mask, mask_from
from turncheck.images.picture_file import decode
from turncheck.images.thumbnail import shrunk, webp
from turncheck.numerics.arrays import Bools, Bytes
from turncheck.placing.silhouette import Spot, legs_between, silhouette_spots
from turncheck.sheet.model import Sheet, View

#: Longest side of a drawing as the page gets it, px: four times what a common screen shows of it.
LONGEST_SIDE = 2400
WEBP_QUALITY = 90
#: A figure that fills more of its canvas than this is no figure but an opaque ground;
#: common practice, no source.
MOST_FILLED = 0.9


@dataclass(frozen=True)
class Drawing:
    """A decoded drawing, at most `LONGEST_SIDE` px long.

    Attributes
    ----------
    pixels
        (h, w, 3 or 4) BGR or BGRA.
    scale
        px of `pixels` per px of the drawing's own.
    painted
        (h, w) the figure as somebody painted it, where the sheet names a mask.
    """

    pixels: Bytes
    scale: float
    painted: Bools | None = None
    _spots: dict[tuple[bool, bool], dict[str, Spot]] = field(default_factory=dict)

    @cached_property
    def webp(self) -> bytes:
        """The drawing as a WebP picture."""
        return webp(self.pixels, WEBP_QUALITY)

    @cached_property
    def figure(self) -> Bools | None:
        """(h, w) where the figure is, or None where it can't be told from the ground."""
        mask = figure_mask(self.pixels).pixels if self.painted is None else self.painted
        if not mask.any() or mask.mean() > MOST_FILLED:
            return None
        return mask

    @cached_property
    def box(self) -> tuple[float, float, float, float] | None:
        """Left, top, right and bottom edge of the figure in the drawing's own px."""
        if self.figure is None:
            return None
        rows, columns = np.flatnonzero(self.figure.any(1)), np.flatnonzero(self.figure.any(0))
        edges = (columns[0], rows[0], columns[-1] + 1, rows[-1] + 1)
        left, top, right, bottom = (float(edge / self.scale - 0.5) for edge in edges)
        return left, top, right, bottom

    @cached_property
    def legs(self) -> tuple[float, float] | None:
        """The edges between which the legs stand in the drawing's own px, see `legs_between`."""
        if self.figure is None:
            return None
        left, right = legs_between(self.figure)
        return self.to_own(left), self.to_own(right)

    def spots(self, straight: bool, upright: bool) -> dict[str, Spot]:
        """Return what the shape alone tells, as `silhouette_spots` does; px of `pixels`."""
        if (straight, upright) not in self._spots:
            found = {} if self.figure is None else silhouette_spots(self.figure, straight, upright)
            self._spots[straight, upright] = found
        return self._spots[straight, upright]

    def to_own(self, at: float) -> float:
        """Return a position in `pixels` as px of the drawing, centres of pixels being whole."""
        return (at + 0.5) / self.scale - 0.5

    def to_shown(self, at: float) -> float:
        """Return a position in the drawing as px of `pixels`."""
        return (at + 0.5) * self.scale - 0.5


class Drawings:
    """The decoded drawings of a sheet, each made when it is first asked for."""

    def __init__(self, sheet: Sheet) -> None:
        self._views = sheet.views
        self._done: dict[str, Drawing] = {}
        self._lock = threading.Lock()
        self._ended = threading.Event()
        self._preparing = threading.Thread(target=self._make, daemon=True)

    def prepare(self) -> None:
        """Start to make them all, so that the page need not wait for them."""
        self._preparing.start()

    def end(self) -> None:
        """Make no more, and wait for the one that is under way.

        A thread that is cut off in the middle of one takes the process down with it.
        """
        self._ended.set()
        if self._preparing.is_alive():
            self._preparing.join()

    def _make(self) -> None:
        for view in self._views:
            if self._ended.is_set():
                return
            with suppress(TurncheckError):  # said when the page asks for it
                _ = self[view].webp

    def __iter__(self) -> Iterator[str]:
        return iter(self._views)

    def __getitem__(self, view: str) -> Drawing:
        with self._lock:
            if view not in self._done:
                self._done[view] = _decoded(self._views[view])
            return self._done[view]


def _decoded(view: View) -> Drawing:
    pixels = shrunk(decode(view.picture), LONGEST_SIDE)
    size = (view.picture.height, view.picture.width)
    scale = min(1.0, LONGEST_SIDE / max(size))
    if view.figure is None:
        return Drawing(pixels, scale)
    painted = mask_from(decode(view.figure), size, str(view.figure.path)).pixels.astype(np.uint8)
    fitted = cv2.resize(painted, pixels.shape[1::-1], interpolation=cv2.INTER_NEAREST)
    return Drawing(pixels, scale, np.asarray(fitted, dtype=bool))

"""Looks at every drawing of a sheet once: decodes it, reads it off, and shrinks it for the page."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from turncheck.pictures.figure import mask_from
from turncheck.pictures.reading import decode, decode_bytes, fingerprint, read_bytes
from turncheck.pictures.screen import ScreenPicture, encoded, shrunk
from turncheck.pictures.study import DrawingStudy, study_drawing
from turncheck.sheet import View

#: Called with a drawing's name, its number and how many there are.
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Looks:
    """What was seen in the drawings, by view."""

    studies: Mapping[str, DrawingStudy]
    screens: Mapping[str, ScreenPicture]


def look_at(views: Mapping[str, View], progress: Progress | None = None) -> Looks:
    """Look at the drawings one after the other; only one is decoded at a time.

    Raises
    ------
    TurncheckError
        If a drawing or its mask is broken.
    """
    studies: dict[str, DrawingStudy] = {}
    shown: dict[str, Future[ScreenPicture]] = {}
    with ThreadPoolExecutor(1) as beside:  # a small picture is encoded while the next is decoded
        for number, (name, view) in enumerate(views.items(), start=1):
            if progress is not None:
                progress(view.picture.file, number, len(views))
            data = read_bytes(view.picture)
            pixels = decode_bytes(data, view.picture)
            shown[name] = beside.submit(encoded, shrunk(pixels), fingerprint(data))
            mask = None
            if view.figure is not None:
                mask = mask_from(decode(view.figure), pixels.shape[:2], str(view.figure.path))
            studies[name] = study_drawing(pixels, mask)
            del data, pixels
    return Looks(studies, {name: screen.result() for name, screen in shown.items()})

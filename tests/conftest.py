"""What the tests of all rooms share: drawings that are looked at once."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence

# small matrices gain nothing by more threads, and two workers would wait for each other's
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import pytest

from turncheck import checking
from turncheck.files.user_files import fingerprint
from turncheck.images.describing import Described, Pictured, Progress, describe_drawings
from turncheck.images.dots import Dot, find_dots
from turncheck.images.features import ImageFeatures
from turncheck.images.picture_file import Picture, read_bytes
from turncheck.images.thumbnail import Thumbnail
from turncheck.numerics.arrays import Bytes
from turncheck.placing import drawings
from turncheck.sheet.model import View

#: What was seen in drawings, by the bytes of drawing and mask.
_SEEN: dict[tuple[str, str], tuple[ImageFeatures, Thumbnail]] = {}


def _content(picture: Picture | None) -> str:
    return "" if picture is None else fingerprint(read_bytes(picture))


def described_once(views: Mapping[str, Pictured], progress: Progress | None = None) -> Described:
    """Describe drawings as `describe_drawings` does, the same bytes never twice."""
    features: dict[str, ImageFeatures] = {}
    thumbnails: dict[str, Thumbnail] = {}
    for number, (name, view) in enumerate(views.items(), start=1):
        if progress is not None:
            progress(view.picture.file, number, len(views))
        key = _content(view.picture), _content(view.figure)
        if key not in _SEEN:
            new = describe_drawings({name: view})
            _SEEN[key] = new.features[name], new.thumbnails[name]
        features[name], thumbnails[name] = _SEEN[key]
    return Described(features, thumbnails)


#: Drawings decoded for the page for placing, by the bytes of drawing and mask.
_DECODED: dict[tuple[str, str], drawings.Drawing] = {}
_decoded = drawings._decoded


def _decoded_once(view: View) -> drawings.Drawing:
    key = _content(view.picture), _content(view.figure)
    if key not in _DECODED:
        _DECODED[key] = _decoded(view)
    return _DECODED[key]


@pytest.fixture(scope="session", autouse=True)
def looked_at_once() -> Iterator[None]:
    """Let `turncheck.check`, and the page for placing, look at the same drawing once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(checking, "describe_drawings", described_once)
        patch.setattr(drawings, "_decoded", _decoded_once)
        yield


#: The dots found in drawings, by their pixels and the colours that were looked for.
_DOTS: dict[tuple[str, tuple[tuple[float, float, float], ...]], list[Dot]] = {}


def _found_once(pixels: Bytes, colours: Sequence[tuple[float, float, float]]) -> list[Dot]:
    key = fingerprint(repr(pixels.shape).encode() + pixels.tobytes()), tuple(colours)
    if key not in _DOTS:
        _DOTS[key] = find_dots(pixels, colours)
    return list(_DOTS[key])


@pytest.fixture
def dots_found_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let `turncheck dots` look for the same dots in the same drawing once."""
    monkeypatch.setattr("turncheck.placing.dots.find_dots", _found_once)

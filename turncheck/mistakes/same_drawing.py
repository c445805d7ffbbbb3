"""One drawing that is given for two views."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from turncheck.mistakes.slip import Slip, named
from turncheck.plain import capital


def find_same_drawing(sha256: Mapping[str, str]) -> Iterator[Slip]:
    """Yield the views whose files are byte for byte the same; `sha256` is by view."""
    views: dict[str, list[str]] = {}
    for view, digest in sha256.items():
        views.setdefault(digest, []).append(view)
    for same in views.values():
        if len(same) > 1:
            yield Slip(
                "same_drawing",
                f"{capital(named(same))} are one and the same drawing; put each view's own there",
                tuple(same),
            )

"""What is given wrongly: one drawing for two views, px where % are meant."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from turncheck.geometry.measurement import Measurement
from turncheck.mistakes.slip import Slip, named
from turncheck.plain import capital

#: No hand places this badly, % of the figure height: on a figure of 1000 px, 20 px off. Common
#: practice, no source.
MEANT_MOST = 2.0


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


def find_placing_sd_in_px(measured: Measurement) -> Iterator[Slip]:
    """Yield that the sheet's `placing_sd` looks like px."""
    stated, height = measured.sheet.placing_sd, measured.figure_height
    if stated >= MEANT_MOST:
        yield Slip(
            "placing_sd",
            f"placing_sd = {stated:g} says that each point may be off by {stated:g} % of the "
            f"figure's height, {stated / 100.0 * height:.0f} px, and next to nothing can be told "
            f"so; if {stated:g} px are meant, set placing_sd = {100.0 * stated / height:.2g}",
            (),
        )

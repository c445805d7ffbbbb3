"""All likely mistakes, in the order in which they are told."""

from __future__ import annotations

from collections.abc import Mapping

from turncheck.geometry.measurement import Measurement
from turncheck.mistakes.exchanged_drawings import find_exchanged_drawings
from turncheck.mistakes.exchanged_points import find_exchanged_points
from turncheck.mistakes.given import find_placing_sd_in_px, find_same_drawing
from turncheck.mistakes.parted import find_another_export, find_parted_drawings
from turncheck.mistakes.sides import find_sides
from turncheck.mistakes.slip import Slip

#: In the order in which they are told.
OF_A_MEASUREMENT = (
    find_another_export,
    find_parted_drawings,
    find_exchanged_drawings,
    find_sides,
    find_exchanged_points,
    find_placing_sd_in_px,
)


def find_slips(measured: Measurement, sha256: Mapping[str, str]) -> tuple[Slip, ...]:
    """Return the likely mistakes of a sheet; `sha256` is of its drawings' files, by view."""
    drawn = [view for view, one in zip(measured.views, measured.features, strict=True) if one.area]
    return (
        *find_same_drawing({view: sha256[view] for view in drawn if view in sha256}),
        *(slip for find in OF_A_MEASUREMENT for slip in find(measured)),
    )

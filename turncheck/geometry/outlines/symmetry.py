"""Where the body may be taken as mirror symmetric: tested on the front and back drawings."""

from math import ceil

import numpy as np

from turncheck.geometry.outlines.extents import Extents
from turncheck.geometry.outlines.slack import Slack
from turncheck.numerics.arrays import Bools, Floats, running

#: Degrees from the front or the back within which a drawing shows whether the body is symmetric.
#: Common practice, no source: 1 to 15 do the same in the measurement in tests/figures/outlines.md.
YAW_FACING = 5.0

#: Share of the rows that may be no mirror image of themselves before symmetry is dropped everywhere
#: (chosen by the measurement in tests/figures/outlines.md: more calls a turned waist off model).
LOPSIDED_SHARE = 0.05

#: Share of the figure height around such rows where symmetry is not used either. Common practice,
#: no source: 0 to 0.05 do nearly the same in the measurement in tests/figures/outlines.md.
LOPSIDED_MARGIN = 0.02


def symmetric_rows(
    plain: Slack,
    mirrored: Slack,
    yaw: Floats,
    extents: Extents,
    tolerance: float,
    figure_height: float,
) -> tuple[Bools, str]:
    """Return where the body may be taken as symmetric, and a word where it may not.

    Parameters
    ----------
    plain, mirrored
        Without and with each drawing's mirror image.
    yaw, tolerance
        (V,) degrees, and the px below 0 that still hold.

    Returns
    -------
    rows, note
        (R,) bool, and a sentence that is empty where symmetry holds all along.
    """
    count = len(extents.heights)
    nowhere = np.zeros(count, bool)
    each, shown = [nowhere], [nowhere]
    for v in facing_views(yaw):
        itself = (mirrored.system.same >= 0) & (mirrored.system.side[:, :2] // 2 == v).all(axis=1)
        own = mirrored.px[itself]
        shown.append(np.isfinite(own).all(axis=0))
        each.append((own < -tolerance).any(axis=0))
    tested, lopsided = np.any(shown, axis=0), np.any(each, axis=0)
    # one that is lopsided alone, and unlike its opposite, is in error: the body is not lopsided
    unlike = (plain.px[plain.system.opposite] < -tolerance).any(axis=0)
    lopsided &= ~unlike | (np.sum(each, axis=0) == np.sum(shown, axis=0))
    if not tested.any():
        return nowhere, "no front or back drawing shows whether the body is symmetric"
    share = float(lopsided.sum() / tested.sum())
    if share > LOPSIDED_SHARE:
        return nowhere, (
            f"front and back are not their own mirror images along {share:.0%} of the figure, "
            "so the body is not taken as symmetric"
        )
    step = float(np.diff(extents.heights[:2]).sum()) or 1.0
    margin = ceil(LOPSIDED_MARGIN * figure_height / step)
    around = running(np.logical_or, np.pad(lopsided, margin), 2 * margin + 1)
    bilateral = tested & ~around
    fails = (mirrored.px < -tolerance).any(axis=0) & bilateral
    alone = fails & ~(plain.px < -tolerance).any(axis=0)
    if alone.sum() > LOPSIDED_SHARE * count:
        return nowhere, (
            f"read as symmetric the drawings contradict each other along "
            f"{alone.sum() / count:.0%} of the figure, and else they do not, so the body is not "
            "taken as symmetric"
        )
    note = ""
    if lopsided.any():
        low, high = 100.0 * extents.heights[lopsided][[0, -1]] / figure_height
        note = (
            f"between {np.floor(low):.0f} % and {np.ceil(high):.0f} % of the height front and "
            "back are not their own "
            "mirror images in places; there the body is not taken as symmetric"
        )
    return bilateral, note


def facing_views(yaw: Floats) -> list[int]:
    """Return the drawings from the front or the back."""
    aside = np.abs(np.sin(np.radians(yaw)))
    return [int(v) for v in np.flatnonzero(aside <= np.sin(np.radians(YAW_FACING)))]

"""Plain figures with landmarks at stated heights, for published proportions."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from tests.outside.solid import Body

#: Landmarks that turncheck has in pairs.
PAIRED = ("eye", "brow", "shoulder", "elbow", "wrist", "fingertip", "hip", "knee", "ankle")
#: Half-widths / stature: shoulders .259 and hips .191 across (Drillis and Contini 1966, as in
#: Winter 2009, fig. 4.1); limbs hang straight down, so that each is as long as it is high.
HALF_WIDTHS = {"eye": 0.02, "hip": 0.0955, "knee": 0.0955, "ankle": 0.0955}
ARM = 0.1295


def figure(heights: Mapping[str, float], name: str = "figure") -> Body:
    """Return a block of a figure, 1 tall, with landmarks at these fractions of its stature.

    Parameters
    ----------
    heights
        Landmark to fraction; a name that turncheck has in pairs is given without `_l` or `_r`.
    """
    x, z = 0.15, 0.02  # so thin that nothing is hidden from front and back
    ring = [(x, z), (-x, z), (-x, -z), (x, -z)]
    corners = np.array([(a, level, b) for level in (0.0, 1.0) for a, b in ring])
    sides = [(0, 1, 2, 3), (7, 6, 5, 4), (1, 0, 4, 5), (2, 1, 5, 6), (3, 2, 6, 7), (0, 3, 7, 4)]
    faces = np.array([t for a, b, c, d in sides for t in ((a, b, c), (a, c, d))])
    joints = {"ground": np.zeros(3), "crown": np.array([0.0, 1.0, 0.0])}
    for landmark, height in heights.items():
        if landmark in PAIRED:
            out = HALF_WIDTHS.get(landmark, ARM)
            joints |= {f"{landmark}_l": np.array([out, height, 0.0])}
            joints |= {f"{landmark}_r": np.array([-out, height, 0.0])}
        else:
            joints[landmark] = np.array([0.0, height, 0.0])
    return Body(name, corners, faces, joints)

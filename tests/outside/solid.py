"""A solid figure with known landmarks, and how to find landmarks on its skin.

Frame: X to the character's left, Y up from the ground, Z to the front; unit as in the source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

Points = Mapping[str, np.ndarray]


@dataclass(frozen=True, eq=False)
class Body:
    """A solid figure with known landmarks.

    Attributes
    ----------
    vertices
        (N, 3) skin, in the body frame, the lowest one at Y = 0.
    faces
        (F, 3) corner indices, anticlockwise seen from outside.
    joints
        Landmark to its true position (3,): pivots inside the body, the others on the skin.
    vocabulary
        turncheck's vocabulary that the landmark names come from.
    """

    name: str
    vertices: np.ndarray
    faces: np.ndarray
    joints: Points
    vocabulary: str = "biped"

    @property
    def height(self) -> float:
        """Ground to crown."""
        return float(self.joints["crown"][1])


def extreme(skin: np.ndarray, direction: tuple[float, ...], among: np.ndarray) -> np.ndarray:
    """Return the vertex farthest along a direction, of those that a mask admits."""
    admitted = skin[among]
    return admitted[np.argmax(admitted @ np.array(direction, dtype=float))]


def midline(skin: np.ndarray) -> np.ndarray:
    return np.abs(skin[:, 0]) < 1e-5 * skin[:, 1].max()

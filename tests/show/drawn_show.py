"""A show of small, quickly drawn characters: a head, a trunk, arms and legs of plain shapes.

Four measures vary from one to the next; where its points lie follows from them. No source.
"""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np

VIEWS = {"front": 0, "side": 90, "back": 180}
TALL = 240


def write_character(
    folder: Path,
    seed: int,
    *,
    name: str = "",
    revision: str = "A",
    marked: bool = True,
    views: dict[str, int] = VIEWS,
    noise: float = 0.3,
) -> dict[tuple[str, str], tuple[float, float]]:
    """Write one sheet, its points placed by a hand with that noise in px; return the truth."""
    rng = np.random.default_rng(seed)
    head, leg, wide, deep = rng.uniform((36, 90, 16, 10), (70, 120, 34, 24))
    hand = np.random.default_rng((seed, ord(revision[0])))
    folder.mkdir(parents=True, exist_ok=True)
    true, toml = {}, [f'character = "{name or f"c{seed}"}"', f'revision = "{revision}"']
    toml.append(f'reference = "{next(iter(views))}"')
    for view, yaw in views.items():
        across = wide if yaw % 180 == 0 else deep
        picture = np.zeros((TALL + 40, 160, 4), np.uint8)
        c, g = 80.0 + seed % 5, TALL + 20.0
        top = g - TALL
        chin, hip = top + head, g - leg
        colour = (90, 140, 190, 255)
        middle = c, (top + chin) / 2
        size = (0.7 * head, head)
        cv2.ellipse(picture, (middle, size, 0.0), colour, -1, cv2.LINE_AA)
        for left, low, right, high in (
            (c - across, chin + 6, c + across, hip + 8),
            (c - 6, chin - 4, c + 6, chin + 10),
            (c - across, hip, c - 0.3 * across, g),
            (c + 0.3 * across, hip, c + across, g),
        ):
            corners = np.array([[left, low], [right, low], [right, high], [left, high]]) * 16
            cv2.fillConvexPoly(picture, corners.round().astype(int), colour, cv2.LINE_AA, 4)
        assert cv2.imwrite(str(folder / f"{view}.png"), picture)
        toml.append(f'[views.{view}]\nimage = "{view}.png"\nyaw = {yaw}')
        turn = np.radians(yaw)
        for landmark, (x, up, z) in {
            "ground": (0.0, g, 0.0),
            "crown": (0.0, top, 0.0),
            "chin": (0.0, chin, 0.3 * head),
            "head": (0.0, chin - 0.2 * head, -0.1 * head),
            "spine": (0.0, (chin + hip) / 2, -0.2 * deep),
            "shoulder_l": (wide - 4, chin + 12, 0.0),
            "shoulder_r": (4 - wide, chin + 12, 0.0),
            "hip_l": (0.65 * wide, hip, 0.1 * deep),
            "hip_r": (-0.65 * wide, hip, 0.1 * deep),
        }.items():
            true[view, landmark] = c + x * np.cos(turn) + z * np.sin(turn), up
    if marked:
        rows = [f"{v},{n},{hand.normal(x, noise):.2f},{hand.normal(y, noise):.2f},visible"
                for (v, n), (x, y) in true.items()]  # fmt: skip
        text = "\n".join(["view,landmark,x,y,visibility", *rows, ""])
        (folder / "landmarks.csv").write_text(text, "utf-8")
    (folder / "sheet.toml").write_text("\n".join(toml) + "\n", "utf-8")
    return true

"""Shows of many characters: bodies of one family in one stance, dressed, drawn and placed by hand.

The bodies are the open humans (tests/outside/bodies.py) mixed over sex, age, origin, muscle and
weight, their legs, trunk, girth and head stretched as cartoons are. How they are dressed differs
from show to show. The proportions and the clothes are invented, no source; a seed varies them.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import cv2
import numpy as np

from tests.outside.bodies import ORIGINS, Warp, human, offsets
from tests.outside.rendering import FILL, LINE, project, silhouette
from tests.outside.solid import Body, Points
from tests.placing.plain_bodies import Part, ball

YAWS = {"front": 0.0, "three_quarter": 45.0, "side": 90.0, "back": 180.0}
AGES = ("young", "child", "old")
SHOWS = ("street", "court")
#: Standard deviation of a hand's placing, % of the figure height: what a new sheet assumes.
PLACING_SD = 0.15
LINE_PX = 3


def character(show: str, seed: int) -> Body:
    """Return one character of a show, drawn at random by the seed.

    Raises
    ------
    BodiesUnavailableError
        As `load_body` does.
    """
    rng = np.random.default_rng((SHOWS.index(show), seed))
    bare = human(f"{show}_{seed}", _mixed(rng), lambda pivots: _stretched(rng, pivots))
    return _dressed(bare, show, rng)


def _mixed(rng: np.random.Generator) -> np.ndarray:
    age, sex = str(rng.choice(AGES)), rng.uniform()
    build = [str(rng.choice(["min", "average", "max"])) for _ in range(2)]
    much = rng.uniform(0.3, 1.0)
    moved = 0.0
    for share, which in ((sex, "female"), (1.0 - sex, "male")):
        for part, origin in zip(rng.dirichlet((1.0, 1.0, 1.0)), ORIGINS, strict=True):
            moved = moved + share * part * offsets(f"{origin}-{which}-{age}")
        shape = f"universal-{which}-{age}-{build[0]}muscle-{build[1]}weight"
        moved = moved + share * much * offsets(shape)
    return moved


def _stretched(rng: np.random.Generator, pivots: Points) -> Warp:
    leg, trunk, girth, head = rng.uniform((0.75, 0.85, 0.85, 0.9), (1.15, 1.15, 1.2, 1.7))
    hip, neck = pivots["hip_l"][1], pivots["neck"][1]
    depth = pivots["neck"][2]

    def warp(points: np.ndarray) -> np.ndarray:
        x, y, z = points.T
        up = leg * np.minimum(y, hip) + trunk * np.clip(y - hip, 0.0, neck - hip)
        up = up + head * np.maximum(y - neck, 0.0)
        share = np.clip((y - neck) / (0.05 * neck) + 0.5, 0.0, 1.0)
        wide = girth * (1.0 - share) + head * share
        return np.stack([x * wide, up, depth + (z - depth) * wide], axis=1)

    return warp


def _dressed(bare: Body, show: str, rng: np.random.Generator) -> Body:
    """Return the body in its clothes: hair or hats, jackets or gowns."""
    at, h = bare.joints, bare.height
    head, waist = h - at["chin"][1], at["spine"][1]
    wide = np.ptp(bare.vertices[bare.vertices[:, 1] > at["neck"][1], 0]) / 2.0
    behind = at["head"][2]
    knee, hip = at["knee_l"], at["hip_l"]
    parts: list[Part] = []
    if show == "street":  # hair, a bun or not; a jacket to the hip; wide trousers or bare legs
        high, broad = rng.uniform(0.05, 0.25), rng.uniform(1.0, 1.3)
        middle = h - 0.35 * head
        parts += [ball((0, middle, behind), (broad * wide, h + high * head - middle, broad * wide))]
        if rng.uniform() < 0.4:
            parts += [ball((0, middle, behind - 1.2 * wide), (0.4 * wide,) * 3)]
        loose = rng.uniform(1.1, 1.6)
        parts += [
            ball((0, (waist + hip[1]) / 2, hip[2]), (loose * 1.5 * hip[0], 0.12 * h, 0.08 * h))
        ]
        if rng.uniform() < 0.5:
            for side in (1, -1):
                leg = (side * knee[0], knee[1] * 0.9, knee[2])
                parts += [ball(leg, (0.045 * h * loose, 0.8 * knee[1], 0.045 * h * loose))]
    else:  # a tall hat with a brim, a gown to the ground, wide shoulders
        high, brim = rng.uniform(0.5, 1.0), rng.uniform(1.2, 2.0)
        middle = h - 0.15 * head
        parts += [ball((0, middle, behind), (wide, h + high * head - middle, wide))]
        parts += [ball((0, middle, behind), (brim * wide, 0.06 * head, brim * wide))]
        full = rng.uniform(0.12, 0.2) * h
        parts += [ball((0, 0.45 * hip[1], hip[2]), (full, 0.45 * hip[1], 0.8 * full))]
        parts += [ball((0, at["shoulder_l"][1], at["neck"][2]), (0.15 * h, 0.05 * h, 0.1 * h))]
    counts = np.cumsum([len(bare.vertices), *(len(skin) for skin, _ in parts)])
    faces = [bare.faces, *(own + n for (_, own), n in zip(parts, counts, strict=False))]
    skin = [bare.vertices, *(skin for skin, _ in parts)]
    top = parts[0][0][np.argmax(parts[0][0][:, 1])]
    joints = {**at, "hair_top": top}
    return Body(bare.name, np.concatenate(skin), np.concatenate(faces), joints)


def write_character(
    folder: Path, body: Body, seed: int, yaws: Mapping[str, float] = YAWS, height_px: float = 600.0
) -> dict[tuple[str, str], tuple[float, float]]:
    """Write a character's sheet: drawn at rest, outlined, all its points placed by a hand.

    Returns
    -------
    dict
        Where each point truly lies, by view and landmark, px.
    """
    rng = np.random.default_rng((seed, 7))
    folder.mkdir(parents=True, exist_ok=True)
    rows, true = ["view,landmark,x,y,visibility"], {}
    views = []
    for name, yaw in yaws.items():
        alpha, view = silhouette(body, yaw, height_px)
        inside = cv2.erode(
            (alpha > 127).astype(np.uint8), np.ones((3, 3), np.uint8), None, None, LINE_PX
        )
        colours = np.where(inside[..., None] > 0, np.uint8(FILL), np.uint8(LINE))
        assert cv2.imwrite(str(folder / f"{name}.png"), np.dstack([colours[..., ::-1], alpha]))
        views.append(f'[views.{name}]\nimage = "{name}.png"\nyaw = {yaw:g}\n')
        for point in project(body, view).itertuples(index=False):
            sd = PLACING_SD / 100.0 * height_px * (2.0 if point.visibility == "hidden" else 1.0)
            x, y = rng.normal((point.x, point.y), sd)
            rows.append(f"{name},{point.landmark},{x:.2f},{y:.2f},{point.visibility}")
            true[name, point.landmark] = point.x, point.y
    head = f'character = "{body.name}"\nrevision = "A"\nplacing = "ground"\n\n'
    (folder / "sheet.toml").write_text(head + "\n".join(views), "utf-8")
    (folder / "landmarks.csv").write_text("\n".join(rows) + "\n", "utf-8")
    return true

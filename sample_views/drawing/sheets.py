"""The files of a sample sheet: sheet.toml, landmarks.csv and truth.json as text."""

import json
import zlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from drawing.figure import Figure, View
from drawing.truth import PIVOTS, Seen, stem

# What nobody would place where it can't be seen.
_FACE = ("eye", "brow", "nose_tip", "mouth", "muzzle", "badge")
_SD_SEEN, _SD_HIDDEN = 0.15, 0.30  # % of the figure; a hand as sure as the sheet's defaults say


@dataclass(frozen=True)
class Drawn:
    """One drawing of a set: its view, the yaw it claims and what it shows."""

    view: View
    nominal: float
    seen: Mapping[str, Seen]


def sheet_toml(
    character: str,
    revision: str,
    vocabulary: str,
    reference: str,
    height_cm: int,
    drawn: Sequence[Drawn],
    extra: str = "",
) -> str:
    """The sheet's settings, with a few words for whoever opens them."""
    lines = [
        f"# {character} of the Kettle Pass Post. Drawn by sample_views/draw.py; see the README.",
        f'character = "{character}"',
        f'revision = "{revision}"',
        f"height_cm = {height_cm:<15} # ground to crown, for the cast of the show",
        f'reference = "{reference}"      # the drawing the others are held against',
        'placing = "ground"        # every drawing stands on its own ground line',
        f'vocabulary = "{vocabulary}"',
        "symmetric = true          # but for what [landmarks] names below",
    ]
    for d in drawn:
        lines += [
            "",
            f"[views.{d.view.name}]",
            f'image = "{d.view.name}.png"',
            f"yaw = {d.nominal:g}",
        ]
    return "\n".join(lines) + "\n" + extra


def landmarks_csv(
    seed: str, drawn: Sequence[Drawn], height: float, only: Sequence[str] | None = None
) -> str:
    """Placings of every landmark a person could place, with a small slip of the hand.

    Parameters
    ----------
    seed : str
        Names the hand: the same seed gives the same slips.
    drawn : sequence of Drawn
        The drawings.
    height : float
        Ground to crown in the reference drawing, px.
    only : sequence of str, optional
        Stems of the landmarks to place; all by default.
    """
    rng = np.random.default_rng(zlib.crc32(seed.encode()))
    rows = ["view,landmark,x,y,visibility,sd,placed_by"]

    def slip(sd: float) -> float:
        return float(rng.normal() * sd * height / 100)

    for d in drawn:
        ground = d.view.ground + slip(_SD_SEEN)
        rows.append(f"{d.view.name},ground,{d.view.axis:.2f},{ground:.2f},visible,,wren")
        for name, at in d.seen.items():
            dx, dy = (slip(_SD_SEEN if at.visible else _SD_HIDDEN) for _ in range(2))
            if only is not None and stem(name) not in only:
                continue
            if not at.visible and stem(name) in _FACE:
                continue
            word = "visible" if at.visible else "hidden"
            rows.append(f"{d.view.name},{name},{at.x + dx:.2f},{at.y + dy:.2f},{word},,wren")
    return "\n".join(rows) + "\n"


def truth_json(figure: Figure, drawn: Sequence[Drawn], height: float) -> str:
    """The true body and what every drawing shows of it, to a hundredth of a pixel."""

    def spot(at: Seen) -> dict[str, object]:
        return {"x": round(at.x, 2), "y": round(at.y, 2), "visible": at.visible}

    top = max(float(p.grid[..., 1].max()) for p in figure.parts)
    return json_text(
        {
            "character": figure.name,
            "frame": "X to the character's left, Y up from the ground, Z to the front; px",
            "figure_height": height,
            "top": round(top, 2),
            "landmarks": {
                n: [round(v, 2) + 0.0 for v in m.xyz] for n, m in figure.landmarks.items()
            },
            "pivots": [n for n in figure.landmarks if stem(n) in PIVOTS],
            "views": {
                d.view.name: {
                    "image": f"{d.view.name}.png",
                    "nominal_yaw": d.nominal,
                    "yaw": d.view.yaw,
                    "scale": d.view.scale,
                    "axis": d.view.axis,
                    "ground": d.view.ground,
                    "landmarks": {n: spot(at) for n, at in d.seen.items()},
                }
                for d in drawn
            },
        }
    )


def json_text(content: object) -> str:
    """Indented JSON, with the innermost lists and objects on one line each."""
    return _lines(content, 0) + "\n"


def _lines(content: object, depth: int) -> str:
    flat = json.dumps(content)
    inside = content.values() if isinstance(content, dict) else content
    if not isinstance(content, dict | list):
        return flat
    nested = any(isinstance(v, dict | list) for v in inside)
    if not nested and (len(flat) < 100 or isinstance(content, list)):
        return flat
    pad = "  " * (depth + 1)
    if isinstance(content, dict):
        inner = [f"{pad}{json.dumps(k)}: {_lines(v, depth + 1)}" for k, v in content.items()]
        return "{\n" + ",\n".join(inner) + "\n" + "  " * depth + "}"
    assert isinstance(content, list)
    return (
        "[\n" + ",\n".join(pad + _lines(v, depth + 1) for v in content) + "\n" + "  " * depth + "]"
    )

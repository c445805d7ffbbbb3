"""The sample sets, one generator each: names of files and what belongs in them."""

from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from drawing import brindle, odo, pim
from drawing.figure import Figure, View
from drawing.inking import draw
from drawing.paper import Placed, wide_sheet
from drawing.pim import Drift
from drawing.sheets import Drawn, json_text, landmarks_csv, sheet_toml, truth_json
from drawing.truth import PIVOTS, sightings, stem

Files = Iterator[tuple[str, NDArray[np.uint8] | str]]

_TOLERANCES = """
[tolerances]              # % of the figure
height = 1.0
eye_line = 0.5
pivot = 0.75
"""
_ODO_EXTRA = (
    _TOLERANCES
    + """
[landmarks.badge]         # the post's enamel badge, on the left breast only
kind = "width"
symmetric = false

[landmarks.hat_top]       # the button on the cap
kind = "height"
"""
)
#: How tall each is in the story, ground to crown.
_CM = {"odo": 178, "pim": 112, "brindle": 86}
_BIPED_VIEWS = {"front": 0, "three_quarter": 45, "side": 90, "back": 180}
# Pim's planted drift: view, landmarks, kind, % of the figure (up positive), what to say.
_PLANTED = (
    ("side", ("eye_l", "eye_r"), "height", -1.8, "the eye line sits too low"),
    (
        "three_quarter",
        ("shoulder_l", "elbow_l", "wrist_l", "fingertip_l"),
        "height",
        -2.5,
        "the whole left arm hangs too low",
    ),
    ("back", ("knee_r",), "height", 2.0, "the right knee sits too high"),
)
_PIM_YAW_DRAWN = 36.0  # the three-quarter drawing, 45 by name
_PIM_BACK_SCALE = 1.03


def _odo() -> Files:
    odo_figure = odo.build()
    pictures: dict[str, NDArray[np.uint8]] = {}
    width, height, axis, ground = odo.CANVAS
    drawn = []
    for name, yaw in {**_BIPED_VIEWS, "back_three_quarter": 135}.items():
        view = View(name, yaw, axis, ground)
        inked = draw(odo_figure, view, width, height)
        pictures[name] = inked.picture
        drawn.append(Drawn(view, yaw, sightings(odo_figure, view, inked)))
        yield f"odo/{name}.png", pictures[name]
    yield "odo/sheet.toml", sheet_toml("Odo", "B", "biped", "front", _CM["odo"], drawn, _ODO_EXTRA)
    yield "odo/landmarks.csv", landmarks_csv("odo", drawn, odo.CROWN)
    yield "odo/truth.json", truth_json(odo_figure, drawn, odo.CROWN)
    yield from _dots(odo_figure, pictures, drawn)
    yield from _wide(odo_figure, pictures)


def _pim() -> Files:
    width, height, axis, ground = pim.CANVAS
    true, drawn = pim.build(), []
    amount = {view: pct * pim.CROWN / 100 for view, _, _, pct, _ in _PLANTED}
    drifts = {
        "side": Drift(eyes=amount["side"]),
        "three_quarter": Drift(arm_l=amount["three_quarter"]),
        "back": Drift(knee_r=amount["back"]),
    }
    for name, nominal in _BIPED_VIEWS.items():
        figure = pim.build(drifts[name]) if name in drifts else true
        yaw = _PIM_YAW_DRAWN if name == "three_quarter" else nominal
        view = View(name, yaw, axis, ground, _PIM_BACK_SCALE if name == "back" else 1.0)
        inked = draw(figure, view, width, height)
        yield f"pim/{name}.png", inked.picture
        drawn.append(Drawn(view, nominal, sightings(figure, view, inked)))
    yield "pim/sheet.toml", sheet_toml("Pim", "A", "biped", "front", _CM["pim"], drawn, _TOLERANCES)
    yield "pim/landmarks.csv", landmarks_csv("pim", drawn, pim.CROWN)
    yield "pim/truth.json", truth_json(true, drawn, pim.CROWN)
    yield "pim/planted.toml", _planted_toml()


def _planted_toml() -> str:
    """Pim's drift for machines."""
    lines = [
        "# What is wrong on purpose in Pim's drawings, in the drawings and in landmarks.csv alike.",
        "# amount_pct: % of the figure (up positive), or of the scale, or degrees of yaw.",
        "# amount_px: px of the view's own drawing.",
    ]
    for view, landmarks, kind, pct, words in _PLANTED:
        scale = _PIM_BACK_SCALE if view == "back" else 1.0
        listed = ", ".join(f'"{n}"' for n in landmarks)
        lines += [
            "",
            "[[planted]]",
            f'view = "{view}"',
            f"landmarks = [{listed}]",
            f'kind = "{kind}"',
            f"amount_pct = {pct}",
            f"amount_px = {pct * pim.CROWN / 100 * scale:.2f}",
            f'says = "{words}"',
        ]
    lines += [
        "",
        "[[planted]]",
        'view = "three_quarter"',
        "landmarks = []",
        'kind = "yaw"',
        f"amount_deg = {_PIM_YAW_DRAWN - _BIPED_VIEWS['three_quarter']:g}",
        f'says = "drawn at {_PIM_YAW_DRAWN:g} degrees instead of 45"',
        "",
        "[[planted]]",
        'view = "back"',
        "landmarks = []",
        'kind = "size"',
        f"amount_pct = {100 * (_PIM_BACK_SCALE - 1):.1f}",
        f"amount_px = {(_PIM_BACK_SCALE - 1) * pim.CROWN:.2f}",
        'says = "the whole drawing is 3 % too large"',
    ]
    return "\n".join(lines) + "\n"


def _brindle() -> Files:
    width, height, axis, ground = brindle.CANVAS
    figure, drawn = brindle.build(), []
    for name in ("side", "front", "three_quarter", "back"):
        yaw = _BIPED_VIEWS[name]
        view = View(name, yaw, axis, ground)
        inked = draw(figure, view, width, height)
        yield f"brindle/{name}.png", inked.picture
        drawn.append(Drawn(view, yaw, sightings(figure, view, inked)))
    crown = figure.landmarks["crown"].xyz[1]
    yield (
        "brindle/sheet.toml",
        sheet_toml("Brindle", "A", "quadruped", "side", _CM["brindle"], drawn, _TOLERANCES),
    )
    yield "brindle/landmarks.csv", landmarks_csv("brindle", drawn, crown)
    yield "brindle/truth.json", truth_json(figure, drawn, crown)


def _wide(figure: Figure, pictures: dict[str, NDArray[np.uint8]]) -> Files:
    _, _, axis, ground = odo.CANVAS
    placed = [Placed(n, yaw, pictures[n], axis, ground) for n, yaw in _BIPED_VIEWS.items()]
    names = {"crown": "crown", "eyes": "eye_l", "chin": "chin", "shoulder": "shoulder_l",
             "waist": "waist", "crotch": "crotch", "knee": "knee_l"}  # fmt: skip
    heights = {n: figure.landmarks[k].xyz[1] for n, k in names.items()} | {"ground": 0.0}
    sheet, truth = wide_sheet(
        placed, heights, "Odo, rev. B   Kettle Pass Post", 0.72, (2600, 1280), 1140.0, 7
    )
    yield "wide/wide.png", sheet
    yield "wide/truth.json", truth


# Dot colours: one for each pivot, far from Odo's own clothes and from one another.
_DOT_COLOURS = {
    "head": "ff2fd0", "jaw": "00e5ff", "neck": "7dff00", "spine": "ff00a0",
    "shoulder_l": "00ff85", "shoulder_r": "b400ff", "elbow_l": "39ff14", "elbow_r": "ff4dff",
    "wrist_l": "0066ff", "wrist_r": "8800ff", "hip_l": "00ffd5", "hip_r": "ff66cc",
    "knee_l": "1eb0ff", "knee_r": "c800c8", "ankle_l": "66ff66", "ankle_r": "5a3cff",
}  # fmt: skip


def _dots(figure: Figure, pictures: dict[str, NDArray[np.uint8]], drawn: list[Drawn]) -> Files:
    """Odo with a coloured disc left on every pivot that shows."""
    truth, used = [], [d for d in drawn if d.view.name in ("front", "three_quarter", "side")]
    for d in used:
        picture = pictures[d.view.name].copy()
        taken: list[tuple[float, float]] = []
        for k, (name, code) in enumerate(_DOT_COLOURS.items()):
            at, radius = d.seen[name], 4 + (3 * k) % 5
            if not at.visible or any(np.hypot(at.x - x, at.y - y) < 24 for x, y in taken):
                continue
            taken.append((at.x, at.y))
            _disc(picture, at.x, at.y, radius, code)
            truth.append(
                {"view": d.view.name, "landmark": name, "x": round(at.x, 2), "y": round(at.y, 2),
                 "radius": radius, "colour": f"#{code}"}
            )  # fmt: skip
        yield f"dots/{d.view.name}.png", picture
    key = "\n[dots]                    # the colour of the dot on each pivot\n" + "".join(
        f'{name} = "#{code}"\n' for name, code in _DOT_COLOURS.items()
    )
    yield (
        "dots/sheet.toml",
        sheet_toml("Odo", "B", "biped", "front", _CM["odo"], used, _ODO_EXTRA + key),
    )
    others = sorted({stem(n) for n in figure.landmarks} - set(PIVOTS))
    yield "dots/landmarks.csv", landmarks_csv("dots", used, odo.CROWN, others)
    yield "dots/truth.json", json_text({"dots": truth})


def _disc(picture: NDArray[np.uint8], x: float, y: float, radius: float, code: str) -> None:
    """Lay a flat disc with a soft rim of one pixel on the drawing."""
    left, top, side = round(x) - 12, round(y) - 12, 25
    gy, gx = np.mgrid[top : top + side, left : left + side]
    picture = picture[top : top + side, left : left + side]  # a view: what is laid here stays
    cover = np.clip(radius + 0.5 - np.hypot(gx - x, gy - y), 0, 1)[..., None]
    colour = np.array([int(code[i : i + 2], 16) for i in (0, 2, 4)])
    picture[..., :3] = np.rint(picture[..., :3] * (1 - cover) + colour * cover)
    picture[..., 3] = np.maximum(picture[..., 3], np.rint(255 * cover[..., 0]))


#: Of each character, every file that draw.py writes: its name below sample_views and its content.
CHARACTERS: dict[str, Callable[[], Files]] = {"odo": _odo, "pim": _pim, "brindle": _brindle}

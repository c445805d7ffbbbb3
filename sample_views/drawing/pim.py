"""Pim, squat apprentice of the Kettle Pass Post: three heads, one of them mostly cheeks.

Pim's drawings carry drift on purpose; :class:`Drift` says what one drawing does wrong.
"""

from dataclasses import dataclass

import numpy as np

from drawing.figure import Figure, Material, inside, oval, rgb
from drawing.pim_head import add_hair, add_head
from drawing.solids import ball, farthest, pillow, spline, stack, tube, turned, warp

CROWN = 1080.0
CANVAS = (1200, 1440, 600, 1390)


@dataclass(frozen=True)
class Drift:
    """What is wrong with the body in one drawing, px upward."""

    eyes: float = 0.0
    arm_l: float = 0.0
    knee_r: float = 0.0


def _materials() -> dict[str, Material]:
    def m(base: str, shade: str, edge: float = 0.0) -> Material:
        return Material(rgb(base), rgb(shade), edge)

    return {
        "skin": m("d99a6c", "b87550", -0.05),
        "nose": m("d67f5f", "b5624b", -0.1),
        "blush": m("d17a58", "b1604a"),
        "hair": m("3b2c44", "2a2033", 0.15),
        "parka": m("d8973c", "b4742f", 0.05),
        "trim": m("7c4a3a", "5f372e", 0.05),
        "scarf": m("b8392f", "8f2b2a", 0.05),
        "stripe": m("f0dcae", "d0b482", 0.05),
        "mitten": m("2f7f80", "23605f", 0.05),
        "shorts": m("56607c", "414962", 0.05),
        "sock": m("f0dcae", "d0b482", 0.05),
        "boot": m("7c4a3a", "5f372e", 0.05),
        "sole": m("3a2a2a", "2a2029"),
        "sack": m("d9c7a0", "b7a27b", 0.05),
        "patch": m("2f7f80", "23605f", 0.05),
        "paper": m("fbf4e2", "dccdb0", -0.2),
        "white": m("fffaf0", "f0e4d8", -0.8),
        "ink": m("2a2029", "2a2029"),
        "mouth": m("6d2530", "6d2530"),
        "tongue": m("d96c5f", "d96c5f"),
        "plaster": m("f3cfa4", "d9ab7f", -0.2),
        "brass": m("f3c95c", "cf973a", 0.1),
    }


def build(drift: Drift = Drift()) -> Figure:
    """Pim's solid, paint and true landmarks, with one drawing's drift."""
    f = Figure("Pim", _materials())
    _legs(f, drift.knee_r)
    _parka(f)
    for side, k, dy in (("l", 1, drift.arm_l), ("r", -1, 0.0)):
        _arm(f, side, k, dy)
    _scarf(f)
    _sack(f)
    add_head(f, CROWN, drift.eyes)
    add_hair(f)
    return f


def _legs(f: Figure, knee_r: float) -> None:
    for side, k, dy in (("l", 1, 0.0), ("r", -1, knee_r)):
        hip, knee, ankle = (k * 78, 318, 0), (k * 86, 200 + dy, 6), (k * 92, 84, -6)
        leg = [
            (k * 82, 280, 0),
            (k * 85, 232 + dy, 4),
            knee,
            (k * 88, 166 + dy, 0),
            (k * 91, 120, -4),
        ]
        f.add(f"leg_{side}_bare", tube(leg, [46, 47, 53, 46, 44]), "skin", f"leg_{side}")
        short = tube([(k * 70, 350, 0), (k * 80, 290, 2), (k * 86, 240, 3)], [86, 84, 82], cap=0.15)
        f.add(f"leg_{side}_shorts", short, "shorts", f"shorts_{side}")
        f.add(
            f"leg_{side}_sock",
            tube([(k * 90, 146, -3), (k * 91, 122, -4)], [58, 58], cap=0.5),
            "sock",
            f"sock_{side}",
        )
        shaft = tube([(k * 91, 126, -5), (k * 92, 80, -8), (k * 93, 50, -8)], [55, 56, 58], cap=0.2)
        f.add(f"leg_{side}_boot_shaft", shaft, "boot", f"boot_{side}")
        foot = tube(
            [(k * 92, 46, -34), (k * 94, 56, 4), (k * 104, 54, 60), (k * 114, 46, 104)],
            [52, 58, 62, 58],
            cap=0.8,
        )
        f.add(
            f"leg_{side}_boot_foot",
            warp(foot, lambda x, y, z: (x, np.maximum(y, 12), z)),
            "boot",
            f"boot_{side}",
        )
        sole = tube(
            [(k * 92, 9, -36), (k * 94, 9, 4), (k * 104, 9, 60), (k * 114, 9, 106)],
            [55, 60, 65, 61],
            flat=0.15,
            cap=0.8,
            boxy=3,
        )
        f.add(
            f"leg_{side}_boot_sole",
            warp(sole, lambda x, y, z: (x, np.maximum(y, 0), z)),
            "sole",
            f"sole_{side}",
        )
        leg_name = (f"leg_{side}_bare",)
        if side == "r":
            fold = spline(
                [(k * 86 - 20, 196 + dy), (k * 86, 184 + dy), (k * 86 + 20, 196 + dy)], 16
            )
            f.stroke(leg_name, f.drape(leg_name, fold), 3.6)
        back = spline([(-k * 86 - 34, 206 + dy), (-k * 86, 197 + dy), (-k * 86 + 34, 206 + dy)], 20)
        f.stroke(leg_name, f.drape(leg_name, back, 180), 3.8)
        for y in (92, 68):
            lace = spline([(k * 94 - 22, y), (k * 94, y - 7), (k * 94 + 22, y)], 14)
            boot = (f"leg_{side}_boot",)
            f.stroke(boot, f.drape(boot, lace), 4.0, rgb("f0dcae"), 0.1)
        f.mark(f"hip_{side}", hip, f"leg_{side}")
        f.mark(f"knee_{side}", knee, f"leg_{side}")
        f.mark(f"ankle_{side}", ankle, f"leg_{side}")
        f.mark(f"toe_{side}", farthest(foot, (k * 0.2, 0, 1)), f"leg_{side}")
        f.mark(f"heel_{side}", farthest(foot, (-k * 0.1, 0, -1)), f"leg_{side}")
    f.paint(("leg_l_bare",), inside(oval(86, 200, 34, 14, 24)), "plaster", "plaster", 0.8)
    f.paint(("leg_l_bare",), inside(oval(86, 200, 11, 10, 24)), "stripe", "plaster", 0.0)
    f.mark("crotch", (0, 288, 0), "leg", "parka")


def _parka(f: Figure) -> None:
    rows = [
        (300, 0, 0, 0, 0),
        (302, 0, 120, 100, 100),
        (312, 0, 184, 146, 150),
        (360, 0, 194, 158, 158),
        (440, 0, 192, 162, 154),
        (530, 0, 172, 146, 138),
        (620, 0, 146, 122, 118),
        (680, 0, 118, 96, 98),
        (722, 0, 80, 74, 74),
        (730, 0, 0, 0, 0),
    ]
    puffs = warp(stack(rows, rings=150, segments=90), _quilt)
    f.add("parka_body", puffs, "parka", "parka")
    for y in (396, 488, 580):
        for yaw in (0, 180):
            around = np.linspace(-192, 192, 60)
            f.stroke(
                ("parka_body",),
                f.drape(("parka_body",), np.column_stack([around, np.full(60, y)]), yaw),
                3.6,
                taper=0.02,
            )
    hem = stack(
        [
            (286, 0, 0, 0, 0),
            (287, 0, 100, 80, 82),
            (292, 0, 190, 154, 156),
            (313, 0, 202, 164, 164),
            (334, 0, 192, 156, 156),
            (339, 0, 100, 80, 80),
            (340, 0, 0, 0, 0),
        ],
        boxy=2.1,
        rings=60,
    )
    f.add("parka_hem", hem, "trim", "hem")
    f.stroke(
        ("parka_body",), f.drape(("parka_body",), np.array([(0, 690), (0, 338)])), 4.2, taper=0.02
    )
    for k in (1, -1):
        patch = [(k * 62, 470), (k * 134, 470), (k * 130, 404), (k * 98, 390), (k * 66, 404)]
        f.paint(("parka_body",), inside(patch, k * 18), "parka", f"pocket{k}", 1.1)
    for i, y in enumerate((350, 442)):
        z = f.drape(("parka_body",), [(0, y), (0, y)])[0, 2]
        toggle = tube([(-26, y - 3, z + 7), (26, y + 3, z + 7)], [10, 10], rings=16, segments=16)
        f.add(f"parka_toggle{i}", toggle, "trim", "toggle", 0.8)
    f.mark("waist", (0, 470, 158), "parka")
    f.mark("spine", (0, 480, 0), "parka")
    f.mark("neck", (0, 700, 0), "scarf", "parka", "head")


def _quilt(
    x: np.ndarray, y: np.ndarray, z: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Puff the parka out between its quilting lines, 92 px apart."""
    swell = 1 + 0.035 * (np.abs(np.sin((y - 396) * np.pi / 92)) - 0.6) * np.clip(
        (680 - y) / 60, 0, 1
    )
    return x * swell, y, z * swell


def _arm(f: Figure, side: str, k: int, dy: float) -> None:
    up = np.array([0, dy, 0])
    shoulder, elbow, wrist = (
        np.array(p, float) + up
        for p in ((k * 128, 640, -2), (k * 204, 528, -8), (k * 252, 412, 20))
    )
    sleeve = tube(
        np.array(
            [
                (k * 84, 652, -2),
                (k * 140, 634, -4),
                (k * 182, 576, -8),
                (k * 206, 526, -6),
                (k * 234, 462, 6),
                (k * 250, 420, 18),
            ]
        )
        + up,
        [52, 60, 59, 55, 56, 55],
        rings=60,
        cap=0.5,
    )
    f.add(f"arm_{side}_sleeve", sleeve, "parka", f"sleeve_{side}")
    cuff = tube(np.array([(k * 244, 436, 14), (k * 252, 408, 20)]) + up, [60, 60], cap=0.35)
    f.add(f"arm_{side}_cuff", cuff, "trim", f"cuff_{side}")
    hand = tube(
        np.array([(k * 252, 408, 20), (k * 262, 366, 28), (k * 270, 326, 34), (k * 272, 308, 36)])
        + up,
        [36, 50, 46, 36],
        side=(-0.45, 0, 0.9),
        flat=0.66,
        cap=0.9,
    )
    f.add(f"arm_{side}_mitten", hand, "mitten", f"hand_{side}")
    thumb = tube(
        np.array([(k * 252, 372, 58), (k * 240, 352, 82), (k * 236, 332, 92)]) + up,
        [22, 23, 19],
        rings=20,
        segments=24,
    )
    f.add(f"arm_{side}_thumb", thumb, "mitten", f"hand_{side}")
    crease = spline([(k * 168, 548 + dy), (k * 184, 532 + dy), (k * 204, 528 + dy)], 16)
    f.stroke((f"arm_{side}_sleeve",), f.drape((f"arm_{side}_sleeve",), crease), 3.6)
    rear = spline([(-k * 178, 526 + dy), (-k * 196, 518 + dy), (-k * 214, 522 + dy)], 16)
    f.stroke((f"arm_{side}_sleeve",), f.drape((f"arm_{side}_sleeve",), rear, 180), 3.6)
    f.mark(f"shoulder_{side}", shoulder, f"arm_{side}", "parka")
    f.mark(f"elbow_{side}", elbow, f"arm_{side}")
    f.mark(f"wrist_{side}", wrist, f"arm_{side}")
    f.mark(f"fingertip_{side}", farthest(hand, (0, -1, 0)), f"arm_{side}")


def _scarf(f: Figure) -> None:
    a = np.linspace(0, 2 * np.pi, 13)
    ring = np.column_stack([122 * np.sin(a), 712 + 12 * -np.cos(a), 6 + 112 * np.cos(a)])
    f.add(
        "scarf_ring",
        tube(ring, np.full(13, 50.0), side=(0, 1, 0), flat=0.82, rings=90, cap=0.2),
        "scarf",
        "scarf",
    )
    for k, points in (
        (0, [(60, 678, 142), (66, 620, 144), (78, 540, 164), (86, 440, 176)]),
        (1, [(22, 678, 146), (12, 620, 148), (8, 560, 158)]),
    ):
        end = tube(points, [40, 44, 46, 50][: len(points)], flat=0.3, boxy=3, cap=0.15, rings=60)
        f.add(f"scarf_end{k}", end, "scarf", f"scarfend{k}")
        low = points[-1]
        for j in range(4):
            x = low[0] - 34 + 23 * j
            tassel = tube(
                [
                    (x, low[1] + 4, low[2]),
                    (x + 1, low[1] - 18, low[2] + 3),
                    (x + 2, low[1] - 34, low[2] + 3),
                ],
                [10, 10.5, 7],
                rings=14,
                segments=14,
            )
            f.add(f"scarf_tassel{k}{j}", tassel, "stripe", "tassel")
    knot = ball((44, 688, 146), (58, 44, 32))
    f.add("scarf_knot", turned(knot, -14, (44, 688, 146), "z"), "scarf", "knot")
    f.paint(("scarf_end",), lambda on: np.mod(on.y - 470, 58) < 24, "stripe", "stripe", 0.8)
    f.paint(
        ("scarf_ring",), lambda on: np.mod(on.u * 10 + 0.25, 1.0) < 0.36, "stripe", "stripe", 0.8
    )


def _sack(f: Figure) -> None:
    """The mail sack on Pim's back, with straps over the shoulders."""
    sack = stack(
        [
            (330, -236, 0, 0, 0),
            (334, -236, 80, 60, 60),
            (362, -232, 140, 98, 108),
            (450, -232, 164, 112, 136),
            (560, -232, 152, 106, 126),
            (650, -226, 104, 76, 84),
            (690, -222, 66, 50, 56),
            (712, -224, 84, 62, 74),
            (730, -226, 92, 70, 82),
            (734, -226, 0, 0, 0),
        ],
        rings=110,
        boxy=2.2,
    )
    f.add("sack_body", sack, "sack", "sack")
    cord = stack(
        [
            (672, -222, 0, 0, 0),
            (674, -222, 70, 56, 60),
            (684, -222, 78, 62, 68),
            (694, -222, 72, 56, 62),
            (696, -222, 0, 0, 0),
        ],
        rings=24,
    )
    f.add("sack_cord", cord, "scarf", "cord")
    f.paint(
        ("sack_body",),
        inside([(-30, 470), (52, 478), (48, 400), (-34, 394)], 180),
        "patch",
        "sackpatch",
        1.0,
    )
    post = [(-92, 560), (-76, 540), (-92, 520)]
    f.stroke(("sack_body",), f.drape(("sack_body",), spline(post, 20), 180), 4.0)
    for x in (-60, 62):
        f.stroke(
            ("sack_body",),
            f.drape(("sack_body",), spline([(x, 662), (x * 1.1, 622), (x * 1.25, 590)], 20), 180),
            3.6,
        )
    for k, (x, y, t) in enumerate(((-40, 752, 14), (34, 760, -12), (0, 778, 3))):
        sheet = pillow(
            [(-46, -34), (46, -34), (46, 34), (-46, 34)],
            6,
            origin=(x, y, -228 - 22 * (k - 1)),
            soft=0.05,
            smooth=False,
        )
        f.add(
            f"sack_letter{k}",
            turned(turned(sheet, t, (x, y, -228), "z"), 24 * (k - 1) + 12, (x, y, -228)),
            "paper",
            f"letter{k}",
        )
    for side, k in (("l", 1), ("r", -1)):
        front = f.drape(
            ("parka_body",),
            spline([(k * 88, 668), (k * 96, 600), (k * 112, 530), (k * 138, 466)], 6),
        )
        points = np.vstack(
            [
                [(k * 92, 690, -90), (k * 92, 698, -30)],
                front + np.array([0, 0, 5]),
                [
                    (k * 176, 426, 66),
                    (k * 196, 404, -20),
                    (k * 164, 392, -120),
                    (k * 90, 390, -196),
                ],
            ]
        )
        f.add(
            f"strap_{side}",
            tube(points, np.full(len(points), 16.0), flat=0.34, boxy=3, rings=90, segments=24),
            "trim",
            f"strap_{side}",
        )

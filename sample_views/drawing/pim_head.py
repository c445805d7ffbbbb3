"""Pim from the scarf up: cheeks, freckles, a gap in the teeth and a tuft."""

import numpy as np

from drawing.figure import Figure, Surface, inside, oval
from drawing.solids import Grid, ball, farthest, pillow, spline, stack, tube, widest_at


def add_head(f: Figure, crown: float, eyes: float) -> None:
    """Skull and face with their landmarks; `eyes` lifts the eyes, px."""
    skull = stack(
        [
            (716, 20, 0, 0, 0),
            (721, 22, 72, 70, 84),
            (750, 18, 136, 116, 134),
            (800, 8, 182, 152, 164),
            (850, 2, 198, 166, 180),
            (910, -2, 192, 166, 184),
            (980, -6, 172, 152, 170),
            (1040, -10, 122, 112, 124),
            (1072, -12, 60, 56, 62),
            (1080, -12, 0, 0, 0),
        ],
        rings=90,
        segments=96,
    )
    f.add("head_skull", skull, "skin", "skin")
    f.add("head_nose", ball((0, 832, 172), (30, 25, 30)), "nose", "nose", 0.9)
    ear = [(-8, 44), (22, 50), (44, 26), (38, -14), (14, -42), (-8, -40), (-20, 0)]
    f.add_pair(
        "head_ear", pillow(ear, 22, origin=(182, 858, -14), right=(0.75, 0, -0.66)), "skin", "ear"
    )
    curl = spline([(152, 890), (174, 890), (178, 866), (164, 838), (156, 852)], 30)
    for k in (1, -1):  # seen square on, 41 degrees from the front
        f.stroke(("head_ear",), f.drape(("head_ear",), curl * (k, 1), -41 * k), 4.0)
    for side, k in (("l", 1), ("r", -1)):
        centre = np.array([k * 80, 886 + eyes, 120.0])
        f.add(f"head_eye_{side}", ball(centre, (40, 52, 50)), "white", f"eye_{side}", 1.0)
        look = centre + np.array([k * 6, -3, 0])
        ring = (f"head_eye_{side}",)

        def pupil(on: Surface, c: Grid = look) -> np.ndarray:
            return ((on.x - c[0]) / 24) ** 2 + ((on.y - c[1]) / 32) ** 2 < (on.z > c[2])

        f.paint(ring, pupil, "ink", f"pupil_{side}")
        f.paint(ring, inside(oval(look[0] - 6, look[1] + 12, 8, 9.5)), "white", f"pupil_{side}")
        f.paint(ring, inside(oval(look[0] + 8, look[1] - 14, 4, 5)), "white", f"pupil_{side}")
        f.mark(f"eye_{side}", (centre[0], centre[1], 152.0), f"head_eye_{side}")
        brow = tube(
            [(k * 44, 954, 146), (k * 80, 969, 134), (k * 118, 953, 108)],
            [7, 11, 6],
            rings=20,
            segments=16,
        )
        f.add(f"head_brow_{side}", brow, "hair", f"brow_{side}", 0.8)
        f.mark(f"brow_{side}", (k * 80, 969, 144), f"head_brow_{side}")
        f.paint(("head_skull",), inside(oval(k * 126, 812, 36, 24), k * 10), "blush", "skin")
        for fx, fy in ((112, 824), (130, 812), (146, 826)):
            f.paint(("head_skull",), inside(oval(k * fx, fy, 4.2, 4.2), k * 10), "trim", "skin")
        f.mark(
            f"ear_{side}",
            farthest(f.named((f"head_ear_{side}",))[0].grid, (k, 0, 0)),
            f"head_ear_{side}",
        )
        f.mark(f"cheek_{side}", widest_at(skull, 848) * (k, 1, 1), "head_skull")
    grin = np.vstack(
        [
            spline([(-52, 792), (-26, 784), (0, 782), (26, 784), (52, 792)], 20),
            spline([(52, 792), (36, 764), (0, 752), (-36, 764), (-52, 792)], 20),
        ]
    )
    f.paint(("head_skull",), inside(grin), "mouth", "mouth", 1.0)
    tongue = inside(oval(0, 752, 26, 14))
    mouth = inside(grin)
    f.paint(("head_skull",), lambda on: tongue(on) & mouth(on), "tongue", "mouth")
    teeth = (
        inside([(-22, 793), (-2.5, 793), (-3, 770), (-20, 771)]),
        inside([(2.5, 793), (22, 793), (20, 771), (3, 770)]),
    )
    f.paint(("head_skull",), lambda on: (teeth[0](on) | teeth[1](on)) & mouth(on), "white", "mouth")
    for k in (1, -1):
        f.stroke(
            ("head_skull",),
            f.drape(("head_skull",), spline([(k * 50, 799), (k * 58, 793), (k * 60, 785)], 12)),
            4.2,
        )
    f.mark("crown", (0, crown, -12), "head_skull")
    f.mark("chin", (0, 717, 30), "head_skull")
    f.mark("nose_tip", (0, 832, 202), "head_nose")
    f.mark("mouth", (0, 782, 160), "head_skull")
    f.mark("jaw", (0, 800, 10), "head")
    f.mark("head", (0, 742, -6), "head", "scarf")


def add_hair(f: Figure) -> None:
    """A mop, a ragged fringe and the tuft that no cap has ever held."""
    shell = stack(
        [
            (812, -52, 0, 0, 0),
            (816, -52, 120, 40, 140),
            (850, -44, 176, 96, 168),
            (920, -34, 200, 150, 176),
            (990, -24, 184, 158, 172),
            (1050, -18, 136, 128, 136),
            (1086, -16, 72, 70, 74),
            (1096, -16, 0, 0, 0),
        ],
        rings=80,
        segments=96,
    )
    f.add("hair_shell", shell, "hair", "hair")
    fringe = (
        (-132, 1010, -152, 944),
        (-84, 1040, -112, 972),
        (-30, 1052, -56, 985),
        (30, 1054, 2, 992),
        (84, 1042, 66, 984),
        (134, 1010, 140, 956),
    )
    for k, (x0, y0, x1, y1) in enumerate(fringe):
        z0, z1 = (_front(x, y) for x, y in ((x0, y0), (x1, y1)))
        lock = tube(
            [
                (x0 * 0.86, y0 - 4, z0 - 44),
                ((x0 + x1) / 2 + 5, (y0 + y1) / 2 + 10, (z0 + z1) / 2 + 8),
                (x1, y1, z1 + 4),
            ],
            [40, 35, 4],
            flat=0.5,
            rings=24,
            segments=24,
        )
        f.add(f"hair_fringe{k}", lock, "hair", "hair")
    for k in (1, -1):
        burn = tube(
            [(k * 182, 960, 30), (k * 196, 900, 40), (k * 188, 846, 52)],
            [36, 28, 4],
            side=(0, 0, 1),
            flat=0.5,
            rings=20,
            segments=20,
        )
        f.add(f"hair_burn{k}", burn, "hair", "hair")
    for j, x in enumerate((-130, -68, 0, 68, 130)):
        z = -210 + 0.0032 * x * x
        nape = tube(
            [(x, 900, z + 26), (x * 1.02, 840, z + 12), (x * 0.9 + 8, 776, z + 20)],
            [44, 38, 5],
            flat=0.5,
            rings=24,
            segments=20,
        )
        f.add(f"hair_nape{j}", nape, "hair", "hair")
    tuft = (
        ([(0, 1066, -30), (-16, 1130, -52), (8, 1186, -34), (52, 1208, 26)], [40, 34, 20, 4]),
        (
            [(-26, 1068, -40), (-60, 1116, -62), (-74, 1152, -84), (-64, 1182, -108)],
            [34, 28, 17, 3],
        ),
        ([(26, 1068, -30), (52, 1112, -12), (84, 1136, 12), (114, 1130, 40)], [34, 26, 16, 3]),
    )
    for j, (points, radii) in enumerate(tuft):
        f.add(
            f"hair_tuft{j}",
            tube(points, radii, side=(0, 0, 1), rings=36, segments=24),
            "hair",
            "hair",
        )
    top = max((p.grid.reshape(-1, 3) for p in f.named(("hair_tuft",))), key=lambda g: g[:, 1].max())
    f.mark("hair_top", top[top[:, 1].argmax()], "hair")


def _front(x: float, y: float) -> float:
    """Roughly where Pim's forehead is, so that the fringe lies on it."""
    return float(148 * np.sqrt(max(0.0, 1 - (x / 196) ** 2 - ((y - 890) / 215) ** 2)) + 14)

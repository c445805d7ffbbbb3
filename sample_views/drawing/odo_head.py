"""Odo from the chin up: a long nose, red hair and the courier's cap."""

import numpy as np

from drawing.figure import Figure, inside, oval
from drawing.solids import ball, farthest, pillow, spline, stack, tube, turned, warp, widest_at


def add_head(f: Figure, crown: float) -> None:
    """Skull, face, ears and hair, with their landmarks."""
    head = stack(
        [
            (1098, 26, 0, 0, 0),
            (1101, 28, 28, 34, 36),
            (1116, 24, 43, 52, 58),
            (1142, 16, 57, 60, 72),
            (1172, 10, 68, 68, 88),
            (1206, 4, 77, 76, 98),
            (1250, 0, 82, 84, 98),
            (1286, -4, 76, 78, 86),
            (1310, -6, 50, 54, 56),
            (1320, -8, 0, 0, 0),
        ],
        rings=80,
        boxy=2.1,
    )
    f.add("head_skull", head, "skin", "skin")
    nose = tube(
        [(0, 1226, 66), (0, 1206, 90), (0, 1182, 114), (0, 1162, 126), (0, 1156, 128)],
        [11, 16, 22, 28, 28],
        rings=30,
    )
    f.add("head_nose", nose, "skin", "skin")
    ear = [(-8, 34), (16, 40), (38, 24), (36, -4), (18, -32), (-4, -30), (-16, -4)]
    f.add_pair(
        "head_ear", pillow(ear, 16, origin=(76, 1196, -8), right=(0.6, 0, -0.8)), "skin", "ear"
    )
    curl = spline([(54, 1223), (72, 1224), (78, 1204), (68, 1184), (60, 1196)], 30)
    for k in (1, -1):  # seen square on, 53 degrees from the front
        f.stroke(("head_ear",), f.drape(("head_ear",), curl * (k, 1), -53 * k), 3.4)
    # Eyes: balls set in the face, half closed by the lids.
    f.add_pair("head_eye", ball((34, 1208, 50), (25, 30, 37)), "white", "eye", 0.9)
    for side, k in (("l", 1), ("r", -1)):
        ring = (f"head_eye_{side}",)
        f.paint(ring, inside(oval(k * 39, 1205, 12, 15)), "ink", f"pupil_{side}")
        f.paint(ring, inside(oval(k * 39 - 4, 1211, 4, 4.6)), "white", f"pupil_{side}")
        f.paint(
            ring, lambda on, k=k: on.y > 1221 - 0.16 * (on.x * k - 33), "skin", f"lid_{side}", 1.1
        )
        brow = tube(
            [(k * 13, 1246, 84), (k * 34, 1256, 82), (k * 62, 1240, 60)],
            [6, 9, 4],
            rings=20,
            segments=16,
        )
        f.add(f"head_brow_{side}", brow, "hair", f"brow_{side}")
        f.paint(("head_skull",), inside(oval(k * 46, 1172, 17, 11)), "blush", "skin")
        fold = spline([(k * 36, 1156), (k * 43, 1148), (k * 41, 1138)], 12)
        f.stroke(("head_skull",), f.drape(("head_skull",), fold), 3.2)
        for j, (lx, ly, lz) in enumerate(((76, 1240, 18), (80, 1246, -16), (74, 1246, -46))):
            lock = tube(
                [
                    (k * lx, ly + 30, lz),
                    (k * (lx + 9), ly - 6, lz + 3),
                    (k * (lx + 4), ly - 46 + 12 * j, lz + 14 - 12 * j),
                ],
                [20, 17, 4],
                side=(0, 0, 1),
                flat=0.6,
                rings=20,
                segments=18,
            )
            f.add(f"hair_lock{j}_{side}", lock, "hair", "hair")
    for j, (x, z, long) in enumerate(
        ((-58, -72, 70), (-30, -90, 84), (0, -96, 92), (30, -90, 84), (58, -72, 70))
    ):
        lock = tube(
            [
                (x, 1270, z + 10),
                (x * 1.05, 1232, z - 10),
                (x * 0.95, 1270 - long, z - 4),
                (x, 1252 - long, z - 18),
            ],
            [26, 27, 20, 4],
            flat=0.7,
            rings=24,
            segments=20,
        )
        f.add(f"hair_back{j}", lock, "hair", "hair")
    mouth = spline([(-37, 1146), (-20, 1133), (0, 1129), (20, 1133), (37, 1146)], 30)
    f.stroke(("head_skull",), f.drape(("head_skull",), mouth), 4.6)
    f.stroke(
        ("head_skull",),
        f.drape(("head_skull",), spline([(-8, 1115), (0, 1112), (8, 1115)], 12)),
        3.0,
    )
    f.mark("crown", (0, crown, -8), "head_skull")
    f.mark("hair_top", (0, crown + 4, -8), "hair")
    f.mark("chin", (0, 1101, 44), "head_skull")
    f.mark("nose_tip", farthest(nose, (0, -0.3, 1)), "head_nose")
    f.mark("mouth", (0, 1129, 74), "head_skull")
    f.mark("jaw", (0, 1178, 4), "head", "neck")
    f.mark("head", (0, 1140, -4), "head", "neck", "scarf")
    f.mark_pair("eye", (36, 1206, 74), "head_eye")
    f.mark_pair("brow", (36, 1256, 90), "head_brow")
    f.mark_pair("ear", farthest(f.named(("head_ear_l",))[0].grid, (1, 0, 0)), "head_ear")
    x, y, z = widest_at(head, 1172)
    f.mark("cheek_l", (x, y, z), "head_skull")
    f.mark("cheek_r", (-x, y, z), "head_skull")


def add_cap(f: Figure) -> None:
    """The courier's cap with its peak and kettle pin."""
    tilt = 6.0
    pivot = (0, 1262, 0)
    up = np.array([0, 16, 0])
    band = stack(
        [
            (1252, 0, 0, 0, 0),
            (1253, 0, 80, 84, 96),
            (1258, 0, 87, 90, 103),
            (1274, 0, 88, 91, 103),
            (1290, 0, 86, 88, 100),
            (1292, 0, 0, 0, 0),
        ],
        rings=40,
    )
    top = stack(
        [
            (1284, 0, 0, 0, 0),
            (1286, 0, 80, 84, 94),
            (1302, 0, 95, 98, 110),
            (1334, -2, 106, 104, 116),
            (1360, -6, 98, 92, 104),
            (1374, -8, 66, 66, 70),
            (1378, -8, 0, 0, 0),
        ],
        rings=60,
    )
    f.add("cap_band", turned(band + up, -tilt, pivot, "x"), "cuff", "capband")
    f.add("cap_top", turned(top + up, -tilt, pivot, "x"), "cap", "cap")
    a = np.linspace(np.pi, 0, 20)
    rim = np.column_stack([92 * np.cos(a), 64 + 74 * np.sin(a)])
    inner = np.column_stack([84 * np.cos(a[::-1]), 24 + 56 * np.sin(a[::-1])])
    peak = pillow(
        np.vstack([rim, inner[::3]]),
        8,
        origin=(0, 1256, 0),
        right=(1, 0, 0),
        up=(0, 0, 1),
        soft=0.06,
    )
    peak = warp(
        peak, lambda x, y, z: (x, y - 0.0030 * x**2 - 0.0012 * np.maximum(z - 60, 0) ** 2, z)
    )
    f.add("cap_peak", turned(peak + up, -4, pivot, "x"), "peak", "peak")
    f.add(
        "cap_button", ball((0, 1398, -22), (13, 10, 13), rings=16, segments=20), "cuff", "capbutton"
    )
    face = f.drape(("cap_band", "cap_top"), [(0, 1326), (0, 1326)])[0]
    pin = pillow(oval(0, 0, 26, 26)[::4], 9, origin=face, bulge=0.3)
    f.add("cap_pin", turned(pin, 4, face, "x"), "brass", "pin")
    for kettle in (
        oval(0, 1321, 13, 10),
        np.array([(-8, 1329), (8, 1329), (4, 1335), (0, 1338), (-4, 1335)]),
        np.array([(9, 1316), (19, 1328), (15, 1331), (7, 1324)]),
        np.array(
            [
                (-8, 1326),
                (-19, 1328),
                (-19, 1314),
                (-10, 1313),
                (-10, 1317),
                (-15, 1318),
                (-15, 1324),
            ]
        ),
    ):
        f.paint(("cap_pin",), inside(kettle), "ink", "pinface")
    f.mark("hat_top", (0, 1408, -22), "cap_button", "cap_top")

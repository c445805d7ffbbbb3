"""What Brindle carries over the pass."""

import numpy as np

from drawing.figure import Figure, oval
from drawing.solids import ball, pillow, spline, stack, tube, turned, warp


def add_load(f: Figure) -> None:
    """Blanket, girth, a pannier on either side, a bedroll, collar and bell."""
    blanket = stack(
        [
            (-152, 626, 0, 0, 0),
            (-150, 627, 160, 158, 170),
            (0, 620, 171, 159, 191),
            (146, 630, 160, 166, 190),
            (148, 630, 0, 0, 0),
        ],
        axis="z",
        rings=70,
        segments=90,
    )
    cut = warp(blanket, lambda x, y, z: (x, np.maximum(y, 520), z))
    f.add("load_blanket", cut, "blanket", "blanket")
    f.paint(("load_blanket",), lambda on: (np.abs(on.z) > 118) & (on.y > 523), "trim", "trim", 0.9)
    f.paint(("body_barrel", "load_blanket"), lambda on: np.abs(on.z) < 16, "strap", "girth", 1.0)
    for side, k in (("l", 1), ("r", -1)):
        box = stack(
            [
                (470, 0, 0, 0, 0),
                (472, 0, 44, 108, 108),
                (486, 0, 56, 124, 124),
                (600, 0, 58, 128, 128),
                (688, 0, 52, 124, 124),
                (700, 0, 36, 108, 108),
                (702, 0, 0, 0, 0),
            ],
            x=k * 222,
            boxy=4.5,
            rings=60,
        )
        f.add(f"load_{side}_box", box, "leather", f"box_{side}")
        lid = stack(
            [
                (612, 0, 0, 0, 0),
                (613, 0, 30, 122, 122),
                (630, 0, 34, 133, 133),
                (690, 0, 40, 134, 134),
                (716, 0, 34, 122, 122),
                (722, 0, 0, 0, 0),
            ],
            x=k * 252,
            boxy=4.5,
            rings=50,
        )
        f.add(f"load_{side}_lid", lid, "leather", f"lid_{side}")
        for j, z in enumerate((-62, 62)):
            belt = pillow(
                [(-13, -86), (13, -86), (13, 60), (-13, 60)],
                10,
                origin=(k * 291, 650, z),
                right=(0, 0, 1),
                soft=0.05,
                smooth=False,
            )
            f.add(f"load_{side}_belt{j}", belt, "strap", f"belt_{side}{j}", 0.8)
            buckle = pillow(oval(0, 0, 19, 15)[::4], 10, origin=(k * 295, 606, z), right=(0, 0, 1))
            f.add(f"load_{side}_buckle{j}", buckle, "brass", f"buckle_{side}{j}", 0.8)
        for j, (z, y, t) in enumerate(((-40, 728, 10), (36, 736, -12))):
            sheet = pillow(
                [(-48, -36), (48, -36), (48, 36), (-48, 36)],
                6,
                origin=(k * (208 + 12 * j), y, z),
                right=(0, 0, 1),
                soft=0.05,
                smooth=False,
            )
            f.add(
                f"load_{side}_letter{j}",
                turned(turned(sheet, t, (0, y, z), "x"), 18 - 32 * j, (k * 212, y, z)),
                "paper",
                f"letter_{side}{j}",
            )
    roll = tube(
        [(-150, 816, 0), (0, 822, 0), (150, 816, 0)],
        [50, 50, 50],
        side=(0, 1, 0),
        cap=0.15,
        rings=40,
    )
    f.add("load_roll", roll, "roll", "roll")
    for x in (-96, 96):
        tie = tube(
            [(x - 13, 819, 0), (x + 13, 819, 0)], [55, 55], side=(0, 1, 0), cap=0.15, rings=12
        )
        f.add(f"load_tie{x}", tie, "strap", f"tie{x}", 0.9)
    for k in (1, -1):
        coil = spline(
            [
                (-k * 0 + 34 * np.cos(t) * (1 - t / 16), 816 + 34 * np.sin(t) * (1 - t / 16))
                for t in np.linspace(0, 12, 40)
            ],
            120,
        )
        f.stroke(("load_roll",), f.drape(("load_roll",), coil, -k * 90), 3.4, taper=0.1)
    a = np.linspace(0, 2 * np.pi, 13)
    middle, out, over = np.array([0, 792, 350]), np.array([0, -0.5, 0.87]), np.array([1.0, 0, 0])
    ring = middle + 98 * np.cos(a)[:, None] * out + 92 * np.sin(a)[:, None] * over
    f.add(
        "load_collar",
        tube(ring, np.full(13, 17.0), side=(0, 0.87, 0.5), flat=0.6, rings=60, cap=0.2),
        "seal",
        "collar",
    )
    bell = stack(
        [
            (638, 446, 0, 0, 0),
            (640, 446, 50, 50, 50),
            (652, 446, 52, 52, 52),
            (690, 446, 38, 38, 38),
            (722, 446, 26, 26, 26),
            (730, 446, 0, 0, 0),
        ],
        rings=40,
    )
    f.add("load_bell", bell, "brass", "bell")
    f.paint(("load_bell",), lambda on: (on.y < 664) & (on.y > 654), "strap", "bellband")
    f.add("load_clapper", ball((0, 634, 446), (13, 14, 13)), "strap", "clapper")

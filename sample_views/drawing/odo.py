"""Odo, lanky courier of the Kettle Pass Post: six heads of legs, nose and good intentions."""

import numpy as np

from drawing.figure import Figure, Material, inside, oval, rgb
from drawing.odo_head import add_cap, add_head
from drawing.solids import ball, farthest, pillow, spline, stack, tube, turned, warp

CROWN = 1320.0
CANVAS = (1000, 1500, 500, 1440)


def _materials() -> dict[str, Material]:
    def m(base: str, shade: str, edge: float = 0.05) -> Material:
        return Material(rgb(base), rgb(shade), edge)

    return {
        "skin": m("f0b98d", "d98f6b", 0.0),
        "blush": m("e8946f", "cf7a5c", 0.0),
        "hair": m("b4552d", "8d3d24", 0.1),
        "coat": m("2f6f78", "23545f", 0.05),
        "cuff": m("e9b44c", "c98e35", 0.0),
        "cap": m("2f6f78", "23545f", 0.1),
        "peak": m("3a2f3b", "2a2029", 0.1),
        "scarf": m("e9b44c", "c98e35", 0.05),
        "breeches": m("e6d9bd", "c4b08f", 0.05),
        "sock": m("f3ead6", "d2c2a4", 0.05),
        "stripe": m("b8452f", "943427", 0.05),
        "boot": m("6b4230", "4f2f26", 0.05),
        "sole": m("3a2a2a", "2a2029", 0.0),
        "leather": m("b5703c", "8f532d", 0.05),
        "brass": m("f3c95c", "cf973a", 0.1),
        "paper": m("f8f1de", "dccdb0", 0.0),
        "white": m("fdf8ee", "e2d6cb", -0.6),
        "ink": m("2a2029", "2a2029", 0.0),
        "seal": m("b8452f", "943427", 0.0),
        "feather": m("d9583c", "ad3f30", 0.0),
    }


def build() -> Figure:
    """Odo's solid, paint and true landmarks."""
    f = Figure("Odo", _materials())
    _legs(f)
    _body(f)
    _arms(f)
    add_head(f, CROWN)
    add_cap(f)
    _satchel(f)
    return f


def _legs(f: Figure) -> None:
    hip, knee, ankle = (52, 690, 0), (62, 374, 8), (70, 78, -8)
    f.add_pair(
        "leg_breeches",
        tube(
            [hip, (57, 560, 6), (61, 470, 8), (63, 410, 8), (63, 356, 6), (63, 340, 5)],
            [52, 49, 53, 58, 47, 36],
            boxy=2.2,
            cap=0.3,
        ),
        "breeches",
        "breeches",
    )
    f.add_pair(
        "leg_sock",
        tube(
            [(63, 372, 6), (65, 320, -2), (67, 245, -8), (69, 150, -6), ankle],
            [32, 33, 36, 27, 25],
        ),
        "sock",
        "sock",
    )
    f.paint(
        ("leg_sock",),
        lambda on: np.mod(on.y - 16, 44) < 20,
        "stripe",
        "stripe",
        0.7,
    )
    f.add_pair(
        "leg_garter", tube([(63, 348, 5), (63, 334, 4)], [41, 41], cap=0.35), "cuff", "garter"
    )
    boot = tube(
        [(69, 150, -8), (70, 110, -9), (71, 60, -10), (72, 40, -8)], [36, 33, 35, 36], cap=0.2
    )
    f.add_pair("leg_boot_shaft", boot, "boot", "boot")
    foot = tube(
        [(68, 36, -34), (72, 46, 0), (82, 38, 52), (92, 35, 104)],
        [34, 37, 38, 40],
        flat=0.98,
        cap=0.8,
    )
    foot = warp(foot, lambda x, y, z: (x, np.maximum(y, 9), z))
    f.add_pair("leg_boot_foot", foot, "boot", "boot")
    sole = tube(
        [(68, 8, -36), (72, 8, 0), (82, 8, 52), (92, 8, 106)],
        [38, 38, 41, 43],
        flat=0.21,
        cap=0.8,
        boxy=3,
    )
    f.add_pair(
        "leg_boot_sole", warp(sole, lambda x, y, z: (x, np.maximum(y, 0), z)), "sole", "sole"
    )
    f.add_pair(
        "leg_boot_top", tube([(69, 162, -8), (69, 136, -8)], [42, 40], cap=0.4), "boot", "boottop"
    )
    for k in (1, -1):
        for y, half in ((122, 19), (103, 19), (84, 20)):
            lace = spline([(k * 74 - half, y + 3), (k * 75, y - 4), (k * 76 + half, y + 3)], 16)
            f.stroke(
                ("leg_boot_shaft",), f.drape(("leg_boot_shaft",), lace), 3.8, rgb("e9d9b8"), 0.1
            )
    f.paint(("leg_breeches",), lambda on: (on.v < 0.026) | (on.v > 0.974), "stripe", "piping", 0.6)
    f.mark_pair("hip", hip, "leg")
    f.mark_pair("knee", knee, "leg")
    f.mark_pair("ankle", ankle, "leg")
    f.mark_pair("toe", farthest(foot, (0.18, 0, 1)), "leg")
    f.mark_pair("heel", farthest(foot, (-0.1, 0, -1)), "leg")
    f.mark("crotch", (0, 668, 0), "leg", "coat")


def _body(f: Figure) -> None:
    torso = stack(
        [
            (566, 0, 0, 0, 0),
            (568, 0, 70, 52, 54),
            (576, 0, 132, 92, 98),
            (590, 0, 138, 94, 100),
            (640, 0, 128, 86, 92),
            (720, 0, 106, 70, 76),
            (800, 0, 86, 56, 58),
            (880, 0, 98, 64, 60),
            (960, -2, 112, 72, 64),
            (1016, -6, 112, 62, 60),
            (1044, -8, 82, 44, 46),
            (1058, -8, 46, 34, 36),
            (1062, -8, 0, 0, 0),
        ],
        boxy=2.25,
        rings=90,
    )
    f.add("coat_body", torso, "coat", "coat")
    belt = stack(
        [
            (780, 0, 0, 0, 0),
            (781, 0, 90, 62, 64),
            (786, 0, 97, 67, 69),
            (814, 0, 97, 67, 68),
            (819, 0, 90, 62, 63),
            (820, 0, 0, 0, 0),
        ],
        boxy=2.25,
        rings=50,
    )
    f.add("coat_belt", belt, "leather", "belt")
    f.add(
        "coat_buckle", pillow(oval(0, 0, 22, 19)[::4], 12, origin=(0, 800, 66)), "brass", "buckle"
    )
    for i, y in enumerate((868, 932, 994)):
        for side in (-1, 1):
            if (i, side) == (0, -1):
                continue  # under the strap
            x = side * (30 + 4 * i)
            z = f.drape(("coat_body",), [(x, y), (x, y)])[0, 2]
            f.add(
                f"coat_button_{i}{side}",
                ball((x, y, z), (11, 11, 7), rings=16, segments=20),
                "brass",
                "button",
                0.8,
            )
    line = np.array([(0, 1046), (0, 950), (0, 818)])
    f.stroke(("coat_body",), f.drape(("coat_body",), spline(line, 60)), 3.6, taper=0.05)
    f.stroke(
        ("coat_body",),
        f.drape(("coat_body",), spline([(0, 784), (-2, 700), (-7, 580)], 60)),
        4.2,
        taper=0.05,
    )
    back = spline([(0, 730), (0, 660), (0, 576)], 60)
    f.stroke(("coat_body",), f.drape(("coat_body",), back, 180), 4.2, taper=0.1)
    for yaw, x in ((35, 106), (-35, -106)):
        flap = np.array([(x - 34, 716), (x + 34, 716), (x + 34, 688), (x, 682), (x - 34, 688)])
        f.paint(("coat_body",), inside(flap, yaw), "coat", f"pocket{x}", 1.0)
    f.paint(("coat_body",), lambda on: (on.y < 592) & (on.y > 572), "cuff", "hem", 0.7)
    # Collar and neckerchief.
    f.add("neck", tube([(0, 1050, -8), (0, 1140, -2)], [35, 34]), "skin", "skin")
    scarf = tube(
        [
            (0, 1070, -50),
            (44, 1066, -34),
            (56, 1058, 2),
            (34, 1048, 38),
            (0, 1044, 50),
            (-34, 1048, 38),
            (-56, 1058, 2),
            (-44, 1066, -34),
            (0, 1070, -50),
        ],
        [19, 19, 20, 21, 21, 21, 20, 19, 19],
        side=(0, 1, 0),
        flat=0.9,
        rings=80,
    )
    f.add("scarf_ring", scarf, "scarf", "scarf")
    f.add("scarf_knot", ball((0, 1040, 62), (22, 20, 18)), "scarf", "knot")
    for side in (1, -1):
        end = tube(
            [(0, 1036, 64), (side * 20, 1004, 70), (side * 34, 962, 72)],
            [8, 18, 24],
            flat=0.35,
            cap=0.25,
        )
        f.add(f"scarf_end{side}", end, "scarf", f"scarfend{side}")
    # The post's enamel badge, on the left breast only.
    shield = [(-23, 22), (0, 26), (23, 22), (22, -6), (0, -29), (-22, -6)]
    z = f.drape(("coat_body",), [(76, 936), (76, 936)])[0, 2]
    f.add(
        "badge",
        turned(pillow(shield, 10, origin=(76, 936, z + 2)), 26, (76, 936, z), "y"),
        "brass",
        "badge",
    )
    f.paint(("badge",), inside(oval(75, 936, 11, 9)), "seal", "badgeface", 0.6)
    f.mark("badge", (76, 936, z + 6), "badge")
    f.mark("waist", (0, 800, 62), "coat")
    f.mark("spine", (0, 830, 0), "coat")
    f.mark("neck", (0, 1062, -6), "neck", "scarf", "coat")


def _arms(f: Figure) -> None:
    shoulder, elbow, wrist = (106, 1020, -6), (172, 826, -16), (232, 648, 10)
    sleeve = tube(
        [(72, 1034, -6), (108, 1006, -8), (138, 930, -12), elbow, (204, 736, -4), (228, 660, 8)],
        [30, 44, 41, 36, 34, 38],
        rings=60,
        cap=0.5,
    )
    f.add_pair("arm_sleeve", sleeve, "coat", "coat")
    cuff = tube([(216, 696, 3), (231, 652, 9)], [43, 46], cap=0.25)
    f.add_pair("arm_cuff", cuff, "cuff", "cuff")
    # The hand hangs with its thumb forward: index to little finger runs from front to back.
    row = np.array([-0.62, 0, 0.78])
    palm = tube(
        [(231, 656, 9), (239, 622, 13), (247, 588, 17)], [20, 31, 30], side=row, flat=0.58, cap=0.6
    )
    f.add_pair("arm_hand_palm", palm, "skin", "hand")
    for k, (off, long) in enumerate(((-21, 46), (0, 60), (21, 54))):
        root = np.array([247, 588, 17]) + off * row
        curl = np.array([-0.78, 0, -0.62]) * (9 - 0.25 * off)
        out = off * 0.1 * row + (5, 0, 5)
        tip = [
            root,
            root + out + 0.2 * curl + (0, -0.55 * long, 0),
            root + out + curl + (0, -long, 0),
        ]
        finger = tube(tip, [11, 12.5, 10], rings=20, segments=20)
        f.add_pair(f"arm_hand_finger{k}", finger, "skin", "hand")
        if off == 0:
            f.mark_pair("fingertip", farthest(finger, (0, -1, 0)), "arm")
    thumb = tube(
        [(228, 634, 28), (216, 602, 44), (217, 574, 48)], [14, 13.5, 10.5], rings=20, segments=20
    )
    f.add_pair("arm_hand_thumb", thumb, "skin", "hand")
    for x in (1, -1):
        crease = [(x * 150, 838), (x * 166, 822), (x * 178, 818)]
        f.stroke(("arm_sleeve",), f.drape(("arm_sleeve",), spline(crease, 20)), 3.4)
    f.mark_pair("shoulder", shoulder, "arm", "coat")
    f.mark_pair("elbow", elbow, "arm")
    f.mark_pair("wrist", wrist, "arm")


def _satchel(f: Figure) -> None:
    """Strap from the left shoulder to the bag on the right hip."""
    front = [(58, 1052), (44, 1030), (20, 970), (-14, 900), (-46, 836), (-72, 790)]
    chest = f.drape(("coat_body", "coat_belt"), spline(front, 14))
    rear = [(-58, 1052), (-44, 1030), (-20, 970), (14, 900), (46, 836), (72, 790)]
    behind = f.drape(("coat_body", "coat_belt"), spline(rear, 14), 180)
    push = np.array([0, 0, 2.5])
    loop = np.vstack(
        [
            [(-136, 690, 50), (-114, 742, 54)],
            chest[::-1] + push,
            [(60, 1062, -10)],
            behind - push,
            [(-114, 742, -54), (-136, 690, -50)],
        ]
    )
    f.add(
        "strap",
        tube(
            loop,
            np.full(len(loop), 13.0),
            flat=0.28,
            side=(0.75, 0.65, 0),
            rings=140,
            segments=24,
            boxy=3,
            cap=0.3,
        ),
        "leather",
        "strap",
    )
    bag = stack(
        [
            (560, 0, 0, 0, 0),
            (562, 0, 26, 66, 66),
            (572, 0, 36, 78, 78),
            (660, 0, 36, 80, 80),
            (716, 0, 32, 78, 78),
            (724, 0, 22, 66, 66),
            (726, 0, 0, 0, 0),
        ],
        boxy=4.5,
        rings=70,
        x=-142,
    )
    f.add("bag_body", bag, "leather", "bag")
    flap = stack(
        [
            (636, 0, 0, 0, 0),
            (637, 0, 14, 74, 74),
            (650, 0, 18, 83, 83),
            (716, 0, 22, 84, 84),
            (734, 0, 20, 78, 78),
            (738, 0, 0, 0, 0),
        ],
        boxy=4.5,
        rings=60,
        x=-162,
    )
    f.add("bag_flap", flap, "leather", "flap")
    for z in (-70, 70):
        seam = spline([(-z * 1.0, 728), (-z, 690), (-z * 0.94, 646)], 20)
        f.stroke(("bag_flap",), f.drape(("bag_flap",), seam, 90), 2.6, rgb("7a4526"), 0.05)
    f.add(
        "bag_buckle",
        pillow(oval(0, 0, 15, 19)[::4], 10, origin=(-185, 650, 0), right=(0, 0, 1)),
        "brass",
        "bagbuckle",
    )
    letter = [(-40, -34), (40, -34), (40, 34), (-40, 34)]
    for k, (z, y, t) in enumerate(((-30, 722, 12), (30, 716, -9))):
        sheet = pillow(
            letter, 5, origin=(-132 - 8 * k, y, z), right=(0, 0, 1), soft=0.04, smooth=False
        )
        f.add(
            f"bag_letter{k}",
            turned(turned(sheet, t, (-132, y, z), "x"), 45 - 80 * k, (-132, y, z)),
            "paper",
            f"letter{k}",
        )

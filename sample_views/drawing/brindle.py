"""Brindle, mail goat of the Kettle Pass Post: four good legs, two panniers, one opinion."""

import numpy as np

from drawing.brindle_load import add_load
from drawing.figure import Figure, Material, Surface, inside, oval, rgb
from drawing.solids import ball, farthest, spline, stack, tube, warp

CANVAS = (1500, 1400, 700, 1330)


def _materials() -> dict[str, Material]:
    def m(base: str, shade: str, edge: float = 0.0) -> Material:
        return Material(rgb(base), rgb(shade), edge)

    return {
        "coat": m("c98f57", "a56d41", 0.0),
        "stripe": m("8a5434", "6f4029", 0.0),
        "cream": m("f0dfbf", "d1b993", 0.0),
        "dark": m("5a3a2e", "442b25", 0.1),
        "horn": m("b9a98c", "94836a", 0.05),
        "ring": m("94836a", "776852", 0.05),
        "hoof": m("3f3138", "2a2029", 0.1),
        "blanket": m("2f6f78", "23545f", 0.05),
        "trim": m("e9b44c", "c98e35", 0.05),
        "leather": m("b5583c", "8f412f", 0.05),
        "strap": m("5f372e", "472a25", 0.05),
        "brass": m("f3c95c", "cf973a", 0.1),
        "paper": m("fbf4e2", "dccdb0", -0.2),
        "roll": m("c8ced0", "9fa8ae", 0.05),
        "white": m("f7e3a8", "e4c97f", -0.8),
        "ink": m("2a2029", "2a2029"),
        "pink": m("d99a8a", "b97a6e", 0.0),
        "seal": m("b8392f", "8f2b2a", 0.0),
    }


def build() -> Figure:
    """Brindle's solid, paint and true landmarks."""
    f = Figure("Brindle", _materials())
    _barrel(f)
    for side, k in (("l", 1), ("r", -1)):
        _legs(f, side, k)
    _neck_and_head(f)
    add_load(f)
    return f


BARREL = [
    (-378, 640, 0, 0, 0),
    (-374, 640, 60, 66, 70),
    (-346, 642, 108, 118, 130),
    (-280, 640, 142, 148, 160),
    (-160, 630, 154, 150, 172),
    (0, 620, 162, 150, 184),
    (170, 632, 150, 160, 184),
    (280, 648, 124, 156, 170),
    (346, 652, 80, 118, 118),
    (366, 652, 44, 70, 70),
    (370, 652, 0, 0, 0),
]


def _barrel(f: Figure) -> None:
    f.add("body_barrel", stack(BARREL, axis="z", rings=110, segments=90), "coat", "coat")
    f.paint(("body_barrel",), _brindling, "stripe", "coat")
    f.paint(("body_barrel",), lambda on: on.y < 500 + 12 * np.sin(on.z / 23), "cream", "coat")
    tail = tube(
        [(0, 744, -346), (0, 796, -388), (0, 852, -400), (0, 876, -402)],
        [32, 34, 29, 22],
        flat=0.8,
        rings=30,
    )
    f.add("tail_main", tail, "coat", "tail")
    f.add(
        "tail_tuft",
        tube(
            [(0, 852, -400), (0, 892, -410), (0, 926, -436), (0, 940, -462)],
            [31, 29, 17, 3],
            rings=30,
        ),
        "dark",
        "tailtuft",
    )
    for j, (x, y, z) in enumerate(
        ((-66, 610, 318), (66, 610, 318), (-36, 640, 340), (36, 640, 340), (0, 610, 350))
    ):
        tuft = tube(
            [(x, y, z), (x * 1.04, y - 70, z + 30), (x * 0.8, y - 160, z + 8)],
            [48, 42, 4],
            flat=0.6,
            rings=24,
            segments=24,
        )
        f.add(f"body_bib{j}", tuft, "cream", "bib")
    barrel = f.parts[0].grid.reshape(-1, 3)
    croup = barrel[np.argmin(np.abs(barrel[:, 2] + 280) + np.abs(barrel[:, 0]) * 4 - barrel[:, 1])]
    f.mark("withers", (0, 790, 210), "body", "neck", behind=130)
    f.mark("croup", (0, croup[1], croup[2]), "body")
    f.mark("brisket", (0, 500, 344), "body", behind=130)
    f.mark("belly", (0, 437, 20), "body")
    f.mark("spine", (0, 700, -60), "body")
    f.mark("tail_base", (0, 742, -366), "tail", "body")
    f.mark("tail", (0, 738, -352), "tail", "body")
    f.mark("tail_tip", (0, 940, -462), "tail")


def _brindling(on: Surface) -> np.ndarray:
    """Broken dark stripes, running down from the spine."""
    wave = on.z / 13 + 1.6 * np.sin(on.y / 55) + 0.9 * np.sin(on.z / 71 + on.y / 33)
    broken = np.sin(on.y / 41 + on.z / 29) + 0.8 * np.sin(on.z / 17 - on.y / 61)
    return (
        (np.sin(wave) > 0.45)
        & (broken > -0.55)
        & (on.z > -322)
        & (on.y > 545 + 42 * np.sin(on.z / 31))
    )


def _legs(f: Figure, side: str, k: int) -> None:
    x = k * 100
    fore = {
        "shoulder": (k * 104, 640, 236),
        "fore_elbow": (x, 470, 206),
        "fore_knee": (x, 270, 224),
        "fore_fetlock": (x, 92, 214),
    }
    hind = {
        "hip": (k * 96, 650, -262),
        "hind_stifle": (k * 108, 480, -196),
        "hind_hock": (x, 272, -312),
        "hind_fetlock": (x, 92, -292),
    }
    front = tube(
        [
            (k * 92, 640, 236),
            (k * 100, 540, 222),
            fore["fore_elbow"],
            (x, 370, 214),
            fore["fore_knee"],
            (x, 180, 216),
            fore["fore_fetlock"],
            (x, 66, 222),
        ],
        [84, 84, 66, 44, 42, 31, 36, 38],
        flat=0.9,
        side=(0, 0, 1),
        rings=80,
    )
    back = tube(
        [
            (k * 86, 650, -262),
            (k * 104, 560, -236),
            (k * 106, 480, -226),
            (k * 104, 380, -270),
            hind["hind_hock"],
            (x, 180, -302),
            hind["hind_fetlock"],
            (x, 66, -284),
        ],
        [104, 112, 96, 56, 42, 32, 36, 38],
        flat=0.72,
        side=(0, 0, 1),
        rings=80,
    )
    for name, grid, z in (("fore", front, 230), ("hind", back, -276)):
        f.add(f"{name}_{side}_leg", grid, "coat", "coat")
        f.paint((f"{name}_{side}_leg",), _brindling, "stripe", "coat")
        f.paint(
            (f"{name}_{side}_leg",), lambda on: on.y < 236 + 9 * np.sin(on.v * 25), "cream", "coat"
        )
        for j, (dx, dz) in enumerate(((-24, 22), (22, 22), (24, -22), (-22, -22))):
            tuft = tube(
                [
                    (x + dx, 132, z - 14 + dz),
                    (x + dx * 1.25, 104, z - 14 + dz * 1.3),
                    (x + dx * 1.35, 66, z - 12 + dz * 1.5),
                ],
                [19, 17, 3],
                rings=16,
                segments=14,
            )
            f.add(f"{name}_{side}_feather{j}", tuft, "cream", "coat")
        hoof = stack(
            [
                (0, z + 6, 0, 0, 0),
                (2, z + 6, 46, 54, 42),
                (16, z + 5, 49, 58, 45),
                (50, z, 43, 46, 41),
                (74, z - 4, 34, 32, 34),
                (82, z - 4, 0, 0, 0),
            ],
            x=x,
            boxy=2.3,
            rings=30,
            segments=40,
        )
        f.add(f"{name}_{side}_hoof", hoof, "hoof", f"hoof_{name}_{side}")
        cleft = np.array([(x, 64), (x + 1, 30), (x, 4)])
        f.stroke(
            (f"{name}_{side}_hoof",),
            f.drape((f"{name}_{side}_hoof",), spline(cleft, 20)),
            3.4,
            rgb("8a7076"),
        )
        f.mark(f"{name}_hoof_{side}", farthest(hoof, (0, 0, 1)), f"{name}_{side}")
    for names, owner in ((fore, f"fore_{side}"), (hind, f"hind_{side}")):
        for joint, at in names.items():
            f.mark(f"{joint}_{side}", at, owner, "body")


def _neck_and_head(f: Figure) -> None:
    neck = tube(
        [(0, 650, 250), (0, 760, 330), (0, 880, 400), (0, 960, 430)],
        [132, 112, 86, 74],
        flat=0.98,
        side=(0, 0, 1),
        rings=50,
        segments=60,
    )
    f.add("neck_main", warp(neck, lambda x, y, z: (x * 0.84, y, z)), "coat", "coat")
    f.paint(("neck_main",), _brindling, "stripe", "coat")
    skull = tube(
        [(0, 984, 414), (0, 976, 468), (0, 946, 528), (0, 908, 588), (0, 880, 634), (0, 868, 652)],
        [66, 84, 76, 58, 54, 48],
        boxy=2.2,
        flat=1.06,
        cap=0.7,
        rings=60,
        segments=60,
    )
    f.add("head_skull", skull, "coat", "coat")
    f.paint(
        ("head_skull",),
        inside([(-20, 1080), (20, 1080), (26, 960), (44, 800), (-44, 800), (-26, 960)]),
        "cream",
        "coat",
    )
    f.paint(("head_skull",), lambda on: on.z - 0.45 * (on.y - 880) > 622, "cream", "coat")
    jaw = tube(
        [(0, 918, 470), (0, 868, 540), (0, 838, 600), (0, 832, 636)],
        [54, 46, 37, 30],
        rings=40,
        cap=0.9,
    )
    f.add("head_jaw", jaw, "cream", "coat")
    nose = inside(oval(0, 884, 34, 19))
    f.paint(("head_skull",), lambda on: nose(on) & (on.z > 600), "pink", "nose", 0.8)
    for k in (1, -1):
        nostril = spline([(k * 10, 890), (k * 20, 893), (k * 24, 884)], 14)
        f.stroke(("head_skull",), f.drape(("head_skull",), nostril), 5.0)
        side_nostril = spline([(-k * 664, 894), (-k * 654, 900), (-k * 646, 892)], 14)
        f.stroke(("head_skull",), f.drape(("head_skull",), side_nostril, -k * 90), 4.6)
        smile = spline([(k * 2, 853), (k * 22, 846), (k * 36, 848)], 24)
        f.stroke(("head",), f.drape(("head",), smile), 4.4, taper=0.15)
        cheek = spline([(-k * 648, 848), (-k * 622, 850), (-k * 594, 864), (-k * 580, 880)], 24)
        f.stroke(("head",), f.drape(("head",), cheek, -k * 90), 4.4, taper=0.15)
    for side, k in (("l", 1), ("r", -1)):
        eye = (k * 64, 972, 508)
        f.add(f"head_eye_{side}", ball(eye, (31, 31, 35)), "white", f"eye_{side}", 1.0)

        def bar(on: Surface, k: int = k, eye: tuple[int, int, int] = eye) -> np.ndarray:
            turn = np.degrees(np.arctan2((on.x - eye[0]) * k, on.z - eye[2]))
            return (np.abs(on.y - eye[1] + 4) < 8) & (turn > 22) & (turn < 92)

        f.paint((f"head_eye_{side}",), bar, "ink", f"pupil_{side}")
        f.paint(
            (f"head_eye_{side}",),
            lambda on: on.y > 985 - 0.2 * (on.z - 508),
            "coat",
            f"lid_{side}",
            1.1,
        )
        brow = tube(
            [(k * 62, 1012, 540), (k * 76, 1020, 512), (k * 78, 1010, 482)],
            [6, 9, 5],
            rings=20,
            segments=16,
        )
        f.add(f"head_brow_{side}", brow, "dark", f"brow_{side}", 0.8)
        f.mark(f"eye_{side}", (k * 92, 968, 520), f"head_eye_{side}")
        horn = tube(
            [
                (k * 34, 1016, 444),
                (k * 48, 1092, 434),
                (k * 80, 1156, 384),
                (k * 122, 1166, 316),
                (k * 156, 1124, 264),
            ],
            [34, 31, 26, 19, 5],
            rings=80,
            segments=36,
            flat=0.85,
        )
        f.add(f"horn_{side}", horn, "horn", f"horn_{side}")
        f.paint(
            (f"horn_{side}",),
            lambda on: (np.mod(on.u * 13, 1) < 0.3) & (on.u < 0.82),
            "ring",
            f"horn_{side}",
        )
    ear = tube(
        [(62, 1000, 420), (108, 1004, 414), (160, 984, 420), (206, 944, 430)],
        [20, 34, 34, 5],
        side=(0, 0.55, 0.8),
        flat=0.34,
        rings=36,
    )
    f.add_pair("ear", ear, "coat", "ear")
    inner = lambda on: (on.v > 0.1) & (on.v < 0.4) & (on.u > 0.3) & (on.u < 0.85)  # noqa: E731
    f.paint(("ear",), inner, "pink", "earin", 0.8)
    f.mark_pair("ear", farthest(ear, (1, 0, 0)), "ear")
    for j, (x, dx, low) in enumerate(((-24, -26, 996), (24, 28, 990), (-6, -8, 972), (12, 8, 984))):
        lock = tube(
            [
                (x, 1030, 436),
                (x + dx * 0.5, 1056, 486),
                (x + dx, low + 30, 536),
                (x + dx * 1.1, low, 556),
            ],
            [26, 26, 18, 3],
            flat=0.6,
            rings=30,
            segments=20,
        )
        f.add(f"head_forelock{j}", lock, "dark", "forelock")
    for j, (x, z, long) in enumerate(((-16, 606, 104), (16, 606, 96), (0, 618, 138), (0, 588, 90))):
        beard = tube(
            [(x, 828, z), (x * 1.3, 770, z + 2), (x * 0.6, 816 - long, z - 20)],
            [24, 19, 3],
            rings=24,
            segments=18,
        )
        f.add(f"head_beard{j}", beard, "dark", "beard")
    f.mark(
        "crown",
        skull.reshape(-1, 3)[skull[..., 1].argmax()] * (0, 1, 1),
        "head",
        "horn",
        behind=130,
    )
    horn = f.named(("horn_l",))[0].grid.reshape(-1, 3)
    f.mark("horn_top", horn[horn[:, 1].argmax()] * (0, 1, 1), "horn", behind=200)
    f.mark("poll", (0, 1040, 424), "head", "neck", "horn", behind=130)
    f.mark("chin", (0, 803, 628), "head_jaw", "head_beard")
    f.mark("muzzle", (0, 850, 668), "head")
    f.mark("nose_tip", (0, 888, 688), "head_skull")
    f.mark("head", (0, 966, 424), "head", "neck", "ear")
    f.mark("jaw", (0, 924, 474), "head")
    f.mark("neck", (0, 690, 276), "neck", "body", "load_collar")

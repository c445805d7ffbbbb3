"""Files and command lines of a user, damaged and turned about at random."""

from __future__ import annotations

import io
import os
import random
import re
import struct
import zlib
from collections.abc import Callable, Mapping
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

from tests.sheets import HEIGHT, VIEWS, WIDTH, csv_text, picture, placed, toml_text
from tests.strategies import NASTY

NUMBERS = ("0", "-0", "-1", "1e308", "-1e308", "1e-320", "nan", "inf", "0.5", "1e9", "359.9999999",
           "1" * 400, "1_000", "0x10", "٣", "1,5", "+3", "")  # fmt: skip
CHOICES = {
    "placing": ("canvas", "ground", "fit"),
    "reference": ("front", "side", "back", *["consensus"] * 4, "nobody"),
    "vocabulary": ("biped", "biped", "biped", "quadruped", "lantern.toml", "../x.toml"),
    "symmetric": ("true", "false"),
    "placing_sd": ("0.001", "0.15", "10", "5"),
}
DOTS = '\n[dots]\nneck = "#d9a066"\nhip_l = "#306082"\nknee_l = "#45283c"\n'
EXTRAS = (
    "[tolerances]\nheight = 0.001\nyaw = 1000\noutline = 1000\npalette = 0.001",
    '[landmarks.badge]\nkind = "width"\nsymmetric = false\n[landmarks."knee_*"]\ntolerance = 2',
    '[[proportions]]\nname = "thigh *"\nof = ["hip_*", "knee_*"]\nto = ["knee_*", "ankle_*"]',
    '[[proportions]]\nname = "none"\nof = ["chin", "chin"]\nto = ["crown", "chin"]',
    '[[waivers]]\ncheck = "height"\nview = "side"\nsubject = "chin"\nreason = "so"\nby = "me"',
    DOTS,
    '[views.yaw_30]\nimage = "front.png"\nyaw = 30',
)
MODES = ("1", "L", "LA", "P", "PA", "RGB", "RGBA", "RGBa", "CMYK", "YCbCr", "LAB", "HSV", "I", "F",
         "I;16")  # fmt: skip
KINDS = ("PNG", "JPEG", "WEBP", "TIFF", "BMP", "GIF", "MPO", "ICO", "TGA", "PPM", "JPEG2000")
NAMES = ("front.png", "side.png", "back.png", "three_quarter.png")

Rolled = random.Random


def few(rolled: Rolled, most: int = 3) -> range:
    return range(rolled.choice([1] * 3 + list(range(1, most + 1))))


def text(rolled: Rolled, data: bytes) -> bytes:
    """A text with some of its lines, numbers or pieces changed, or another encoding."""
    said = data.decode("utf-8", "replace")
    for _ in few(rolled, 5):
        said = rolled.choice((_lines, _number, _piece, _piece))(rolled, said)
    encoding = rolled.choice(["utf-8"] * 8 + ["utf-8-sig", "utf-16", "utf-32", "latin-1"])
    written = said.encode(encoding, "replace")
    if rolled.random() < 0.1:
        written = written.replace(b"\n", rolled.choice((b"\r\n", b"\r", b"\n\n")))
    return raw(rolled, written) if rolled.random() < 0.1 else written


def _lines(rolled: Rolled, said: str) -> str:
    lines = said.splitlines()
    for _ in few(rolled, 20):
        if not lines:
            break
        at = rolled.randrange(len(lines))
        change = rolled.randrange(4)
        if change == 0:
            del lines[at]
        elif change == 1:
            lines.insert(rolled.randrange(len(lines)), lines[at])
        elif change == 2:
            lines[at : at + 1] = [lines[at]] * rolled.choice((2, 3, 300))
        else:
            lines[at] = rolled.choice(lines)
    return "\n".join(lines)


def _number(rolled: Rolled, said: str) -> str:
    share = rolled.choice((0.01, 0.05, 0.5))

    def changed(found: re.Match[str]) -> str:
        if rolled.random() > share:
            return found[0]
        return rolled.choice((*NUMBERS, f"{float(found[0]) * rolled.uniform(-2, 3):.4f}"))

    return re.sub(r"-?[0-9]{1,9}(\.[0-9]+)?", changed, said)


def _piece(rolled: Rolled, said: str) -> str:
    at = rolled.randrange(len(said) + 1)
    end = min(len(said), at + rolled.choice((0, 1, 5, 30, 1000)))
    new = rolled.choice(("", rolled.choice(NASTY), said[at:end] * 2, chr(rolled.randrange(0xD800))))
    return said[:at] + new + said[end:]


def raw(rolled: Rolled, data: bytes) -> bytes:
    """Bytes with some changed, cut short, or doubled."""
    changed = bytearray(data)
    for _ in few(rolled, 12):
        if changed:
            changed[rolled.randrange(len(changed))] = rolled.randrange(256)
    if rolled.random() < 0.4:
        changed = changed[: rolled.randrange(len(changed) + 1)]
    return bytes(changed * rolled.choice((1, 1, 1, 2)))


def sheet(rolled: Rolled) -> tuple[bytes, bytes]:
    """A sheet with other choices than the usual, and a table of its body that mostly read."""
    views = dict(VIEWS)
    if rolled.random() < 0.3:
        views = {name: rolled.uniform(-180, 180) for name in views}
    for name in rolled.sample(sorted(views), rolled.choice((0, 0, 1, 2))):
        del views[name]
    extra = "\n".join(rolled.sample(EXTRAS, rolled.choice((0, 1, 2))))
    told = toml_text(views, extra)
    for key in rolled.sample(sorted(CHOICES), rolled.choice((0, 0, 1, 2))):
        value = rolled.choice(CHOICES[key])
        quoted = value if key in ("symmetric", "placing_sd") else f'"{value}"'
        told = re.sub(rf"^{key} = .*\n", "", told, flags=re.MULTILINE)
        told = f"{key} = {quoted}\n{told}"
    return told.encode(), placings(rolled, views)


def placings(rolled: Rolled, views: Mapping[str, float]) -> bytes:
    """A landmark table that reads, of a body that is moved, thinned out and repeated."""
    spread = rolled.choice((0.0, 0.3, 1.0, 3.0, 3.0, 6.0, 6.0, 60.0))
    kept = rolled.choice((1.0, 1.0, 0.7, 0.2))
    people = rolled.choice((("",), ("",), ("ana", "bo")))
    told = []
    for row in placed(views):
        if row["landmark"] not in ("ground", "crown") and rolled.random() > kept:
            continue
        for by in people:
            x, y = (float(row[name]) + rolled.gauss(0, spread) for name in "xy")
            x, y = min(max(x, 0), WIDTH - 1), min(max(y, 0), HEIGHT - 1)
            hidden = rolled.choice(("visible", "visible", "hidden"))
            cells = {"visibility": hidden, "sd": rolled.choice(("", "", "", "0.001", "100"))}
            told.append(row | {"x": f"{x:.2f}", "y": f"{y:.2f}"} | cells | {"placed_by": by})
    return csv_text(told).encode()


def drawing(rolled: Rolled) -> bytes:
    """A picture: a figure, noise or nothing, of any mode, kind and size, often damaged."""
    make = rolled.choice((_figure, _figure, _noise, _row, _blank))
    image = make(rolled)
    if rolled.random() < 0.5:
        mode = rolled.choice(MODES)
        try:
            image = image.convert(mode)
        except ValueError:
            image = Image.new(mode, image.size)
    data = _saved(rolled, image)
    if rolled.random() < 0.15:
        data = _huge(rolled)
    return raw(rolled, data) if rolled.random() < 0.4 else data


def _figure(rolled: Rolled) -> Image.Image:
    image = Image.open(io.BytesIO(picture())).convert("RGB")
    if rolled.random() < 0.3:
        return image.resize((rolled.choice((1, 2, 7, 60, 900)), rolled.choice((1, 3, 50, 700))))
    return image


def _noise(rolled: Rolled) -> Image.Image:
    size = (rolled.choice((1, 2, 3, 8, 50, 199)), rolled.choice((1, 2, 5, 90, 180)))
    values = np.random.default_rng(rolled.randrange(2**32)).integers(0, 256, (*size, 3))
    return Image.fromarray(values.astype(np.uint8))


def _blank(rolled: Rolled) -> Image.Image:
    size = rolled.choice(((1, 1), (120, 180), (1, 4000), (5000, 1), (2500, 2500), (300, 2)))
    return Image.new("RGBA", size, rolled.choice(("white", "black", "#ff000000", "#80808080")))


def _row(rolled: Rolled) -> Image.Image:
    """Figures in a row, as on a wide sheet."""
    count, gaps = rolled.choice(((rolled.randrange(1, 7), (30, 61, 90, 130)), (4, (90, 130))))
    image = Image.new("RGB", (count * 130 + 40, 220), rolled.choice(("white", "#eeeeee", "black")))
    one = Image.open(io.BytesIO(picture())).convert("RGB").crop((30, 5, 90, 176))
    x = 20
    for _ in range(count):
        image.paste(one, (x, rolled.choice((20, 20, 22, 60))))
        x += rolled.choice(gaps)
    if rolled.random() < 0.3:
        ImageDraw.Draw(image).line((0, 100, image.width, 100), fill="gray", width=2)
    return image


def _saved(rolled: Rolled, image: Image.Image) -> bytes:
    kind = rolled.choice(KINDS) if rolled.random() < 0.5 else "PNG"
    how: dict[str, object] = {}
    if rolled.random() < 0.2:
        exif = Image.Exif()
        exif[0x0112] = rolled.choice((0, 1, 2, 5, 6, 8, 9, 65535))
        how["exif"] = exif.tobytes()
    if kind in ("PNG", "WEBP", "TIFF", "GIF", "MPO") and rolled.random() < 0.2:
        how |= {"save_all": True, "append_images": [image.rotate(90)] * 3}
    for attempt in (image, image.convert("RGB")):
        data = io.BytesIO()
        try:
            attempt.save(data, kind, **how)
            return data.getvalue()
        except (OSError, ValueError, KeyError):  # a kind that doesn't hold this mode
            continue
    return picture()


def _huge(rolled: Rolled) -> bytes:
    """A header that promises more pixels than there are, or than any picture has."""
    width, height = (rolled.choice((1, 12_000, 65_535, 2**31 - 1)) for _ in range(2))

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    if rolled.random() < 0.3:
        start = struct.pack("<2sIHHIIiiHHIIiiII", b"BM", 99, 0, 0, 54, 40, width, -height if
                            height < 2**31 - 1 else 1, 1, 24, 0, 0, 0, 0, 0, 0)  # fmt: skip
        return start + bytes(50)
    depth, colours = rolled.choice(((8, 2), (16, 6), (1, 0), (8, 3), (3, 7)))
    head = struct.pack(">IIBBBBB", width, height, depth, colours, 0, 0, rolled.choice((0, 1)))
    pixels = zlib.compress(bytes(rolled.choice((0, 1000, 3_000_000))))
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    )


def odd_thing(rolled: Rolled, path: Path) -> None:
    """Put something in a file's place that is no file, or none of its owner's."""
    path.unlink(missing_ok=True)
    kind = rolled.randrange(7)
    if kind == 0:
        path.mkdir()
    elif kind == 1:
        os.mkfifo(path)
    elif kind == 2:
        path.symlink_to(rolled.choice((path.name, "gone", "..", "/dev/zero", "/dev/null", "tib")))
    elif kind == 3:
        path.write_bytes(b"")
    elif kind == 4:
        path.write_bytes(rolled.randbytes(2000))
    elif kind == 5:
        path.write_bytes(b"x")
        path.chmod(0o444)


def word(rolled: Rolled) -> str:
    """An argument that few would give."""
    pieces = [
        *(n for n in NASTY if "\0" not in n and len(n) < 100),
        "\x1b[31m",
        "\udcff",
        "-",
        "--",
    ]
    made = "".join(rolled.choice((*pieces, "a", "front", "1")) for _ in few(rolled, 4))
    return rolled.choice((made, made, "", "a" * 300, rolled.choice(NUMBERS)))


def path(rolled: Rolled) -> str:
    """A path below the folder that the run is in, usual or odd; never one that leads out."""
    usual = ("tib", "tib/sheet.toml", "tib/front.png", "tib/landmarks.csv", "wide.png", "new", ".",
             "points.json", "out", "out/report.html", "tib/new.png", "a/b/c", "tib/gone.png",
             "tib/reports", "tib/preview.png", "new/sheet.toml", "new/front.png")  # fmt: skip
    if rolled.random() < 0.8:
        return rolled.choice(usual)
    return word(rolled).replace("/", "").lstrip(".") or "x"


MUTATE_TEXT: tuple[Callable[[Rolled, bytes], bytes], ...] = (text, text, text, raw)


def wide(rolled: Rolled) -> bytes:
    """A wide sheet, often one that can be cut."""
    data = io.BytesIO()
    _row(rolled).save(data, "PNG")
    return data.getvalue()

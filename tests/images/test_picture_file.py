"""Drawings: whatever the file kind, the pixels are those seen; what is broken is refused.

Wanted is what was put into the file; and the two libraries that decode agree, whichever is asked.
"""

from __future__ import annotations

import contextlib
import io
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from tests.sheets import faults_of, picture
from tests.strategies import mutated_bytes, thorough
from turncheck import TurncheckError
from turncheck.errors import FileFaults
from turncheck.images import picture_file
from turncheck.images.describing import describe_drawings
from turncheck.images.picture_file import MOST_PIXELS, Picture, decode, inspect_picture
from turncheck.images.thumbnail import THUMBNAIL_SIDE_MOST, Thumbnail
from turncheck.sheet.model import View

Pixels = npt.NDArray[np.uint8]
ORIENTATION = 0x0112

rng = np.random.default_rng(20)
#: A drawing without any symmetry, smooth enough for JPEG: (30, 40, 3) RGB.
RAMP = np.stack(
    [
        np.add.outer(np.arange(30) * 4.0, np.arange(40) * 2.0),
        np.add.outer(np.arange(30) * 1.0, np.arange(40) * 5.0),
        np.add.outer(240 - np.arange(30) * 6.0, np.arange(40) * 0.3),
    ],
    axis=2,
).astype(np.uint8)
NOISE = rng.integers(0, 256, (30, 40, 3), dtype=np.uint8)
ALPHA = rng.integers(0, 256, (30, 40), dtype=np.uint8)


def inspect(folder: Path, data: bytes, name: str = "a.png") -> Picture:
    (folder / name).write_bytes(data)
    faults = FileFaults("sheet.toml")
    found = inspect_picture(folder, name, "[views.front] image", faults)
    faults.raise_any()
    assert found is not None
    return found


def read(folder: Path, data: bytes, name: str = "a.png") -> Pixels:
    """The pixels as RGB or RGBA; the size said beforehand holds."""
    found = inspect(folder, data, name)
    pixels = decode(found)
    assert pixels.dtype == np.uint8 and pixels.flags.c_contiguous
    assert pixels.shape[:2] == (found.height, found.width)
    return pixels[:, :, [2, 1, 0, 3][: pixels.shape[2]]]


def file_of(image: Image.Image, kind: str, **options: object) -> bytes:
    data = io.BytesIO()
    image.save(data, kind, **options)
    return data.getvalue()


def by_opencv(data: bytes) -> Pixels:
    """Three channels, RGB, turned upright: what an ordinary viewer shows."""
    found = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    assert found is not None
    return found[:, :, ::-1]


RGB = Image.fromarray(NOISE)
GREY = RGB.convert("L")
RGBA = RGB.copy()
RGBA.putalpha(Image.fromarray(ALPHA))
GREY_ALPHA = Image.merge("LA", (GREY, Image.fromarray(ALPHA)))
PALETTE = RGB.quantize(16)
BIT = GREY.convert("1")


@pytest.mark.parametrize(
    ("image", "kind", "options"),
    [
        (RGB, "PNG", {}),
        (GREY, "PNG", {}),
        (BIT, "PNG", {}),
        (PALETTE, "PNG", {}),
        (RGB, "BMP", {}),
        (GREY, "BMP", {}),
        (PALETTE, "BMP", {}),
        (BIT, "BMP", {}),
        (RGB, "TIFF", {}),
        (RGB, "TIFF", {"compression": "tiff_lzw"}),
        (GREY, "TIFF", {"compression": "tiff_lzw"}),
        (PALETTE, "TIFF", {}),
        (BIT, "TIFF", {}),
        (RGB, "WEBP", {"lossless": True}),
    ],
    ids=lambda value: getattr(value, "mode", None) or str(value),
)
def test_an_opaque_drawing_has_its_own_pixels(
    tmp_path: Path, image: Image.Image, kind: str, options: dict[str, object]
) -> None:
    data = file_of(image, kind, **options)
    found = read(tmp_path, data)
    np.testing.assert_array_equal(found, np.asarray(image.convert("RGB")))
    np.testing.assert_array_equal(found, by_opencv(data))


@pytest.mark.parametrize(
    ("image", "kind", "options"),
    [
        (RGBA, "PNG", {}),
        (GREY_ALPHA, "PNG", {}),
        (PALETTE, "PNG", {"transparency": 3}),
        (PALETTE, "PNG", {"transparency": bytes(range(0, 160, 10))}),
        (RGBA, "TIFF", {}),
        (RGBA, "TIFF", {"compression": "tiff_lzw"}),
        (GREY_ALPHA, "TIFF", {}),
        (RGBA, "WEBP", {"lossless": True, "exact": True}),
    ],
    ids=lambda value: getattr(value, "mode", None) or str(value)[:20],
)
def test_a_drawing_with_alpha_keeps_colours_and_alpha(
    tmp_path: Path, image: Image.Image, kind: str, options: dict[str, object]
) -> None:
    data = file_of(image, kind, **options)
    wanted = np.asarray(image.convert("RGBA")).copy()
    if "transparency" in options:
        indices, clear = np.asarray(image), options["transparency"]
        table = np.full(256, 255, np.uint8)
        if isinstance(clear, int):
            table[clear] = 0
        else:
            table[: len(clear)] = np.frombuffer(clear, np.uint8)
        wanted[:, :, 3] = table[indices]
    np.testing.assert_array_equal(read(tmp_path, data), wanted)


@pytest.mark.parametrize("image", [RGB, RGBA], ids=["RGB", "RGBA"])
@pytest.mark.parametrize(
    ("kind", "options"),
    [
        ("PNG", {}),
        ("PNG", {"compress_level": 0}),
        ("PNG", {"icc_profile": b"no profile", "dpi": (300, 300)}),
        ("PNG", {"save_all": True, "append_images": [RGB]}),
        ("WEBP", {"lossless": True}),
        ("WEBP", {"quality": 70}),
        ("WEBP", {"quality": 70, "save_all": True, "append_images": [RGB]}),
    ],
    ids=["png", "stored", "profiled", "moving png", "lossless webp", "webp", "moving webp"],
)
def test_opencv_and_pillow_decode_the_same_pixels(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
    image: Image.Image,
    kind: str,
    options: dict[str, object],
) -> None:
    data = file_of(image, kind, **options)
    if kind == "PNG":  # a gamma changes no pixel
        data = data[:33] + chunk(b"gAMA", struct.pack(">I", 30_000)) + data[33:]
    found = read(tmp_path, data)
    monkeypatch.setattr(picture_file, "_direct", lambda *_: None)
    np.testing.assert_array_equal(found, read(tmp_path, data))
    assert capfd.readouterr() == ("", ""), "the libraries below keep quiet"


def test_a_clear_colour_is_alpha(tmp_path: Path) -> None:
    clear = tuple(NOISE[0, 0].tolist())
    found = read(tmp_path, file_of(RGB, "PNG", transparency=clear))
    np.testing.assert_array_equal(found[:, :, :3], NOISE)
    np.testing.assert_array_equal(found[:, :, 3] == 0, (clear == NOISE).all(axis=2))


def test_a_whole_png_is_not_decoded_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(picture_file, "_eight_bit", lambda _: pytest.fail("Pillow was asked"))
    for image in (RGB, RGBA):
        read(tmp_path, file_of(image, "PNG"))
        read(tmp_path, file_of(image, "WEBP"))


def test_one_clear_grey_level_is_alpha(tmp_path: Path) -> None:
    level = int(np.asarray(GREY)[0, 0])
    found = read(tmp_path, file_of(GREY, "PNG", transparency=level))
    np.testing.assert_array_equal(found[:, :, 3] == 0, np.asarray(GREY) == level)


@pytest.mark.parametrize("channels", [1, 3, 4])
@pytest.mark.parametrize("ending", [".png", ".tiff"])
def test_sixteen_bits_are_read_as_eight(tmp_path: Path, channels: int, ending: str) -> None:
    deep = rng.integers(0, 65536, (30, 40, channels), dtype=np.uint16)
    if channels == 1:
        deep[..., 0] //= 300  # a dark drawing stays dark
    written, data = cv2.imencode(ending, deep)
    assert written
    found = read(tmp_path, data.tobytes()).astype(int)
    wanted = deep[:, :, [2, 1, 0, 3][:channels] if channels > 1 else [0, 0, 0]] >> 8
    assert np.abs(found - wanted).max() <= 1


@pytest.mark.parametrize("mode", ["RGB", "L", "CMYK"])
def test_a_jpeg_is_read_within_three_levels(tmp_path: Path, mode: str) -> None:
    data = file_of(Image.fromarray(RAMP).convert(mode), "JPEG", quality=95, subsampling=0)
    assert np.abs(read(tmp_path, data).astype(int) - by_opencv(data)).max() <= 3


def test_a_lossy_webp_is_read_within_three_levels(tmp_path: Path) -> None:
    data = file_of(Image.fromarray(RAMP), "WEBP", quality=95)
    assert np.abs(read(tmp_path, data).astype(int) - by_opencv(data)).max() <= 3


def test_a_jpeg_that_holds_two_pictures_is_read_as_its_first(tmp_path: Path) -> None:
    first = Image.fromarray(RAMP)
    data = file_of(first, "MPO", save_all=True, append_images=[RGB])
    assert Image.open(io.BytesIO(data)).format == "MPO"
    assert np.abs(read(tmp_path, data).astype(int) - by_opencv(data)).max() <= 3


#: How the stored rows and columns lie for each orientation: Exif 2.32, tag 274.
STORED = {
    1: lambda seen: seen,
    2: lambda seen: seen[:, ::-1],
    3: lambda seen: seen[::-1, ::-1],
    4: lambda seen: seen[::-1],
    5: lambda seen: seen.swapaxes(0, 1),
    6: lambda seen: np.rot90(seen),
    7: lambda seen: seen[::-1, ::-1].swapaxes(0, 1),
    8: lambda seen: np.rot90(seen, -1),
}


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_a_drawing_is_read_the_way_up_that_it_is_seen(
    tmp_path: Path, kind: str, orientation: int
) -> None:
    stored = Image.fromarray(np.ascontiguousarray(STORED[orientation](RAMP)))
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    options: dict[str, object] = {"exif": exif}
    if kind == "TIFF":
        options = {"tiffinfo": {ORIENTATION: orientation}}
    elif kind == "JPEG":
        options |= {"quality": 100, "subsampling": 0}
    elif kind == "WEBP":
        options["lossless"] = True
    data = file_of(stored, kind, **options)
    found = read(tmp_path, data)
    assert found.shape == RAMP.shape
    assert np.abs(found.astype(int) - RAMP).max() <= (3 if kind == "JPEG" else 0)
    if kind in ("JPEG", "PNG", "TIFF"):  # OpenCV leaves a WebP as it is stored
        assert np.abs(found.astype(int) - by_opencv(data)).max() <= 3


@pytest.mark.parametrize("orientation", [0, 9, 65535])
def test_an_orientation_that_is_none_is_passed_over(tmp_path: Path, orientation: int) -> None:
    exif = Image.Exif()
    exif[ORIENTATION] = orientation
    np.testing.assert_array_equal(read(tmp_path, file_of(RGB, "PNG", exif=exif)), NOISE)


def test_an_orientation_in_words_is_passed_over(tmp_path: Path) -> None:
    # a TIFF header as in an EXIF block, with tag 274 as two letters (type 2, ASCII)
    entry = struct.pack("<HHI4s", ORIENTATION, 2, 2, b"6\0")
    block = b"Exif\0\0II*\0" + struct.pack("<IH", 8, 1) + entry + bytes(4)
    data = file_of(Image.fromarray(RAMP), "JPEG", exif=block, quality=95)
    assert read(tmp_path, data).shape == RAMP.shape


@pytest.mark.parametrize("name", ["vorne ä.png", "正面.png", "🐐.png", "two words.png", "a'b.png"])
def test_a_drawing_may_have_any_name(tmp_path: Path, name: str) -> None:
    np.testing.assert_array_equal(read(tmp_path, file_of(RGB, "PNG"), name), NOISE)


def test_a_header_is_read_without_the_pixels(tmp_path: Path) -> None:
    whole = picture()
    found = inspect(tmp_path, whole[:60])
    assert (found.width, found.height) == (120, 180)


@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "TIFF", "BMP"])
def test_a_drawing_cut_short_is_refused(
    tmp_path: Path, kind: str, share: float, capfd: pytest.CaptureFixture[str]
) -> None:
    whole = file_of(RGB, kind)
    (fault,) = faults_of(lambda: read(tmp_path, whole[: int(len(whole) * share)]))
    assert "a.png" in fault and "save it again as PNG" in fault
    assert capfd.readouterr() == ("", ""), "the libraries below keep quiet"


def test_a_drawing_with_a_changed_byte_is_refused(tmp_path: Path) -> None:
    data = bytearray(file_of(RGB, "PNG"))
    data[len(data) // 2] ^= 0xFF
    (fault,) = faults_of(lambda: read(tmp_path, bytes(data)))
    assert "broken" in fault


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "can't be read as a picture"),
        (b"a drawing, honestly", "can't be read as a picture"),
        (picture()[:20], "can't be read as a picture"),
        (file_of(PALETTE, "GIF"), "is GIF; save it as PNG"),
        (file_of(RGB, "PPM"), "is PPM; save it as PNG"),
    ],
    ids=["empty", "text", "stub", "GIF", "PPM"],
)
def test_what_is_no_drawing_is_said(tmp_path: Path, data: bytes, words: str) -> None:
    (fault,) = faults_of(lambda: inspect(tmp_path, data))
    assert fault.startswith("sheet.toml, [views.front] image: ") and words in fault


def test_a_folder_is_no_drawing(tmp_path: Path) -> None:
    (tmp_path / "a.png").mkdir()
    faults = FileFaults("sheet.toml")
    assert inspect_picture(tmp_path, "a.png", "", faults) is None
    assert "that is a folder; name the drawing itself" in faults_of(faults.raise_any)[0]


def test_a_drawing_that_may_not_be_opened_says_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def denied(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Image, "open", denied)
    (fault,) = faults_of(lambda: inspect(tmp_path, picture()))
    assert "Permission denied" in fault


def shown_of(found: Picture) -> Thumbnail:
    return describe_drawings({"front": View("front", found, 0.0)}).thumbnails["front"]


def test_a_drawing_that_goes_away_is_said(tmp_path: Path) -> None:
    found = inspect(tmp_path, picture())
    found.path.unlink()
    (fault,) = faults_of(lambda: shown_of(found))
    assert str(found.path) in fault


def test_a_drawing_swapped_for_another_size_is_said(tmp_path: Path) -> None:
    found = inspect(tmp_path, picture())
    found.path.write_bytes(picture(size=(10, 10)))
    (fault,) = faults_of(lambda: decode(found))
    assert "run the check again" in fault


def chunk(kind: bytes, data: bytes) -> bytes:
    """A chunk of PNG (ISO/IEC 15948, 5.3)."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def huge_png(side: int, data: bytes) -> bytes:
    """A black-and-white PNG that says it is this large."""
    header = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    parts = chunk(b"IHDR", header) + chunk(b"IDAT", data) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


@pytest.mark.parametrize("side", [30_000, 13_000], ids=["beyond Pillow's limit", "beyond ours"])
@pytest.mark.parametrize("real", [False, True], ids=["header alone", "all its pixels"])
def test_a_picture_bomb_is_refused_without_unpacking_it(
    tmp_path: Path, side: int, real: bool
) -> None:
    data = b""
    if real:
        packer = zlib.compressobj(1)
        rows = bytes((side + 7) // 8 + 1) * 100
        data = b"".join(packer.compress(rows) for _ in range(side // 100)) + packer.flush()
    bomb = huge_png(side, data)
    assert len(bomb) < 1_000_000
    (tmp_path / "a.png").write_bytes(bomb)
    script = f"""
import resource
from pathlib import Path
from PIL import Image, PngImagePlugin
from turncheck.errors import FileFaults
from turncheck.images.picture_file import inspect_picture
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
faults = FileFaults("sheet.toml")
assert inspect_picture(Path({str(tmp_path)!r}), "a.png", "", faults) is None
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)
faults.raise_any()
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert "too large" in done.stderr and f"under {MOST_PIXELS // 10**6} million" in done.stderr
    unit = 1 if sys.platform == "darwin" else 1024
    assert int(done.stdout) * unit < 50e6, "its pixels would take over 160 MB"


def test_a_drawing_just_small_enough_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(picture_file, "MOST_PIXELS", 120 * 180)
    assert inspect(tmp_path, picture()).width == 120
    monkeypatch.setattr(picture_file, "MOST_PIXELS", 120 * 180 - 1)
    assert "120 × 180 px, too large" in faults_of(lambda: inspect(tmp_path, picture()))[0]


@pytest.mark.parametrize(("mode", "px"), [("CMYK", 100), ("RGB", 120), ("L", 150)])
def test_a_progressive_jpeg_is_refused_where_its_decoder_would_hold_too_much(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, mode: str, px: int
) -> None:
    """Largest sizes in px of a limit of 150: libjpeg holds 16 bit a channel until the end."""
    monkeypatch.setattr(picture_file, "MOST_PIXELS", 150)
    for progressive in (True, False):
        data = file_of(Image.new(mode, (px, 1)), "JPEG", progressive=progressive)
        assert inspect(tmp_path, data).width == px
    if px < 150:
        data = file_of(Image.new(mode, (px + 1, 1)), "JPEG", progressive=True)
        (said,) = faults_of(lambda: inspect(tmp_path, data))
        assert f"a progressive JPEG of {px + 1} × 1 px, too large" in said


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="no peak of memory to read")
@pytest.mark.parametrize("kind", ["float TIFF", "CMYK TIFF", "turned JPEG", "PNG of 16 bit"])
def test_a_large_drawing_takes_no_more_than_eight_bytes_a_pixel(tmp_path: Path, kind: str) -> None:
    side = 5000
    grey = np.full((side, side), 200, np.uint8)
    grey[1000:4000, 2000:3000] = 90
    path = tmp_path / "a"
    if kind == "float TIFF":
        Image.fromarray(grey.astype(np.float32)).save(path, "TIFF")
    elif kind == "CMYK TIFF":
        Image.merge("CMYK", [Image.fromarray(grey)] * 4).save(path, "TIFF")
    elif kind == "turned JPEG":
        exif = Image.Exif()
        exif[0x0112] = 6
        Image.merge("RGB", [Image.fromarray(grey)] * 3).save(path, "JPEG", exif=exif)
    else:
        deep = cv2.merge([grey.astype(np.uint16) * 257] * 3)
        path.write_bytes(cv2.imencode(".png", deep)[1].tobytes())
    script = f"""
from pathlib import Path
import cv2
from turncheck.errors import FileFaults
from turncheck.images.picture_file import decode, read_header
def peak():
    status = dict(line.split(":", 1) for line in open("/proc/self/status"))
    return int(status["VmHWM"].split()[0]) * 1024
picture = read_header(Path({str(path)!r}), "a", "", FileFaults(""))
before = peak()
decode(picture)
print(peak() - before)
"""
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert int(done.stdout) < 8 * side**2 + 20e6


def test_the_limit_lets_an_a2_sheet_pass_and_lies_below_pillow_s() -> None:
    a2 = round(420 / 25.4 * 600) * round(594 / 25.4 * 600)  # ISO 216: 420 mm × 594 mm
    pillow = Image.MAX_IMAGE_PIXELS
    assert pillow is not None and a2 < MOST_PIXELS < 2 * pillow


@pytest.mark.parametrize("size", [(1, 1), (1, 4000), (4000, 1), (2000, 1000)])
def test_any_size_is_shown_on_the_screen(tmp_path: Path, size: tuple[int, int]) -> None:
    shown = shown_of(inspect(tmp_path, file_of(Image.new("RGB", size), "PNG")))
    assert max(shown.width, shown.height) == min(max(size), THUMBNAIL_SIDE_MOST)
    assert min(shown.width, shown.height) >= 1
    assert shown.uri.startswith("data:image/webp;base64,")


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "TIFF", "BMP"])
@given(data=st.data())
@thorough
def test_damaged_files_are_read_or_refused_and_nothing_else(
    tmp_path: Path, kind: str, data: st.DataObject
) -> None:
    whole = file_of(RGB, kind)
    damaged = data.draw(st.one_of(mutated_bytes(whole), st.binary(max_size=300)))
    with pytest.MonkeyPatch.context() as patch, contextlib.suppress(TurncheckError):
        patch.setattr(picture_file, "MOST_PIXELS", 1_000_000)  # damage in the size costs no memory
        read(tmp_path, damaged)

"""Draw the sample sheets, or check that what is committed is what would be drawn.

python sample_views/draw.py           # redraws everything in place
python sample_views/draw.py --check   # compares, exits 1 if something differs
"""

import sys
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from drawing.sets import CHARACTERS  # noqa: E402

MEAN_DIFFERENCE = 0.5  # of 255; libraries round differently
FAR_OFF, SHARE_FAR_OFF = 24, 0.001
Content = NDArray[np.uint8] | str


def encode(picture: NDArray[np.uint8]) -> bytes:
    """The picture (RGB or RGBA) as PNG."""
    order = cv2.COLOR_RGBA2BGRA if picture.shape[2] == 4 else cv2.COLOR_RGB2BGR
    options = [
        cv2.IMWRITE_PNG_COMPRESSION,
        9,
        cv2.IMWRITE_PNG_STRATEGY,
        cv2.IMWRITE_PNG_STRATEGY_DEFAULT,
    ]
    return cv2.imencode(".png", cv2.cvtColor(picture, order), options)[1].tobytes()


def decode(data: bytes) -> NDArray[np.uint8] | None:
    """The pixels of a PNG, RGB or RGBA; None if it can't be read."""
    found = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED)
    if found is None or found.ndim != 3:
        return None
    order = cv2.COLOR_BGRA2RGBA if found.shape[2] == 4 else cv2.COLOR_BGR2RGB
    return cv2.cvtColor(found, order).astype(np.uint8)


def difference(path: Path, content: Content) -> str | None:
    """A sentence on how the file differs from what would be drawn; None if it does not."""
    if not path.is_file():
        return "is missing"
    if isinstance(content, str):
        same = path.read_text(encoding="utf-8") == content
        return None if same else "has other text than would be written now"
    found = decode(path.read_bytes())
    if found is None:
        return "can't be read as a picture"
    if found.shape != content.shape:
        sizes = [f"{p.shape[1]} x {p.shape[0]} x {p.shape[2]}" for p in (found, content)]
        return f"is {sizes[0]}, {sizes[1]} would be drawn"
    off = np.abs(found.astype(np.int16) - content.astype(np.int16))
    far = float((off.max(axis=2) > FAR_OFF).mean())
    if off.mean() > MEAN_DIFFERENCE or far > SHARE_FAR_OFF:
        return (
            f"differs from what would be drawn: on average by {off.mean():.2f} of 255, "
            f"and {100 * far:.2f} % of its pixels by more than {FAR_OFF}"
        )
    return None


def check(character: str) -> Iterator[str]:
    """One sentence for every file of a character that is not what would be drawn now."""
    for name, content in CHARACTERS[character]():
        said = difference(HERE / name, content)
        if said:
            yield f"{name} {said}."


def redraw(character: str) -> None:
    """Draw all files of a character."""
    for name, content in CHARACTERS[character]():
        path = HERE / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if isinstance(content, str):
            path.write_text(content, encoding="utf-8", newline="\n")
        else:
            path.write_bytes(encode(content))
        print(name)


def main(arguments: list[str]) -> int:
    """Redraw, or with ``--check`` compare; the exit status."""
    if arguments not in ([], ["--check"]):
        print(__doc__)
        return 2
    if not arguments:
        for character in CHARACTERS:
            redraw(character)
        return 0
    said = [sentence for character in CHARACTERS for sentence in check(character)]
    print("\n".join(said) or "The sample sheets are as they would be drawn now.")
    return 1 if said else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

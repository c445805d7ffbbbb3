"""What is said of the drawings' files."""

from collections.abc import Iterable

from turncheck.errors import shown
from turncheck.images.picture_file import Picture
from turncheck.plain import counted


def drawing_remarks(pictures: Iterable[Picture]) -> list[str]:
    """Return a sentence for each file that holds more than the one picture that is read of it."""
    return [
        f"{shown(picture.file)} holds {counted(picture.frames, 'picture')}; the first is read."
        for picture in pictures
        if picture.frames > 1
    ]

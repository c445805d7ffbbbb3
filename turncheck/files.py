"""The edge where a user's files are looked for and read as text."""

from __future__ import annotations

from pathlib import Path

from turncheck.errors import FileFaults


def is_file(path: Path) -> bool:
    """Return whether there is a file; a name that no file can have names none."""
    try:
        return path.is_file()
    except (OSError, ValueError):  # too long, not allowed, or with a NUL
        return False


def is_inside(path: Path, folder: Path) -> bool:
    """Return whether a path lies in a folder once every link in it is followed."""
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, ValueError, RuntimeError):  # as above, or links that go in a circle
        return False


def read_text(path: Path, faults: FileFaults) -> str:
    """Return a file's text: UTF-8 with or without byte-order mark, every line end as a newline.

    Raises
    ------
    TurncheckError
        If it can't be read as that.
    """
    try:
        text = path.read_text("utf-8-sig")
        if "\0" not in text:  # UTF-16 without its mark
            return text
        faults.add("", _SAVE_AS_UTF8)
    except UnicodeDecodeError:
        faults.add("", _SAVE_AS_UTF8)
    except OSError as error:
        faults.add("", f"can't be read ({error.strerror}); check that you may open it")
    faults.raise_any()
    raise AssertionError


_SAVE_AS_UTF8 = "is not UTF-8 text; save it again with the encoding UTF-8"

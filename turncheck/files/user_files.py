"""The edge where a user's files are looked for and read as text."""

from __future__ import annotations

import codecs
import hashlib
import os
from pathlib import Path

from turncheck.errors import FileFaults

#: The marks that UTF-16 begins with, by their bytes (Unicode 15.0, section 23.8).
_WIDE = {codecs.BOM_UTF16_LE: "utf-16-le", codecs.BOM_UTF16_BE: "utf-16-be"}
BOM = "\ufeff"
#: What a ZIP archive begins with (APPNOTE.TXT 6.3.10, 4.3.7).
_ZIP = b"PK\x03\x04"
#: The largest text that is read, bytes: some hundred times a large sheet's landmark table. Common
#: practice, no source.
MOST_BYTES = 20_000_000


def is_file(path: Path) -> bool:
    """Return whether there is a file; a name that no file can have names none."""
    try:
        return path.is_file()
    except (OSError, ValueError):  # too long, not allowed, or with a NUL
        return False


def is_folder(path: Path) -> bool:
    """Return whether there is a folder; a name that none can have names none."""
    try:
        return path.is_dir()
    except (OSError, ValueError):  # as above
        return False


def is_archive(path: Path) -> bool:
    """Return whether a file is a ZIP archive, which spreadsheets of other programs are, too."""
    try:
        with path.open("rb") as file:
            return file.read(len(_ZIP)) == _ZIP
    except OSError:  # what can't be read can't be known
        return False


def is_inside(path: Path, folder: Path) -> bool:
    """Return whether a path lies in a folder once every link in it is followed."""
    try:
        return path.resolve().is_relative_to(folder.resolve())
    except (OSError, ValueError, RuntimeError):  # as above, or links that go in a circle
        return False


def why_missing(path: Path, what: str) -> str:
    """Return why a path leads to no file, and the mend.

    >>> why_missing(Path("gone.png"), "drawing")
    'there is no such drawing; check the name'
    """
    if is_folder(path):
        return f"that is a folder; name the {what} itself"
    if is_special(path):
        return f"that is {_SPECIAL}; name a {what}"
    return f"there is no such {what}; {slashes(str(path)) or 'check the name'}"


def is_special(path: Path) -> bool:
    """Return whether there is something that is neither file nor folder: a pipe or a device.

    Reading it may never end.
    """
    try:
        return path.exists() and not (path.is_file() or path.is_dir())
    except (OSError, ValueError):  # as above
        return False


def slashes(path: str) -> str:
    """Return how to mend a path with backslashes where those part no folders, else ''."""
    return "write / between folders, not \\" if "\\" in path and os.sep == "/" else ""


def fingerprint(data: bytes) -> str:
    """Return the SHA-256 (FIPS 180-4) of a file's contents, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def read_text(path: Path, faults: FileFaults) -> str:
    """Return a file's text: UTF-8 with or without byte-order mark, every line end as a newline.

    Raises
    ------
    TurncheckError
        If it can't be read as that.
    """
    text, encoding = read_encoded(path, faults)
    if encoding != "utf-8":
        faults.add("", _SAVE_AS_UTF8)
        faults.raise_any()
    return text.removeprefix(BOM).replace("\r\n", "\n").replace("\r", "\n")


def read_encoded(path: Path, faults: FileFaults) -> tuple[str, str]:
    """Return a file's text as it stands, its byte-order mark too, and how it is encoded.

    That is UTF-8, or UTF-16 with its mark; `text.encode(encoding)` gives the bytes back.

    Raises
    ------
    TurncheckError
        If it can't be read as that.
    """
    if is_special(path):
        faults.add("", f"is {_SPECIAL}; put a file in its place")
        faults.raise_any()
    try:
        if path.exists() and path.stat().st_size > MOST_BYTES:
            faults.add("", f"is larger than {MOST_BYTES // 1_000_000} MB; name the right file")
            faults.raise_any()
        data = path.read_bytes()
        if data.startswith(_ZIP):
            faults.add("", "is an archive or a spreadsheet's own file; save it as plain text")
            faults.raise_any()
        encoding = _WIDE.get(data[:2], "utf-8")
        text = data.decode(encoding)
        if "\0" not in text:  # UTF-16 without its mark
            return text, encoding
        faults.add("", _SAVE_AS_UTF8)
    except UnicodeDecodeError:
        faults.add("", _SAVE_AS_UTF8)
    except OSError as error:
        faults.add("", f"can't be read ({error.strerror}); check that you may open it")
    faults.raise_any()
    raise AssertionError


_SPECIAL = "no file but a pipe or a device"
_SAVE_AS_UTF8 = "is not UTF-8 text; save it again with the encoding UTF-8"

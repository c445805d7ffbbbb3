"""Writes files so that a reader sees the old one or the whole new one, never a half."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path

from turncheck.errors import TurncheckError


def save_together(folder: Path, contents: Mapping[str, str | bytes | Path]) -> None:
    """Write files into a folder, each put in its place at once when all are on disk.

    Parameters
    ----------
    folder
        Made if need be.
    contents
        By file name: a text, the bytes, or the path of a file to copy.

    Raises
    ------
    TurncheckError
        If the folder can't be written; nothing is new in it then, and files that were there
        stay as they were.
    """
    waiting: list[tuple[str, Path]] = []
    made: list[Path] = []
    try:
        made = [path for path in (folder, *folder.parents) if not path.exists()]
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in contents.items():
            if (folder / name).is_dir():
                raise IsADirectoryError(errno.EISDIR, f"{name} is a folder")
            handle, temporary = tempfile.mkstemp(prefix=".turncheck-", dir=folder)
            waiting.append((temporary, folder / name))
            with os.fdopen(handle, "wb") as file:
                if isinstance(content, Path):
                    with content.open("rb") as source:
                        shutil.copyfileobj(source, file)
                else:
                    file.write(content.encode("utf-8") if isinstance(content, str) else content)
            os.chmod(temporary, 0o666 & ~_umask())
        for temporary, target in waiting:
            put_in_place(temporary, target)
        waiting, made = [], []
    except OSError as error:
        shown = folder if folder.name else folder.absolute()  # nobody looks for "."
        raise TurncheckError(
            f"{shown}: can't be written ({error.strerror}); name another folder"
        ) from error
    finally:
        for temporary, _ in waiting:
            with suppress(FileNotFoundError):
                os.unlink(temporary)
        for path in made:
            with suppress(OSError):
                path.rmdir()


def refuse_existing(folder: Path, names: Iterable[str]) -> None:
    """Refuse to go on where files that are to be new are there already.

    Raises
    ------
    TurncheckError
        Naming each of them.
    """
    faults = [
        f"{folder / name}: is there already; move it or name another place"
        for name in names
        if os.path.lexists(folder / name)
    ]
    if faults:
        raise TurncheckError(*faults)


def save_new(folder: Path, contents: Mapping[str, str | bytes | Path]) -> None:
    """Write files as `save_together` does, and none where one of them is there already."""
    refuse_existing(folder, contents)
    save_together(folder, contents)


def put_in_place(temporary: str, target: Path) -> None:
    """Put a whole file in its place at once; from here on `has_written` says so."""
    global _written
    _written = True
    os.replace(temporary, target)


def has_written() -> bool:
    """Return whether this process has put any file in its place."""
    return _written


_written = False


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current

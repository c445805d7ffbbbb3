"""Writes files so that a reader sees the old one or the whole new one, never a half."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from turncheck.errors import TurncheckError


def save_together(folder: Path, texts: Mapping[str, str]) -> None:
    """Write text files into a folder, each replaced atomically once all are on disk.

    Raises
    ------
    TurncheckError
        If the folder can't be written; files that were there stay as they were.
    """
    waiting: list[tuple[str, Path]] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            handle, temporary = tempfile.mkstemp(prefix=f".{name}.", dir=folder)
            waiting.append((temporary, folder / name))
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.write(text)
            os.chmod(temporary, 0o666 & ~_umask())
        for temporary, target in waiting:
            os.replace(temporary, target)
    except OSError as error:
        raise TurncheckError(
            f"{folder}: can't be written ({error.strerror}); name another folder with --out"
        ) from error
    finally:
        for temporary, _ in waiting:
            with suppress(FileNotFoundError):
                os.unlink(temporary)


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current

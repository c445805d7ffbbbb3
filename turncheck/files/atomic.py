"""Writes files so that a reader sees the old one or the whole new one, never a half."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path

from turncheck.errors import Fault, TurncheckError

Content = str | bytes | Path


def save_together(folder: Path, contents: Mapping[str, Content]) -> None:
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
    made: list[Path] = []
    try:
        made = [path for path in (folder, *folder.parents) if not path.exists()]
        folder.mkdir(parents=True, exist_ok=True)
        put_in_place({folder / name: content for name, content in contents.items()})
        made = []
    except OSError as error:
        shown = folder if folder.name else folder.absolute()  # nobody looks for "."
        says = f"can't be written ({error.strerror}); name another folder"
        raise TurncheckError(Fault(says, str(shown))) from error
    finally:
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
        Fault("is there already; move it or name another place", str(folder / name))
        for name in names
        if os.path.lexists(folder / name)
    ]
    if faults:
        raise TurncheckError(*faults)


def save_new(folder: Path, contents: Mapping[str, Content]) -> None:
    """Write files as `save_together` does, and none where one of them is there already."""
    refuse_existing(folder, contents)
    save_together(folder, contents)


def put_in_place(contents: Mapping[Path, Content], *, lasting: bool = False) -> None:
    """Write files beside their places, then put each in its place at once.

    A file that was there hands its rights on; from here on `has_written` says so.

    Parameters
    ----------
    contents
        As `save_together` takes them, by path.
    lasting
        Whether they must outlive a power cut, which takes time.

    Raises
    ------
    OSError
        If one can't be written; nothing is new then.
    """
    global _written
    waiting: list[tuple[str, Path]] = []
    try:
        for target, content in contents.items():
            if target.is_dir():
                raise IsADirectoryError(errno.EISDIR, f"{target.name} is a folder")
            handle, temporary = tempfile.mkstemp(prefix=".turncheck-", dir=target.parent)
            waiting.append((temporary, target))
            with os.fdopen(handle, "wb") as file:
                if isinstance(content, Path):
                    with content.open("rb") as source:
                        shutil.copyfileobj(source, file)
                else:
                    file.write(content.encode("utf-8") if isinstance(content, str) else content)
                if lasting:
                    file.flush()
                    os.fsync(file.fileno())
            rights = target.stat().st_mode & 0o777 if target.exists() else 0o666 & ~_umask()
            os.chmod(temporary, rights)
        for temporary, target in waiting:
            _written = True
            os.replace(temporary, target)
        waiting = []
    finally:
        for temporary, _ in waiting:
            with suppress(FileNotFoundError):
                os.unlink(temporary)


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Keep a second turncheck from writing here between a look at a file and its replacing."""
    try:
        import fcntl
    except ImportError:  # not a Unix: the window of a millisecond stays open
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
        with suppress(OSError):  # the new name outlives a power cut, where the disk can do that
            os.fsync(handle)
    finally:
        os.close(handle)


def has_written() -> bool:
    """Return whether this process has put any file in its place."""
    return _written


_written = False


def _umask() -> int:
    current = os.umask(0)
    os.umask(current)
    return current

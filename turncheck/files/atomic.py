"""Writes files so that a reader sees the old one or the whole new one, never a half."""

from __future__ import annotations

import errno
import os
import shutil
import stat
import tempfile
import time
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import IO

from turncheck.errors import Fault, TurncheckError

Content = str | bytes | Path

#: What files are called until they have their own names.
_PREFIX = ".turncheck-"
#: So long after it was last written such a file is what a killed run left, unless a run holds it,
#: s; common practice, no source.
_LEFT_AFTER = 600


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
    try:
        put_in_place({folder / name: content for name, content in contents.items()})
    except OSError as error:
        raise not_written(error) from error


def refuse_existing(paths: Iterable[Path]) -> None:
    """Refuse to go on where files that are to be new are there already.

    Raises
    ------
    TurncheckError
        Naming each of them.
    """
    faults = [_is_there(path) for path in paths if os.path.lexists(path)]
    if faults:
        raise TurncheckError(*faults)


def save_new(contents: Mapping[Path, Content]) -> None:
    """Write files as `put_in_place` does, and none where one of them is there already.

    Of several runs that write the same file at once, one does and the others are refused.

    Raises
    ------
    TurncheckError
        If one is there or can't be written; nothing is new then.
    """
    refuse_existing(contents)
    try:
        put_in_place(contents, new=contents.keys())
    except OSError as error:
        raise not_written(error) from error


def not_written(error: OSError) -> TurncheckError:
    """Return what to say of an error that `put_in_place` raised."""
    target = Path(error.filename)
    if isinstance(error, FileExistsError):
        return TurncheckError(_is_there(target))
    folder = target.parent
    named = folder if folder.name else folder.absolute()  # nobody looks for "."
    says = f"can't be written ({error.strerror}); name another folder"
    return TurncheckError(Fault(says, str(named)))


def _is_there(path: Path) -> Fault:
    if path.is_dir():
        return Fault("is a folder; name a file in it", str(path))
    return Fault("is there already; move it or name another place", str(path))


def put_in_place(
    contents: Mapping[Path, Content], *, new: Collection[Path] = (), lasting: bool = False
) -> None:
    """Write files beside their places, then put each in its place at once.

    A file that was there hands its rights on; one that is write-protected stays. Folders are
    made if need be. From here on `has_written` says so.

    Parameters
    ----------
    contents
        As `save_together` takes them, by path.
    new
        Those of the paths at which there must be nothing.
    lasting
        Whether they must outlive a power cut, which takes time.

    Raises
    ------
    OSError
        If one can't be written, with its path as `filename`; nothing is new then, but for a disk
        that fails while files are replaced.
    """
    global _written
    waiting: list[tuple[str, Path]] = []
    made: list[Path] = []
    named: list[Path] = []
    target = Path()
    try:
        with ExitStack() as held:
            for target, content in contents.items():
                _make_folder(target.parent, made)
                rights = _rights_at(target)
                handle, temporary = tempfile.mkstemp(prefix=_PREFIX, dir=target.parent)
                waiting.append((temporary, target))
                file = held.enter_context(os.fdopen(handle, "wb"))
                _is_free(handle)
                _write(content, file)
                if lasting:
                    os.fsync(handle)
                os.chmod(temporary, rights)
        for temporary, target in sorted(waiting, key=lambda one: one[1] not in new):
            _written = True
            if target in new:
                _name_new(temporary, target)
                named.append(target)
            else:
                os.replace(temporary, target)
        made, named = [], []
    except OSError as error:
        error.filename = str(target)
        raise
    finally:
        for path in (*(Path(temporary) for temporary, _ in waiting), *named):
            with suppress(OSError):
                path.unlink()
        for folder in sorted(made, key=lambda folder: -len(folder.parts)):
            with suppress(OSError):
                folder.rmdir()
    for folder in {target.parent for target in contents}:
        _sweep(folder)


def _make_folder(folder: Path, made: list[Path]) -> None:
    """Make a folder, first noting which of those above it are made as well."""
    made += [path for path in (folder, *folder.parents) if not path.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except FileExistsError as error:
        kind = "a link to nothing" if folder.is_symlink() else "a file"
        raise NotADirectoryError(errno.ENOTDIR, f"{folder.name} is {kind}") from error


def _rights_at(target: Path) -> int:
    """Return the rights that a file is to have in its place.

    Raises
    ------
    OSError
        If what is there must stay.
    """
    if not target.exists():
        return 0o666 & ~_umask()
    rights = target.stat().st_mode & 0o777
    if target.is_dir():
        raise IsADirectoryError(errno.EISDIR, f"{target.name} is a folder")
    if not rights & 0o222 or not os.access(target, os.W_OK):  # root may write what it must not
        raise PermissionError(errno.EACCES, f"{target.name} is write-protected")
    return rights


def _write(content: Content, file: IO[bytes]) -> None:
    if isinstance(content, Path):
        with content.open("rb") as source:
            shutil.copyfileobj(source, file)
    else:
        file.write(content.encode("utf-8") if isinstance(content, str) else content)
    file.flush()


def _name_new(temporary: str, target: Path) -> None:
    """Give a file its name, which nothing else has even where others try for it meanwhile."""
    try:
        os.link(temporary, target)
    except FileExistsError:
        raise
    except OSError:  # a disk that knows no second names
        os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
        os.replace(temporary, target)


def _is_free(handle: int) -> bool:
    """Hold an open file until it is closed; return whether no other run holds it."""
    try:
        import fcntl
    except ImportError:  # not a Unix
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a disk that knows no locks
        return True
    return True


def _sweep(folder: Path) -> None:
    """Delete what killed runs left in a folder: old files that no living run holds."""
    for path in folder.glob(f"{_PREFIX}*"):
        with suppress(OSError):
            found = path.lstat()
            if stat.S_ISREG(found.st_mode) and time.time() - found.st_mtime > _LEFT_AFTER:
                with path.open("rb") as file:
                    if _is_free(file.fileno()):
                        path.unlink()


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
